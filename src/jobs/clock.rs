use std::time::Duration;

use chrono::{DateTime, FixedOffset, Local, NaiveDate, NaiveTime, TimeZone, Utc};

use crate::units::Instant;

/// The machine's clock. Besides the transports this is the only place that reads it; everybody
/// else is told the time.
#[derive(Clone, Copy, Debug)]
pub struct MachineClock {
    started: std::time::Instant,
}

impl MachineClock {
    /// A clock that starts now.
    pub fn start() -> Self {
        Self { started: steady_now() }
    }

    /// Time since the start. It never goes back.
    pub fn now(&self) -> Instant {
        Instant::ZERO + self.started.elapsed()
    }

    /// The date and time of day.
    pub fn date(&self) -> DateTime<Utc> {
        #[allow(clippy::disallowed_methods, reason = "the one place that reads the calendar")]
        let now = Utc::now();
        now
    }

    /// A date in the person's time zone.
    pub fn local(&self, date: DateTime<Utc>) -> DateTime<FixedOffset> {
        date.with_timezone(&Local).fixed_offset()
    }

    /// When a day starts in the person's time zone.
    pub fn start_of(&self, day: NaiveDate) -> DateTime<FixedOffset> {
        let midnight = day.and_time(NaiveTime::MIN);
        // Where the clocks are put forward at midnight, the day has no midnight of its own.
        let local = Local.from_local_datetime(&midnight).earliest();
        local.unwrap_or_else(|| Local.from_utc_datetime(&midnight)).fixed_offset()
    }

    /// Waits for `time`, as a person does between two looks.
    pub fn wait(&self, time: Duration) {
        #[allow(
            clippy::disallowed_methods,
            reason = "the one place above the transports that waits"
        )]
        std::thread::sleep(time);
    }
}

fn steady_now() -> std::time::Instant {
    #[allow(clippy::disallowed_methods, reason = "the one place that reads the machine's clock")]
    let now = std::time::Instant::now();
    now
}

/// The visit's one clock. A visit outlives its links, and every link brings a clock of its own
/// (the machine's, or that of a virtual car); this carries link time over to visit time so that
/// the recording's times never go back.
#[derive(Clone, Copy, Debug, Default)]
pub struct VisitClock {
    offset_micros: i64,
    latest: Instant,
}

impl VisitClock {
    /// A clock whose visit has been recorded up to `latest`.
    pub fn resumed(latest: Instant) -> Self {
        Self { offset_micros: 0, latest }
    }

    /// Joins a link whose clock shows `link_now`: its times follow on from what was recorded.
    pub fn join(&mut self, link_now: Instant) {
        self.offset_micros = self.latest.micros().saturating_sub(link_now.micros());
    }

    /// A link's time on the visit's clock.
    pub fn visit_time(&self, link_time: Instant) -> Instant {
        Instant::from_micros(link_time.micros().saturating_add(self.offset_micros))
    }

    /// A visit's time on the link's clock.
    pub fn link_time(&self, visit_time: Instant) -> Instant {
        Instant::from_micros(visit_time.micros().saturating_sub(self.offset_micros))
    }

    /// Moves on to the link's time and returns the visit's; it stays where it is if the link's
    /// clock lags behind.
    pub fn follow(&mut self, link_now: Instant) -> Instant {
        self.latest = self.latest.max(self.visit_time(link_now));
        self.latest
    }

    /// The visit's time at the last look.
    pub fn now(&self) -> Instant {
        self.latest
    }
}

#[cfg(test)]
mod tests {
    use super::VisitClock;
    use crate::units::Instant;

    fn at(seconds: f64) -> Instant {
        Instant::from_seconds(seconds)
    }

    #[test]
    fn a_second_link_follows_on_from_the_first() {
        let mut clock = VisitClock::default();
        clock.join(at(100.0));
        assert_eq!(clock.follow(at(130.0)), at(30.0));
        clock.join(at(5.0));
        assert_eq!(clock.follow(at(5.0)), at(30.0));
        assert_eq!(clock.follow(at(7.5)), at(32.5));
    }

    #[test]
    fn a_clock_that_lags_does_not_turn_the_visit_back() {
        let mut clock = VisitClock::resumed(at(60.0));
        clock.join(at(0.0));
        assert_eq!(clock.follow(at(2.0)), at(62.0));
        assert_eq!(clock.follow(at(1.0)), at(62.0));
    }

    #[test]
    fn times_travel_both_ways() {
        let mut clock = VisitClock::resumed(at(60.0));
        clock.join(at(10.0));
        assert_eq!(clock.link_time(clock.visit_time(at(12.25))), at(12.25));
    }
}
