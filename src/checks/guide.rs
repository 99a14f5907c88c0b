//! The guided checks as one state machine over their scripts.

use std::collections::VecDeque;
use std::time::Duration;

use super::certainty;
use super::examination::{Examination, rest_level};
use super::examine::{check_of, scene_until};
use super::noticing::{engine_runs, is_unplugged, notice, purge_command};
use super::procedure::{Procedure, Progress, Rails};
use super::repair_proof;
use super::scene::Scene;
use super::script::{Script, Stage, Until, script};
use super::{Step, band, sealed_leak};
use crate::evidence::{Check, CheckResult, Outcome};
use crate::recording::{Action, ActionAt, Recording};
use crate::units::{Estimate, Instant};
use crate::vehicle::Signal;

/// How often the rails are laid anew while a step runs, and the numbers, which cost far more, s.
const LOOK: f64 = 2.0;
const LOOK_CLOSELY: f64 = 6.0;
/// Purge command that pulls enough to be seen, per cent.
const ENOUGH_PURGE: f64 = 8.0;
/// A sealed reading that moved this far, and three steps more, is worth opening the vent for, Pa: farther
/// than one that sticks is believed to give way (`diagnosis/sealed.rs`).
const MOVED: f64 = 90.0;
/// An engine that stands this long while its purge is waited for has to be started again, s.
const STALLED: f64 = 3.0;
/// How long the car is given to purge by itself before the check ends without it, s.
const PURGE_PATIENCE: f64 = 240.0;

/// Starts a check. A proof says by its start what happened before it.
pub fn start(check: Check, now: Instant, recording: &Recording) -> Box<dyn Procedure> {
    Box::new(Guided::new(check, now, recording))
}

struct Guided {
    check: Check,
    script: Script,
    /// Stage within before, cycle or after.
    place: Place,
    since: Instant,
    started: Instant,
    looked: Option<Instant>,
    looked_closely: Option<Instant>,
    noticed: Option<ActionAt>,
    outbox: VecDeque<ActionAt>,
    repetitions: Vec<Outcome>,
    result: Option<CheckResult>,
    rails: Vec<Rails>,
    recovery: Option<Estimate>,
    rest: Option<f64>,
    step: f64,
    /// Whether the sealed reading stands clearly off rest, or did since the sealing.
    moved: bool,
    /// Whether the vent is sealed.
    sealed: bool,
    /// Whether the sealed hold told all it can before the engine was to be stopped.
    told: bool,
}

#[derive(Clone, Copy, Debug, PartialEq)]
enum Place {
    Before(usize),
    Cycle(usize),
    After(usize),
    Done,
}

impl Guided {
    fn new(check: Check, now: Instant, recording: &Recording) -> Self {
        let mut outbox = VecDeque::new();
        let said = recording.last_action(Action::PartReplaced).is_some();
        if check == Check::RepairProof && !said {
            outbox.push_back(ActionAt { at: now, action: Action::PartReplaced });
        }
        Self {
            check,
            script: script(check, recording.last_action(Action::VentSealed).is_some()),
            place: Place::Before(0),
            since: now,
            started: now,
            looked: None,
            looked_closely: None,
            noticed: None,
            outbox,
            repetitions: Vec::new(),
            result: None,
            rails: Vec::new(),
            recovery: None,
            rest: None,
            step: 0.0,
            moved: false,
            sealed: false,
            told: false,
        }
    }

    fn stage(&self) -> Option<Stage> {
        match self.place {
            Place::Before(index) => self.script.before.get(index).copied(),
            Place::Cycle(index) => self.script.cycle.get(index).copied(),
            Place::After(index) => self.script.after.get(index).copied(),
            Place::Done => None,
        }
    }

