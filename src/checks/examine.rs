//! Every check that a recording allows, with what weakens the numbers.

use std::time::Duration;

use super::examination::Examination;
use super::scene::Scene;
use super::{
    after_fill_up, cap_off_zero, idle_zero, purge_response, repair_proof, rest_zero, sealed_hold,
    throttle_follow, unplug_recovery, vapour_space,
};
use crate::evidence::{Check, CheckResult, Findings, Warning};
use crate::recording::{Action, Recording};
use crate::units::Instant;

/// A part is in place a few seconds before the person says so: what is recorded meanwhile belongs
/// to neither side.
pub(super) const WORD: Duration = Duration::from_secs(5);

/// How long after it the tank may still be on its way back from whatever pulled before: what it shows
/// then is of the part that is gone.
pub(super) const FORGETS: Duration = Duration::from_secs(8);

/// Runs every check that the recording allows. A part replaced in the middle splits the visit: the
/// checks speak about the time before it, and `repair_proof` compares the time after it.
pub fn examine(recording: &Recording) -> Findings {
    let Some((first, last)) = recording.span() else { return Findings::default() };
    let last = Instant::from_micros(last.micros().saturating_add(1));
    let replaced = recording.last_action(Action::PartReplaced);
    let mut findings = match replaced {
        Some(at) => {
            let before = Scene::new(recording, first, at - WORD).map(Examination::new);
            let after = Scene::new(recording, at + FORGETS, last).map(Examination::new);
            let mut findings = before
                .as_ref()
                .or(after.as_ref())
                .map(|examination| findings_of(examination, recording))
                .unwrap_or_default();
            if let (Some(before), Some(after)) = (&before, &after) {
                findings.checks.extend(repair_proof::compare(before, after, recording));
            }
            findings
        }
        None => Scene::new(recording, first, last)
            .map(|scene| findings_of(&Examination::new(scene), recording))
            .unwrap_or_default(),
    };
    for known in recording.codes() {
        if !findings.codes.contains(&known.code) {
            findings.codes.push(known.code.clone());
        }
    }
    findings
}

/// Compares the checks of a visit after a repair with those of the visit before it.
pub fn prove_repair(before: &Recording, after: &Recording) -> Option<CheckResult> {
    let whole = |recording: &Recording| {
        let (first, last) = recording.span()?;
        let last = Instant::from_micros(last.micros().saturating_add(1));
        Scene::new(recording, first, last).map(Examination::new)
    };
    repair_proof::compare(&whole(before)?, &whole(after)?, after)
}

/// What a recording shows of one check; `None` where it holds nothing of it. A repair's proof needs two
/// examinations and is none of these.
pub(super) fn check_of(
    check: Check,
    examination: &Examination,
    recording: &Recording,
) -> Option<CheckResult> {
    match check {
        Check::RestZero => rest_zero::examine(examination),
        Check::IdleZero => idle_zero::examine(examination),
        Check::PurgeResponse => purge_response::examine(examination, recording),
        Check::UnplugRecovery => unplug_recovery::examine(examination),
        Check::ThrottleFollow => throttle_follow::examine(examination),
        Check::CapOffZero => cap_off_zero::examine(examination),
        Check::AfterFillUp => after_fill_up::examine(examination, recording),
        Check::SealedHold => sealed_hold::examine(examination, recording),
        Check::RepairProof => None,
    }
}

pub(super) fn checks_of(examination: &Examination, recording: &Recording) -> Vec<CheckResult> {
    Check::ALL.into_iter().filter_map(|check| check_of(check, examination, recording)).collect()
}

fn findings_of(examination: &Examination, recording: &Recording) -> Findings {
    let scene = &examination.scene;
    let mut warnings = scene.warnings.clone();
    let effect = examination.purge().map_or(400.0, |gain| gain.usual.value.abs());
    if scene.step > 20.0 || scene.step > 0.1 * effect.max(40.0) {
        warnings.push(Warning::CoarseStep);
    }
    if let Some(still) = examination.shut_valve()
        && (still.drift.low > 0.3 || still.drift.high < -0.3)
    {
        warnings.push(Warning::Drift);
    }
    let longest = scene.times.windows(2).map(|pair| pair[1] - pair[0]).fold(0.0, f64::max);
    if longest > 8.0 {
        warnings.push(Warning::Gap);
    }
    Findings {
        checks: checks_of(examination, recording),
        codes: Vec::new(),
        observations: Vec::new(),
        warnings,
        vapour_space: vapour_space::told(recording),
    }
}

/// The visit as it stands, or its part since a repair; with the part before that, where there is one.
pub(super) fn scene_until(
    now: Instant,
    recording: &Recording,
) -> Option<(Option<(Instant, Instant)>, Scene)> {
    let (first, _) = recording.span()?;
    let replaced = recording.last_action(Action::PartReplaced);
    let end = now + Duration::from_millis(1);
    let scene = Scene::new(recording, replaced.unwrap_or(first), end)?;
    Some((replaced.map(|at| (first, at - WORD)), scene))
}
