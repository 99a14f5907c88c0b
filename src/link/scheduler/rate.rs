use std::collections::VecDeque;
use std::time::Duration;

use super::Item;
use crate::units::Instant;

/// Readings over which the reached rate is taken.
const WINDOW: usize = 64;

/// How fast readings come.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RateReport {
    /// One row for each wanted item, in the order in which they were wanted.
    pub rows: Vec<RateRow>,
    /// Requests answered a second, all items together; `None` before the second one.
    pub exchanges_per_second: Option<f64>,
    /// Readings a second, all items together; `None` before the second one.
    pub readings_per_second: Option<f64>,
    /// Exchanges whose bytes were damaged on the way.
    pub damaged_exchanges: u64,
}

/// How fast one item's readings come.
#[derive(Clone, Debug, PartialEq)]
pub struct RateRow {
    /// Which.
    pub item: Item,
    /// Wanted readings a second.
    pub wanted_hz: f64,
    /// Reached readings a second over the latest readings; `None` before the second one.
    pub reached_hz: Option<f64>,
    /// Longest time between two of the latest readings.
    pub longest_gap: Option<Duration>,
    /// Readings so far.
    pub readings: u64,
    /// Whether the car leaves it out of shared requests, so that it is asked alone.
    pub asked_alone: bool,
    /// Whether the car has stopped answering it, or never did.
    pub unanswered: bool,
}

/// Times of the latest readings.
#[derive(Clone, Debug, Default)]
pub(super) struct Pace {
    times: VecDeque<Instant>,
    count: u64,
}

impl Pace {
    pub(super) fn handle_reading(&mut self, at: Instant) {
        if self.times.len() >= WINDOW {
            self.times.pop_front();
        }
        self.times.push_back(at);
        self.count = self.count.saturating_add(1);
    }

    pub(super) fn count(&self) -> u64 {
        self.count
    }

    pub(super) fn hertz(&self) -> Option<f64> {
        let (first, last) = (self.times.front()?, self.times.back()?);
        let spans = self.times.len().checked_sub(1).filter(|spans| *spans > 0)?;
        let seconds = last.seconds_since(*first);
        (seconds > 0.0).then(|| spans as f64 / seconds)
    }

    pub(super) fn longest_gap(&self) -> Option<Duration> {
        let later = self.times.iter().skip(1);
        self.times.iter().zip(later).map(|(first, second)| second.saturating_since(*first)).max()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rate_and_longest_gap_of_the_latest_readings() {
        let mut pace = Pace::default();
        assert_eq!(pace.hertz(), None);
        for number in 0..100 {
            pace.handle_reading(Instant::from_micros(number * 100_000));
        }
        pace.handle_reading(Instant::from_seconds(10.9));
        assert_eq!(pace.count(), 101);
        assert_eq!(pace.longest_gap(), Some(Duration::from_secs(1)));
        // 63 spans from reading 37 at 3.7 s… the window holds 64 readings: 3.7 s to 10.9 s.
        assert!((pace.hertz().unwrap() - 63.0 / 7.2).abs() < 1e-9);
    }
}
