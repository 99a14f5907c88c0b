use std::time::Duration;

use super::{Caution, Step};
use crate::evidence::{Check, Outcome};
use crate::recording::{ActionAt, Recording};
use crate::units::Instant;

/// The detection band, computed from this car's own noise: while the trace stays between the
/// rails, the tank is still.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rails {
    /// From when they hold.
    pub from: Instant,
    /// Until when they held; `None` while they hold.
    pub until: Option<Instant>,
    /// Lower rail, Pa.
    pub low: f64,
    /// Upper rail, Pa.
    pub high: f64,
}

/// What a running check shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Progress {
    /// Which check runs.
    pub check: Check,
    /// What the person is asked to do.
    pub step: Step,
    /// Since when.
    pub since: Instant,
    /// How much longer this step lasts, where time alone ends it.
    pub remaining: Option<Duration>,
    /// The last thing the program noticed by itself or was told.
    pub noticed: Option<ActionAt>,
    /// Hazards of this step.
    pub cautions: &'static [Caution],
    /// How sure the check is of its outcome so far, 0 to 1.
    pub certainty: f64,
    /// Repetitions done, with how each spoke.
    pub repetitions: Vec<Outcome>,
    /// Repetitions still expected, the running one included.
    pub repetitions_left: u32,
    /// Every band computed so far, in order of time.
    pub rails: Vec<Rails>,
    /// How it speaks so far.
    pub outcome_so_far: Outcome,
}

/// A guided check as a state machine. It reads the visit's recording and is told the time; it
/// never waits and never asks a clock.
pub trait Procedure: Send {
    /// Which check this is.
    fn check(&self) -> Check;

    /// Takes note of everything recorded up to `now` and moves to the step that follows.
    ///
    /// Actions that the person entered stand in the recording. Actions that the procedure notices
    /// by itself come out of [`Procedure::poll_noticed`]; the caller records them.
    fn handle_time(&mut self, now: Instant, recording: &Recording);

    /// An action noticed in the data, to be recorded by the caller.
    fn poll_noticed(&mut self) -> Option<ActionAt>;

    /// What to show.
    fn progress(&self, now: Instant) -> Progress;

    /// Whether the check has ended.
    fn is_done(&self) -> bool;
}
