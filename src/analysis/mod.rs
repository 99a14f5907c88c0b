//! Pure numbers: slices in, numbers with bounds out.
//!
//! May import: nothing.
//! Never: does I/O, knows a signal or a fault, or panics on odd data.
//!
//! Everything here answers odd data (too short, constant, not finite) with `None` or with a value
//! whose bounds say that nothing is known. Routines over samples are O(n) or O(n log n).

pub mod bayes;
mod bounded;
pub mod change_point;
pub mod decimation;
pub mod descriptive;
pub mod detection_limit;
pub mod distribution;
pub mod drift_regression;
pub mod equivalence;
pub mod exponential_fit;
pub mod interval_likelihood;
pub mod lag;
pub mod levenberg_marquardt;
mod linear_algebra;
pub mod multiplicity;
pub mod orifice_flow;
pub mod proportion;
pub mod regression;
pub mod resampling;
pub mod resolution;
pub mod robust;
pub mod sequential;
pub mod serial_correlation;
pub mod step_response;

pub use bounded::Bounded;

/// Whether every value is a number that arithmetic can use.
fn all_finite(values: &[f64]) -> bool {
    values.iter().all(|value| value.is_finite())
}

/// A count as a number; exact up to 2^53.
#[allow(clippy::cast_precision_loss, reason = "no recording holds 2^53 samples")]
fn count(n: usize) -> f64 {
    n as f64
}
