//! Guided procedures: samples and actions in, the next step out; and what a recording shows.
//!
//! May import: units, analysis, vehicle, recording, evidence.
//! Never: reads a clock, waits, talks to the car, or writes a sentence for the screen.

mod after_fill_up;
mod band;
mod cap_off_zero;
mod certainty;
mod examination;
mod examine;
mod fit_curve;
mod guide;
mod idle_zero;
mod inferred;
mod leak_measures;
mod noticing;
mod outcome;
mod procedure;
mod purge_gain;
mod purge_response;
mod reading;
mod recovery;
mod repair_proof;
mod rest_zero;
mod scene;
mod script;
mod sealed_decay;
mod sealed_hold;
mod sealed_leak;
mod sealed_movement;
mod sealed_vent;
mod shut_flow;
mod spans;
mod step;
mod throttle_follow;
mod unplug_recovery;
mod vapour_space;

pub use after_fill_up::USUAL_TRIM;
pub use examine::{examine, prove_repair};
pub use fit_curve::{FitCurve, fit_curves};
pub use guide::start;
pub use procedure::{Procedure, Progress, Rails};
pub use step::{Caution, Step};
