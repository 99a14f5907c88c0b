//! From evidence to a verdict: odds over the faults, and what to do next.
//!
//! May import: units, analysis, vehicle, recording, evidence.
//! Never: runs a check, looks at a sample, or writes a sentence for the screen.

mod verdict;

pub use verdict::{Hypothesis, NextCheck, Source, Verdict, VerdictOutcome, Weight, WhyNext};
