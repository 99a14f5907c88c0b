//! Facts about the vapour system with their numbers: what a check, a code or an observation says.
//!
//! May import: units, vehicle, recording.
//! Never: weighs facts against each other, or computes them from samples.

mod check;
mod comparison;
mod measure;
mod observation;
mod result;

pub use check::{Check, Outcome};
pub use comparison::{Comparison, ComparisonEnd};
pub use measure::{Measure, MeasureName};
pub use observation::Observation;
pub use result::{CheckResult, Findings, Reason, Warning};
