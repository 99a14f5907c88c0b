use super::visit::Visit;
use crate::checks::{self, Procedure, Progress, Step};
use crate::evidence::Check;
use crate::recording::{Action, ActionAt};
use crate::units::Instant;
use crate::virtual_car::{Act, Garage};

/// The check that runs: a procedure that is fed with time and samples, and whose instructions
/// reach the person, or the virtual person beside the virtual car.
pub(super) struct RunningCheck {
    procedure: Box<dyn Procedure>,
    instructions: Instructions,
    paused: bool,
}

impl RunningCheck {
    /// Starts a check on the visit's recording.
    pub(super) fn start(check: Check, visit: &Visit) -> Self {
        let now = visit.clock.now();
        let procedure = checks::start(check, now, &visit.recording);
        Self { procedure, instructions: Instructions::default(), paused: false }
    }

    /// Which check this is.
    pub(super) fn check(&self) -> Check {
        self.procedure.check()
    }

    /// Holds the check, or lets it go on. Recording goes on all the while.
    pub(super) fn pause(&mut self, paused: bool) {
        self.paused = paused;
    }

    /// Whether it has ended.
    pub(super) fn is_done(&self) -> bool {
        self.procedure.is_done()
    }

    /// Takes note of what was recorded up to now. Returns the actions that the procedure noticed
    /// by itself and the visit did not know yet.
    pub(super) fn advance(&mut self, visit: &mut Visit, garage: Option<&Garage>) -> Vec<ActionAt> {
        if self.paused {
            return Vec::new();
        }
        self.procedure.handle_time(visit.clock.now(), &visit.recording);
        let mut noticed = Vec::new();
        while let Some(action) = self.procedure.poll_noticed() {
            if visit.take_action(action) {
                noticed.push(action);
            }
        }
        if let Some(garage) = garage {
            self.instructions.pass_on(&self.procedure.progress(visit.clock.now()), garage);
        }
        noticed
    }

    /// What to show.
    pub(super) fn progress(&self, now: Instant) -> Progress {
        self.procedure.progress(now)
    }
}

/// What the virtual person was told so far.
#[derive(Debug, Default)]
pub(super) struct Instructions {
    told: Option<(Step, Instant)>,
}

impl Instructions {
    /// Passes a new instruction on to the virtual person, each once.
    pub(super) fn pass_on(&mut self, progress: &Progress, garage: &Garage) {
        let step = (progress.step, progress.since);
        if self.told != Some(step) {
            self.told = Some(step);
            if let Some(act) = act_of(progress.step) {
                garage.ask(act);
            }
        }
    }
}

/// What a person does who hears this instruction.
fn act_of(step: Step) -> Option<Act> {
    match step {
        Step::TurnKeyOn => Some(Act::KeyOn),
        Step::StartEngine => Some(Act::StartEngine),
        Step::StopEngine => Some(Act::StopEngine),
        Step::UnplugPurge => Some(Act::UnplugPurge),
        Step::PlugPurge => Some(Act::PlugPurge),
        Step::OpenThrottle => Some(Act::OpenThrottle),
        Step::ReleaseThrottle => Some(Act::ReleaseThrottle),
        Step::OpenCap => Some(Act::OpenCap),
        Step::CloseCap => Some(Act::CloseCap),
        Step::SealVent => Some(Act::SealVent),
        Step::OpenVent => Some(Act::OpenVent),
        Step::IdleBeforeFillUp => Some(Act::StartEngine),
        Step::FillTank => Some(Act::Refuel),
        Step::WaitAtRest
        | Step::WaitAtIdle
        | Step::WaitForPurge
        | Step::WatchPurge
        | Step::KeepUnplugged
        | Step::KeepPlugged
        | Step::SettleAtIdle
        | Step::KeepCapOff
        | Step::BuildVacuum
        | Step::HoldSealed
        | Step::WatchAfterFillUp
        | Step::Done => None,
    }
}

/// What the person says they did, as the recording knows it; driving and parking show in the
/// vehicle's speed.
pub(super) fn action_of(act: Act) -> Option<Action> {
    match act {
        Act::KeyOn => Some(Action::KeyOn),
        Act::StartEngine => Some(Action::EngineStarted),
        Act::StopEngine => Some(Action::EngineStopped),
        Act::UnplugPurge => Some(Action::PurgeUnplugged),
        Act::PlugPurge => Some(Action::PurgePlugged),
        Act::OpenThrottle => Some(Action::ThrottleOpened),
        Act::ReleaseThrottle => Some(Action::ThrottleReleased),
        Act::OpenCap => Some(Action::CapOpened),
        Act::CloseCap => Some(Action::CapClosed),
        Act::SealVent => Some(Action::VentSealed),
        Act::OpenVent => Some(Action::VentOpened),
        Act::Refuel => Some(Action::Refuelled),
        Act::ReplacePart => Some(Action::PartReplaced),
        Act::KeyOff | Act::Drive | Act::Park => None,
    }
}

#[cfg(test)]
mod tests {
    use super::{act_of, action_of};
    use crate::checks::Step;

    #[test]
    fn an_act_ends_the_step_that_asked_for_it() {
        for step in [
            Step::TurnKeyOn,
            Step::StartEngine,
            Step::StopEngine,
            Step::UnplugPurge,
            Step::PlugPurge,
            Step::OpenThrottle,
            Step::ReleaseThrottle,
            Step::OpenCap,
            Step::CloseCap,
            Step::SealVent,
            Step::OpenVent,
            Step::FillTank,
        ] {
            assert_eq!(act_of(step).and_then(action_of), step.awaited(), "{step:?}");
            assert!(step.awaited().is_some(), "{step:?}");
        }
    }
}
