//! Guided procedures: samples and actions in, the next step out; and what a recording shows.
//!
//! May import: units, analysis, vehicle, recording, evidence.
//! Never: reads a clock, waits, talks to the car, or writes a sentence for the screen.

mod procedure;
mod step;

pub use procedure::{Procedure, Progress, Rails};
pub use step::{Caution, Step};
