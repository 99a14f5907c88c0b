//! Pure numbers: slices in, numbers with bounds out.
//!
//! May import: nothing.
//! Never: does I/O, knows a signal or a fault, or panics on odd data.
//!
//! Everything here answers odd data (too short, constant, not finite) with `None` or with a value
//! whose bounds say that nothing is known. Routines over samples are O(n) or O(n log n).

#![allow(
    clippy::neg_cmp_op_on_partial_ord,
    clippy::nonminimal_bool,
    reason = "a guard is written as the negated wish, so that NaN is refused with the rest"
)]
#![allow(clippy::needless_range_loop, reason = "sums over indices read like their formulae")]

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
fn count(n: usize) -> f64 {
    n as f64
}
