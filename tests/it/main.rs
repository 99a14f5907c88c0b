//! The core's integration tests, in one binary.

mod analysis_behaviour;
mod analysis_published;
mod report;