    /// Whether the stage is over; `Some(true)` ends the whole check.
    fn is_over(&mut self, stage: Stage, now: Instant, recording: &Recording) -> bool {
        let elapsed = now.seconds_since(self.since);
        if let Place::Before(index) = self.place
            && let Some(start) = self.script.start_again(index)
            && elapsed > STALLED
            && !engine_runs(recording)
        {
            (self.place, self.since) = (Place::Before(start), now);
            return false;
        }
        match stage.until {
            Until::Seconds(seconds) => elapsed >= seconds,
            Until::Settled(least) => {
                let tau = self.recovery.map_or(0.6, |tau| tau.value).clamp(0.1, 5.0);
                elapsed >= least.max((6.0 * tau).min(25.0))
            }
            Until::IdledOrFilled(seconds) => {
                if !engine_runs(recording) {
                    // Counted from the engine's start on.
                    self.since = now;
                }
                elapsed >= seconds || self.was_filled(recording)
            }
            Until::Running => engine_runs(recording) || self.was_done(stage, now, recording),
            Until::StoppedUnlessTold if self.is_told(recording) => true,
            Until::Stopped | Until::StoppedUnlessTold => {
                !engine_runs(recording) || self.was_done(stage, now, recording)
            }
            Until::Purging => {
                if elapsed > PURGE_PATIENCE {
                    self.place = Place::Done;
                    return false;
                }
                purge_command(recording).is_none_or(|percent| percent >= ENOUGH_PURGE)
                    && elapsed > 1.0
            }
            Until::PurgeBegins(longest) => {
                elapsed >= longest
                    || (elapsed > 3.0
                        && purge_command(recording).is_some_and(|percent| percent > 0.5))
            }
            Until::Vacuum(depth, longest) => {
                let rest = self.rest.unwrap_or(0.0);
                let Some(series) = recording.series(Signal::TankPressure) else { return false };
                let newest = series.last().map_or(rest, |(_, pressure)| pressure);
                // A restricted vent lets purge pull deep before it is sealed: how fast the rest of the way
                // goes is what tells it.
                let (_, since) = series.between(self.since, now);
                let began = since.first().copied().unwrap_or(rest).min(rest);
                elapsed >= longest
                    || (elapsed > 4.0 && newest < (rest - depth).min(began - 0.5 * depth))
            }
            Until::Held(usual, longest) => {
                self.moved = self.has_moved(recording);
                elapsed >= longest || (elapsed >= usual && self.moved)
            }
            Until::HeldStanding(usual, longest) => {
                self.moved = self.has_moved_since_sealed(recording);
                let enough = self.moved && (elapsed >= usual || !self.may_leak());
                self.told || elapsed >= longest || enough
            }
            Until::Done => {
                // The connector may be off, or on, already.
                let already = match stage.step {
                    Step::UnplugPurge => is_unplugged(recording),
                    Step::PlugPurge => !is_unplugged(recording),
                    Step::FillTank => self.was_filled(recording),
                    _ => false,
                };
                already || self.was_done(stage, now, recording)
            }
        }
    }

    /// Whether the newest reading stands clearly off rest.
    fn has_moved(&self, recording: &Recording) -> bool {
        let newest = recording.series(Signal::TankPressure).and_then(|series| series.last());
        let (Some((_, pressure)), Some(rest)) = (newest, self.rest) else { return true };
        (pressure - rest).abs() > MOVED + 3.0 * self.step
    }

    /// Whether anything moved the reading clearly since the vent was sealed, a vacuum that is gone again
    /// included.
    fn has_moved_since_sealed(&self, recording: &Recording) -> bool {
        let sealed = recording.last_action(Action::VentSealed);
        let (Some(series), Some((_, end)), Some(sealed)) =
            (recording.series(Signal::TankPressure), recording.span(), sealed)
        else {
            return true;
        };
        let (_, since) = series.between(sealed, end + Duration::from_millis(1));
        let highest = since.iter().copied().fold(f64::MIN, f64::max);
        let lowest = since.iter().copied().fold(f64::MAX, f64::min);
        highest - lowest > MOVED + 3.0 * self.step
    }

    /// Whether a hold with the engine running left nothing to ask that one with the engine off tells:
    /// whether the reading lives, and whether the valve leaks.
    fn is_told(&mut self, recording: &Recording) -> bool {
        self.told = self.told || (self.has_moved_since_sealed(recording) && !self.may_leak());
        self.told
    }

    /// Whether the sealed tank has not yet told a tight valve from one that leaks a little.
    fn may_leak(&self) -> bool {
        self.result.as_ref().is_some_and(sealed_leak::may_leak)
    }

    /// Whether the tank was filled since the check began.
    fn was_filled(&self, recording: &Recording) -> bool {
        let since = |known: &&ActionAt| known.at >= self.started;
        let mut later = recording.actions().iter().rev().take_while(since);
        later.any(|known| known.action == Action::Refuelled)
    }

    /// Whether the awaited action was said or noticed since the stage began.
    fn was_done(&mut self, stage: Stage, now: Instant, recording: &Recording) -> bool {
        let Some(awaited) = stage.step.awaited() else { return false };
        let mut since = recording.actions().iter().rev().take_while(|it| it.at >= self.since);
        if let Some(known) = since.find(|known| known.action == awaited) {
            self.noticed = Some(*known);
            return true;
        }
        // An opening must last: the hand is asked to let go only after a second.
        let from = if awaited == Action::ThrottleReleased {
            self.since + Duration::from_millis(700)
        } else {
            self.since
        };
        if let Some(found) = notice(awaited, recording, from, now) {
            self.noticed = Some(found);
            self.outbox.push_back(found);
            return true;
        }
        false
    }

    fn advance(&mut self, now: Instant) {
        self.since = now;
        let (least, most) = self.script.cycles;
        self.place = match self.place {
            Place::Before(index) if index + 1 < self.script.before.len() => {
                Place::Before(index + 1)
            }
            Place::Before(_) if most > 0 => Place::Cycle(0),
            Place::Before(_) => Place::Done,
            Place::Cycle(index) if index + 1 < self.script.cycle.len() => Place::Cycle(index + 1),
            Place::Cycle(_) => {
                let result = self.result.as_ref();
                self.repetitions.push(result.map_or(Outcome::Inconclusive, |r| r.outcome));
                let done = u32::try_from(self.repetitions.len()).unwrap_or(most);
                let certain = result.is_some_and(|it| certainty::may_stop(it, done, most));
                if done >= most || (done >= least && certain) {
                    if self.script.after.is_empty() { Place::Done } else { Place::After(0) }
                } else {
                    Place::Cycle(0)
                }
            }
            Place::After(index) if index + 1 < self.script.after.len() => Place::After(index + 1),
            Place::After(_) | Place::Done => Place::Done,
        };
    }

