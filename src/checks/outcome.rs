//! Small pieces that every check's result is made of.

use std::sync::OnceLock;

use crate::analysis::detection_limit::{Sides, smallest_effect};
use crate::evidence::{Measure, MeasureName};
use crate::units::{Estimate, Instant};

pub(super) fn measure(name: MeasureName, estimate: Estimate) -> Measure {
    Measure { name, estimate }
}

pub(super) fn instants(from: f64, to: f64) -> (Instant, Instant) {
    (Instant::from_seconds(from), Instant::from_seconds(to))
}

/// Smallest effect that shows with 95 % power at a two-sided 5 % level, from a standard error that
/// counts as known.
pub(super) fn detection_limit(standard_error: f64) -> f64 {
    static IN_ERRORS: OnceLock<f64> = OnceLock::new();
    let in_errors = IN_ERRORS.get_or_init(|| {
        smallest_effect(1.0, f64::INFINITY, 0.05, 0.95, Sides::Two).unwrap_or(f64::INFINITY)
    });
    in_errors * standard_error
}

/// A number without bounds of its own: both stand on the value.
pub(super) fn exact(value: f64) -> Estimate {
    Estimate { value, low: value, high: value }
}
