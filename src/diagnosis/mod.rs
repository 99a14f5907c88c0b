//! From evidence to a verdict: odds over the faults, and what to do next.
//!
//! May import: units, analysis, vehicle, recording, evidence.
//! Never: runs a check, looks at a sample, or writes a sentence for the screen.

mod likelihood;
mod model_errors;
mod next_check;
mod observed;
mod population;
mod prior;
mod sealed;
mod verdict;
mod weighing;

#[cfg(test)]
mod tests;

pub use prior::odds_of_codes;
pub use verdict::{Hypothesis, NextCheck, Source, Verdict, VerdictOutcome, Weight, WhyNext};
pub use weighing::{NAMED_FROM, weigh};
