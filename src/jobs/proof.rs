use super::ProofReport;
use super::visit::Visit;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome};
use crate::recording::{Action, Recording};
use crate::units::Instant;
use crate::vehicle::Signal;
use crate::wording::{self, Style};

/// Seconds shown before the deed.
const LEAD: f64 = 3.0;

/// Seconds shown after the deed.
const TAIL: f64 = 15.0;

/// What moves the manifold while the purge valve is shut, the better view first. A verdict can
/// stand before the throttle was ever opened; then the engine's start shows the leak as well.
const DEEDS: [Action; 2] = [Action::ThrottleOpened, Action::EngineStarted];

/// Tank pressure around a throttle opening or an engine start with the purge valve shut, before and
/// after the repair: seconds after it, and pressure against its mean before, Pa.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Traces {
    /// The last one before the part was replaced.
    pub(super) before: Vec<(f64, f64)>,
    /// The first one after.
    pub(super) after: Vec<(f64, f64)>,
}

/// The proof as the card shows it, once the check was made.
pub(super) fn report(visit: &Visit, style: &Style) -> Option<ProofReport> {
    let result = visit.result(Check::RepairProof)?.clone();
    let Traces { before, after } = traces(&visit.recording)?;
    let fault = visit.judgement.verdict.fault;
    let sentence = wording::proof_sentence(&result, fault, style);
    Some(ProofReport { limit_pa: limit_pa(&result), sentence, result, before, after })
}

/// Checks that the proof does not make by itself.
const NOT_IN_THE_PROOF: [(Check, Action); 2] =
    [(Check::CapOffZero, Action::CapOpened), (Check::SealedHold, Action::VentSealed)];

/// What failed before the repair, is not part of the proof, and was not made again since: the proof
/// needs it.
pub(super) fn again(visit: &Visit) -> Vec<Check> {
    let actions = visit.recording.actions();
    let Some(replaced) = actions.iter().rfind(|it| it.action == Action::PartReplaced) else {
        return Vec::new();
    };
    let failed = |check: Check| visit.result(check).is_some_and(|it| it.outcome == Outcome::Fail);
    let made = |deed: Action| actions.iter().any(|it| it.action == deed && it.at > replaced.at);
    let open = |(check, deed): &(Check, Action)| failed(*check) && !made(*deed);
    NOT_IN_THE_PROOF.iter().filter(|it| open(it)).map(|it| it.0).collect()
}

/// The limit within which the tank counts as still: what the proof could have seen.
pub(super) fn limit_pa(result: &CheckResult) -> f64 {
    let limit = result.measure(MeasureName::DetectionLimit);
    let change = || result.measure(MeasureName::ChangeAfterRepair).map(|it| it.half_width());
    limit.map(|it| it.value.abs()).or_else(change).unwrap_or(f64::NAN)
}

/// Both traces; `None` if no part was replaced in this recording.
pub(super) fn traces(recording: &Recording) -> Option<Traces> {
    let actions = recording.actions();
    let replaced = actions.iter().rfind(|it| it.action == Action::PartReplaced)?.at;
    let around = |deed: Action| {
        let done = || actions.iter().filter(|it| it.action == deed).map(|it| it.at);
        let before = done().rfind(|at| *at < replaced)?;
        let after = done().find(|at| *at > replaced)?;
        Some(Traces { before: trace(recording, before), after: trace(recording, after) })
    };
    let pairs = DEEDS.into_iter().filter_map(around);
    let both = pairs.into_iter().find(|it| !it.before.is_empty() && !it.after.is_empty());
    Some(both.unwrap_or_default())
}

fn trace(recording: &Recording, opened: Instant) -> Vec<(f64, f64)> {
    let Some(series) = recording.series(Signal::TankPressure) else { return Vec::new() };
    let from = Instant::from_seconds(opened.seconds() - LEAD);
    let (_, resting) = series.between(from, opened);
    if resting.is_empty() {
        return Vec::new();
    }
    let mean = resting.iter().sum::<f64>() / resting.len() as f64;
    let (times, values) = series.between(from, Instant::from_seconds(opened.seconds() + TAIL));
    times.iter().zip(values).map(|(at, value)| (at.seconds_since(opened), value - mean)).collect()
}

#[cfg(test)]
mod tests {
    use super::{Traces, traces};
    use crate::recording::{Action, Recording};
    use crate::units::Instant;
    use crate::vehicle::Signal;

    fn recording(replaced: bool) -> Recording {
        let at = Instant::from_seconds;
        let mut recording = Recording::default();
        for tenth in 0..1000 {
            let time = f64::from(tenth) / 10.0;
            // Before the repair the tank rises by 100 Pa while the throttle is open.
            let rises = (20.0..23.0).contains(&time);
            recording.push(Signal::TankPressure, at(time), if rises { -100.0 } else { -200.0 });
        }
        recording.push_action(at(20.0), Action::ThrottleOpened);
        recording.push_action(at(23.0), Action::ThrottleReleased);
        if replaced {
            recording.push_action(at(50.0), Action::PartReplaced);
        }
        recording.push_action(at(70.0), Action::ThrottleOpened);
        recording
    }

    #[test]
    fn the_traces_are_laid_over_each_other_at_the_opening() {
        let Some(Traces { before, after }) = traces(&recording(true)) else {
            panic!("a part was replaced");
        };
        let highest = |trace: &[(f64, f64)]| trace.iter().map(|it| it.1).fold(f64::MIN, f64::max);
        assert_eq!(highest(&before), 100.0);
        assert_eq!(highest(&after), 0.0);
        assert_eq!(before.first().map(|it| it.0), Some(-3.0));
    }

    #[test]
    fn where_the_throttle_was_opened_only_after_the_repair_engine_starts_are_compared() {
        let at = Instant::from_seconds;
        let mut recording = Recording::default();
        for tenth in 0..1000 {
            let time = f64::from(tenth) / 10.0;
            let pulls = (10.0..50.0).contains(&time);
            recording.push(Signal::TankPressure, at(time), if pulls { -180.0 } else { 0.0 });
        }
        recording.push_action(at(10.0), Action::EngineStarted);
        recording.push_action(at(50.0), Action::PartReplaced);
        recording.push_action(at(60.0), Action::EngineStarted);
        recording.push_action(at(80.0), Action::ThrottleOpened);
        let Some(Traces { before, after }) = traces(&recording) else {
            panic!("a part was replaced");
        };
        assert_eq!(before.last().map(|it| it.1), Some(-180.0));
        assert!(after.iter().all(|it| it.1 == 0.0));
    }

    #[test]
    fn without_a_repair_there_is_nothing_to_lay_over() {
        assert_eq!(traces(&recording(false)), None);
    }
}