    /// Lays the rails anew, and after a while the numbers too.
    fn look(&mut self, now: Instant, recording: &Recording) {
        let waits = self.looked_closely.is_some_and(|at| now.seconds_since(at) < LOOK_CLOSELY);
        // These rails lie about the level of the settled samples, which takes the fits to know.
        if !waits || band::is_about_idle(self.check) {
            self.look_closely(now, recording);
            return;
        }
        self.looked = Some(now);
        let Some((_, scene)) = scene_until(now, recording) else { return };
        let rest = rest_level(&scene);
        self.step = scene.step;
        self.rails = band::rails(&scene, rest, None, self.started);
        self.rest = rest.map(|rest| rest.value);
    }

    /// Makes the numbers anew.
    fn look_closely(&mut self, now: Instant, recording: &Recording) {
        self.looked = Some(now);
        self.looked_closely = Some(now);
        let Some((before, scene)) = scene_until(now, recording) else { return };
        self.step = scene.step;
        let examination = Examination::new(scene);
        let idle = band::idle_level(&examination, self.check, self.started);
        self.rails = band::rails(&examination.scene, examination.rest, idle, self.started);
        self.recovery = examination.recovery;
        self.rest = examination.rest.map(|rest| rest.value);
        self.result = if self.check == Check::RepairProof {
            before
                .and_then(|(from, to)| Scene::new(recording, from, to))
                .map(Examination::new)
                .and_then(|before| repair_proof::compare(&before, &examination, recording))
        } else {
            check_of(self.check, &examination, recording)
        };
    }
}

impl Procedure for Guided {
    fn check(&self) -> Check {
        self.check
    }

    fn handle_time(&mut self, now: Instant, recording: &Recording) {
        let [sealed, opened] = [Action::VentSealed, Action::VentOpened];
        self.sealed = recording.last_action(sealed) > recording.last_action(opened);
        if self.looked.is_none_or(|at| now.seconds_since(at) >= LOOK) {
            self.look(now, recording);
        }
        // Several stages may be over at once, such as an engine that already runs.
        for _ in 0..8 {
            let Some(stage) = self.stage() else {
                self.place = Place::Done;
                return;
            };
            if !self.is_over(stage, now, recording) {
                return;
            }
            let ends_cycle =
                matches!(self.place, Place::Cycle(index) if index + 1 == self.script.cycle.len());
            if ends_cycle && self.looked_closely != Some(now) {
                self.look_closely(now, recording);
            }
            self.advance(now);
            if !self.outbox.is_empty() {
                // What was noticed must stand in the recording before the next step looks at it.
                return;
            }
        }
    }

    fn poll_noticed(&mut self) -> Option<ActionAt> {
        self.outbox.pop_front()
    }

    fn progress(&self, now: Instant) -> Progress {
        let step = self.stage().map_or(Step::Done, |stage| stage.step);
        let elapsed = now.seconds_since(self.since);
        let total = match self.stage().map(|stage| stage.until) {
            Some(
                Until::Seconds(seconds)
                | Until::PurgeBegins(seconds)
                | Until::IdledOrFilled(seconds),
            ) => Some(seconds),
            Some(Until::Held(usual, longest) | Until::HeldStanding(usual, longest)) => {
                Some(if self.moved { usual } else { longest })
            }
            Some(Until::Settled(least)) => {
                let tau = self.recovery.map_or(0.6, |tau| tau.value).clamp(0.1, 5.0);
                Some(least.max((6.0 * tau).min(25.0)))
            }
            _ => None,
        };
        let (least, most) = self.script.cycles;
        let done = u32::try_from(self.repetitions.len()).unwrap_or(most);
        let stages = self.script.before.len().max(1) as f64;
        let through = match self.place {
            Place::Before(index) => index as f64 / stages,
            _ => 1.0,
        };
        let by_number = self.result.as_ref().and_then(certainty::certainty);
        Progress {
            check: self.check,
            step,
            since: self.since,
            remaining: total
                .map(|total| Duration::from_secs_f64((total - elapsed).clamp(0.0, 3_600.0))),
            noticed: self.noticed,
            cautions: step.cautions(self.sealed),
            certainty: by_number.unwrap_or(if most == 0 { 0.9 * through } else { 0.0 }),
            repetitions: self.repetitions.clone(),
            repetitions_left: if most == 0 || self.place == Place::Done {
                0
            } else {
                certainty::expected_left(self.result.as_ref(), done, least, most)
            },
            rails: self.rails.clone(),
            outcome_so_far: self.result.as_ref().map_or(Outcome::Inconclusive, |r| r.outcome),
        }
    }

    fn is_done(&self) -> bool {
        self.place == Place::Done
    }
}
