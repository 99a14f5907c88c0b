//! What each guided check asks for, in order: the scripts as rows.

use super::Step;
use crate::evidence::Check;

/// What ends a step.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Until {
    /// Time alone, s.
    Seconds(f64),
    /// The person does what the step awaits, or the data show it.
    Done,
    /// The engine has run for this long, s, or the tank was filled meanwhile.
    IdledOrFilled(f64),
    /// The engine runs; over at once if it does.
    Running,
    /// The engine stands; over at once if it does.
    Stopped,
    /// The car purges: command above the least that says something.
    Purging,
    /// The car begins to purge, or the time is over, s.
    PurgeBegins(f64),
    /// The tank stands this far below rest, Pa, and half as far below where it stood when the step began;
    /// or the time is over, s.
    Vacuum(f64, f64),
    /// A sealed vacuum was watched this long, s; where there was none to watch, the second time, or until
    /// the reading has moved so far that opening the vent will tell.
    Held(f64, f64),
    /// As [`Until::Stopped`], but over at once where a reading moved while the engine ran, and told whether
    /// the valve leaks.
    StoppedUnlessTold,
    /// A sealed tank was watched with the engine off: the first time, s, to see whether the valve leaks;
    /// where the reading had not moved yet, the second time or until it does. Over at once where nothing was
    /// left to tell.
    HeldStanding(f64, f64),
    /// The tank's return is over: five time constants as seen so far, at least so long, s.
    Settled(f64),
}

/// One step of a script.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stage {
    pub(super) step: Step,
    pub(super) until: Until,
}

const fn stage(step: Step, until: Until) -> Stage {
    Stage { step, until }
}

/// A check's script: what comes once before, the part that repeats, what comes once after.
#[derive(Clone, Copy, Debug)]
pub(super) struct Script {
    pub(super) before: &'static [Stage],
    pub(super) cycle: &'static [Stage],
    pub(super) after: &'static [Stage],
    /// Fewest and most cycles.
    pub(super) cycles: (u32, u32),
}

impl Script {
    /// Where purge is waited for, the stage that starts the engine for it.
    pub(super) fn start_again(&self, index: usize) -> Option<usize> {
        let waits = |stage: &&Stage| matches!(stage.until, Until::Purging | Until::PurgeBegins(_));
        self.before.get(index).filter(waits)?;
        self.before[..index].iter().rposition(|stage| stage.until == Until::Running)
    }
}

const ENGINE_ON: Stage = stage(Step::StartEngine, Until::Running);
const ENGINE_OFF: Stage = stage(Step::StopEngine, Until::Stopped);
const PURGING: Stage = stage(Step::WaitForPurge, Until::Purging);
const UNPLUG: Stage = stage(Step::UnplugPurge, Until::Done);
const PLUG: Stage = stage(Step::PlugPurge, Until::Done);

const REST: &[Stage] = &[ENGINE_OFF, stage(Step::WaitAtRest, Until::Seconds(16.0))];
const IDLE: &[Stage] = &[
    ENGINE_OFF,
    stage(Step::WaitAtRest, Until::Seconds(6.0)),
    ENGINE_ON,
    stage(Step::WaitAtIdle, Until::PurgeBegins(22.0)),
];
const PURGE: &[Stage] = &[ENGINE_ON, PURGING, stage(Step::WatchPurge, Until::Seconds(20.0))];
const RECOVERY_START: &[Stage] =
    &[ENGINE_ON, PURGING, stage(Step::KeepPlugged, Until::Seconds(4.0))];
const RECOVERY_CYCLE: &[Stage] = &[
    UNPLUG,
    stage(Step::KeepUnplugged, Until::Settled(6.0)),
    PLUG,
    stage(Step::KeepPlugged, Until::Settled(4.5)),
];
const FOLLOW_START: &[Stage] =
    &[ENGINE_ON, UNPLUG, stage(Step::KeepUnplugged, Until::Settled(8.0))];
