use std::ops::{Add, Sub};
use std::time::Duration;

use serde::{Deserialize, Serialize};

/// A point on the visit's one clock, in whole microseconds since the clock's start.
///
/// Whole numbers, so that a time survives storage, export and import unchanged. Only the jobs
/// layer and the transports read a real clock; everybody else is told the time.
#[derive(
    Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
)]
#[serde(transparent)]
pub struct Instant(i64);

impl Instant {
    /// The clock's start.
    pub const ZERO: Self = Self(0);

    /// From whole microseconds.
    pub const fn from_micros(micros: i64) -> Self {
        Self(micros)
    }

    /// From seconds, rounded to the microsecond.
    pub fn from_seconds(seconds: f64) -> Self {
        Self((seconds * 1e6).round() as i64)
    }

    /// Whole microseconds since the clock's start.
    pub const fn micros(self) -> i64 {
        self.0
    }

    /// Seconds since the clock's start.
    pub fn seconds(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// The start of the millisecond it lies in. An adapter tells no finer when the car answered, and
    /// the digits below take more than half of a recording's room.
    pub const fn whole_millisecond(self) -> Self {
        Self(self.0 - self.0.rem_euclid(1000))
    }

    /// Time from `earlier` to `self`; zero if `earlier` is later.
    pub fn saturating_since(self, earlier: Self) -> Duration {
        Duration::from_micros(u64::try_from(self.0.saturating_sub(earlier.0)).unwrap_or(0))
    }

    /// Seconds from `other` to `self`; negative if `other` is later.
    pub fn seconds_since(self, other: Self) -> f64 {
        self.0.saturating_sub(other.0) as f64 / 1e6
    }
}

impl Add<Duration> for Instant {
    type Output = Self;

    fn add(self, duration: Duration) -> Self {
        Self(self.0.saturating_add(i64::try_from(duration.as_micros()).unwrap_or(i64::MAX)))
    }
}

impl Sub<Duration> for Instant {
    type Output = Self;

    fn sub(self, duration: Duration) -> Self {
        Self(self.0.saturating_sub(i64::try_from(duration.as_micros()).unwrap_or(i64::MAX)))
    }
}
