//! Small pieces that every check's result is made of.

use crate::evidence::{Measure, MeasureName};
use crate::units::{Estimate, Instant};

pub(super) fn measure(name: MeasureName, estimate: Estimate) -> Measure {
    Measure { name, estimate }
}

pub(super) fn instants(from: f64, to: f64) -> (Instant, Instant) {
    (Instant::from_seconds(from), Instant::from_seconds(to))
}

/// Smallest effect that shows with 95 % power at a two-sided 5 % level, from a standard error:
/// (1.960 + 1.645) times it (normal theory).
pub(super) fn detection_limit(standard_error: f64) -> f64 {
    3.604_817_611_491_527 * standard_error
}

/// A number without bounds of its own: both stand on the value.
pub(super) fn exact(value: f64) -> Estimate {
    Estimate { value, low: value, high: value }
}
