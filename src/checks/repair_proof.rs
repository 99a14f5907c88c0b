//! The same checks after the repair: does what failed before now pass, and does the tank stay
//! still within a stated limit on the same scale?

use super::examination::Examination;
use super::examine::checks_of;
use super::leak_measures::{SHARE_THAT_MATTERS, STILL};
use super::outcome::{exact, instants, measure};
use crate::analysis::equivalence::{self, Difference};
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use crate::recording::Recording;
use crate::units::Estimate;

/// Numbers of other checks that tell that a part is sound.
const TELLING: [MeasureName; 5] = [
    MeasureName::SealedHoleLimit,
    MeasureName::CapOffPressure,
    MeasureName::RestPressure,
    MeasureName::PurgeVacuum,
    MeasureName::RecoveryTime,
];

pub(super) fn compare(
    before: &Examination,
    after: &Examination,
    recording: &Recording,
) -> Option<CheckResult> {
    let scene = &after.scene;
    let window = instants(*scene.times.first()?, *scene.times.last()?);
    let results_before = checks_of(before, recording);
    let results_after = checks_of(after, recording);
    let failed: Vec<Check> = results_before
        .iter()
        .filter(|result| result.outcome == Outcome::Fail)
        .map(|result| result.check)
        .collect();
    let mut measures = Vec::new();
    let limit = still_limit(after);
    let mut still = None;
    if let Some(now) = after.shut_valve() {
        measures.push(measure(MeasureName::VacuumWithPurgeShut, now.effect));
        measures.push(measure(MeasureName::DetectionLimit, exact(limit)));
        if let Some(then) = before.shut_valve() {
            let change = now.effect.value - then.effect.value;
            let error = now.standard_error.hypot(then.standard_error);
            measures.push(measure(
                MeasureName::ChangeAfterRepair,
                Estimate::from_standard_error(change, error),
            ));
        }
        // Two one-sided tests at 5 % each (Schuirmann 1987). The error was widened for all that the
        // samples share, so that it counts as known.
        let difference = Difference {
            value: now.effect.value,
            standard_error: now.standard_error,
            degrees_of_freedom: f64::INFINITY,
        };
        still = Some(if equivalence::within(&difference, -limit, limit).probability() < 0.05 {
            Outcome::Pass
        } else if now.effect.high < -limit {
            Outcome::Fail
        } else {
            Outcome::Inconclusive
        });
    }
    if let Some(tau) = after.recovery {
        measures.push(measure(MeasureName::RecoveryTime, tau));
    }
    // The throttle check holds the change at idle within it: where it could tell, it speaks for both.
    let now = |check: Check| {
        let result = |check| results_after.iter().find(|result| result.check == check);
        let wider = result(Check::ThrottleFollow)
            .filter(|wider| check == Check::IdleZero && wider.outcome != Outcome::Inconclusive);
        wider.or_else(|| result(check))
    };
    let again_failing = failed
        .iter()
        .find_map(|check| now(*check).filter(|result| result.outcome == Outcome::Fail));
    // That the tank is still within the limit is the valve's own proof.
    let is_proven = |check: Check| {
        let of_the_valve = matches!(check, Check::IdleZero | Check::ThrottleFollow);
        (of_the_valve && still == Some(Outcome::Pass))
            || now(check).is_some_and(|result| result.outcome == Outcome::Pass)
    };
    let all_pass = failed.iter().all(|check| is_proven(*check));
    // What was looked at again says with its own numbers that it is sound now.
    for check in &failed {
        let passed = now(*check).filter(|result| result.outcome == Outcome::Pass);
        let numbers = passed.into_iter().flat_map(|result| &result.measures);
        for number in numbers.filter(|it| TELLING.contains(&it.name)) {
            if !measures.iter().any(|known| known.name == number.name) {
                measures.push(*number);
            }
        }
    }
    let (outcome, reason) = if still == Some(Outcome::Fail) {
        (Outcome::Fail, Reason::StillMoves)
    } else if let Some(failing) = again_failing {
        // Its own numbers say why.
        let new: Vec<_> = failing
            .measures
            .iter()
            .filter(|it| !measures.iter().any(|known| known.name == it.name))
            .cloned()
            .collect();
        measures.extend(new);
        (Outcome::Fail, failing.reason)
    } else if failed.is_empty() && still.is_none() {
        (Outcome::Inconclusive, Reason::NothingToCompare)
    } else if all_pass && still.is_none_or(|outcome| outcome == Outcome::Pass) {
        (Outcome::Pass, Reason::ProvenStill)
    } else if still.is_none() || failed.iter().any(|check| now(*check).is_none()) {
        // What failed before has not been looked at again.
        (Outcome::Inconclusive, Reason::NothingToCompare)
    } else {
        (Outcome::Inconclusive, Reason::LimitTooCoarse)
    };
    Some(CheckResult { check: Check::RepairProof, outcome, reason, measures, window })
}

/// Within this the tank counts as still, Pa: a leak that does not matter, on this car's own scale.
pub(super) fn still_limit(examination: &Examination) -> f64 {
    let share = examination.full_purge().map_or(0.0, |full| SHARE_THAT_MATTERS * full.abs());
    share.max(2.0 * STILL)
}