const FOLLOW_CYCLE: &[Stage] = &[
    stage(Step::OpenThrottle, Until::Done),
    stage(Step::ReleaseThrottle, Until::Done),
    stage(Step::SettleAtIdle, Until::Settled(5.0)),
];
const CAP: &[Stage] = &[
    ENGINE_ON,
    stage(Step::WatchPurge, Until::Seconds(5.0)),
    ENGINE_OFF,
    stage(Step::OpenCap, Until::Done),
    stage(Step::KeepCapOff, Until::Settled(14.0)),
    stage(Step::CloseCap, Until::Done),
];
/// The same by somebody who has sealed the vent before: from so deep a vacuum the return through the open
/// cap times the sensor alone.
const CAP_SEALED: &[Stage] = &[
    ENGINE_ON,
    stage(Step::WaitForPurge, Until::PurgeBegins(30.0)),
    stage(Step::SealVent, Until::Done),
    stage(Step::BuildVacuum, Until::Vacuum(1_000.0, 25.0)),
    ENGINE_OFF,
    stage(Step::OpenCap, Until::Done),
    stage(Step::KeepCapOff, Until::Settled(14.0)),
    stage(Step::OpenVent, Until::Done),
    stage(Step::CloseCap, Until::Done),
];
const HOLD: &[Stage] = &[
    ENGINE_ON,
    // Without purge there is no vacuum to hold, yet a sealed tank shows whether the sensor lives.
    stage(Step::WaitForPurge, Until::PurgeBegins(60.0)),
    stage(Step::SealVent, Until::Done),
    stage(Step::BuildVacuum, Until::Vacuum(1_400.0, 40.0)),
    UNPLUG,
    stage(Step::HoldSealed, Until::Held(60.0, 90.0)),
    // What a shut valve seeps into a running engine may cancel what the fuel gives off. Alone, the fuel
    // moves a live reading; and what changes with the engine's stop is the valve's.
    stage(Step::StopEngine, Until::StoppedUnlessTold),
    stage(Step::HoldSealed, Until::HeldStanding(60.0, 140.0)),
    stage(Step::OpenVent, Until::Done),
    // From so deep a vacuum the return is seen better than from any other.
    stage(Step::KeepUnplugged, Until::Seconds(8.0)),
    PLUG,
];
const FILL_UP: &[Stage] = &[
    // Who comes from the filling station says so, and goes on without this measure.
    stage(Step::IdleBeforeFillUp, Until::IdledOrFilled(45.0)),
    ENGINE_OFF,
    stage(Step::FillTank, Until::Done),
    ENGINE_ON,
    stage(Step::WatchAfterFillUp, Until::Seconds(120.0)),
];
const PROOF_START: &[Stage] = &[
    ENGINE_OFF,
    stage(Step::WaitAtRest, Until::Seconds(14.0)),
    ENGINE_ON,
    stage(Step::WaitAtIdle, Until::PurgeBegins(20.0)),
    PURGING,
    stage(Step::WatchPurge, Until::Seconds(12.0)),
    UNPLUG,
    stage(Step::KeepUnplugged, Until::Settled(6.0)),
    PLUG,
    stage(Step::KeepPlugged, Until::Settled(5.0)),
    UNPLUG,
    stage(Step::KeepUnplugged, Until::Settled(7.0)),
];

/// The script of a check; `sealed` says whether the vent was sealed in this visit before.
pub(super) fn script(check: Check, sealed: bool) -> Script {
    let once = |before| Script { before, cycle: &[], after: &[], cycles: (0, 0) };
    match check {
        Check::RestZero => once(REST),
        Check::IdleZero => once(IDLE),
        Check::PurgeResponse => once(PURGE),
        Check::UnplugRecovery => {
            Script { before: RECOVERY_START, cycle: RECOVERY_CYCLE, after: &[], cycles: (2, 5) }
        }
        Check::ThrottleFollow => {
            Script { before: FOLLOW_START, cycle: FOLLOW_CYCLE, after: &[PLUG], cycles: (3, 8) }
        }
        Check::CapOffZero => once(if sealed { CAP_SEALED } else { CAP }),
        Check::AfterFillUp => once(FILL_UP),
        Check::SealedHold => once(HOLD),
        Check::RepairProof => {
            Script { before: PROOF_START, cycle: FOLLOW_CYCLE, after: &[PLUG], cycles: (3, 6) }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Until, script};
    use crate::evidence::Check;

    /// Wherever a script waits for purge, it knows where the engine was to be started for it.
    #[test]
    fn an_engine_that_stalled_is_started_again() {
        let checks = [Check::IdleZero, Check::PurgeResponse, Check::SealedHold, Check::RepairProof];
        for check in checks {
            let script = script(check, false);
            let mut waits = 0;
            for (index, stage) in script.before.iter().enumerate() {
                let start = script.start_again(index);
                if matches!(stage.until, Until::Purging | Until::PurgeBegins(_)) {
                    waits += 1;
                    assert_eq!(script.before[start.unwrap()].until, Until::Running, "{check:?}");
                } else {
                    assert_eq!(start, None, "{check:?} {index}");
                }
            }
            assert!(waits > 0, "{check:?}");
        }
    }
}
