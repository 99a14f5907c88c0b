//! What diagnostic bytes mean: signals, parameters, trouble codes, readiness, monitors, identity.
//!
//! May import: units.
//! Never: talks to a car, waits, or writes a sentence for the screen.
#![deny(clippy::indexing_slicing, clippy::arithmetic_side_effects)]

mod fault;
mod signal;

pub use fault::Fault;
pub use signal::Signal;
