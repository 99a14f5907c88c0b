use std::time::Duration;

use super::Series;
use crate::units::Instant;

/// A stretch without samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Gap {
    /// Last sample before it.
    pub from: Instant,
    /// First sample after it.
    pub to: Instant,
}

impl Gap {
    /// How long it is.
    pub fn length(&self) -> Duration {
        self.to.saturating_since(self.from)
    }
}

/// Stretches of a series longer than `bridgeable`, in order.
pub fn gaps(series: &Series, bridgeable: Duration) -> Vec<Gap> {
    steps(series).filter(|gap| gap.length() > bridgeable).collect()
}

/// The usual time between two samples: the middle one. `None` with fewer than two samples.
pub fn usual_interval(series: &Series) -> Option<Duration> {
    let mut lengths: Vec<Duration> = steps(series).map(|gap| gap.length()).collect();
    lengths.sort_unstable();
    lengths.get(lengths.len() / 2).copied()
}

fn steps(series: &Series) -> impl Iterator<Item = Gap> + '_ {
    series.times().windows(2).filter_map(|pair| match pair {
        [from, to] => Some(Gap { from: *from, to: *to }),
        _ => None,
    })
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::{gaps, usual_interval};
    use crate::recording::Series;
    use crate::units::Instant;

    fn series(seconds: &[f64]) -> Series {
        let mut series = Series::default();
        for at in seconds {
            assert!(series.push(Instant::from_seconds(*at), 0.0));
        }
        series
    }

    #[test]
    fn stretches_longer_than_can_be_bridged_are_found() {
        let found = gaps(&series(&[0.0, 0.5, 1.0, 4.0, 4.5, 9.0]), Duration::from_secs(1));
        let lengths: Vec<Duration> = found.iter().map(super::Gap::length).collect();
        assert_eq!(lengths, [Duration::from_secs(3), Duration::from_millis(4500)]);
        assert_eq!(found[0].from, Instant::from_seconds(1.0));
    }

    #[test]
    fn one_long_gap_does_not_change_the_usual_interval() {
        let usual = usual_interval(&series(&[0.0, 0.5, 1.0, 1.5, 60.0]));
        assert_eq!(usual, Some(Duration::from_millis(500)));
        assert_eq!(usual_interval(&series(&[0.0])), None);
        assert_eq!(gaps(&series(&[]), Duration::ZERO), []);
    }
}
