use super::{VerdictOutcome, weigh};
use crate::evidence::{
    Check, CheckResult, Findings, Measure, MeasureName, Observation, Outcome, Reason,
};
use crate::units::{Estimate, Instant};
use crate::vehicle::Fault;

type Numbers = &'static [(MeasureName, f64, f64)];

/// Findings with these numbers and standard errors. How a check ended is not weighed, its numbers are.
fn findings(checks: &[(Check, Numbers)]) -> Findings {
    let result = |(check, numbers): &(Check, Numbers)| CheckResult {
        check: *check,
        outcome: Outcome::Pass,
        reason: Reason::ReadsAtmospheric,
        measures: numbers
            .iter()
            .map(|(name, value, error)| Measure {
                name: *name,
                estimate: Estimate::from_standard_error(*value, *error),
            })
            .collect(),
        window: (Instant::from_seconds(0.0), Instant::from_seconds(60.0)),
    };
    Findings { checks: checks.iter().map(result).collect(), ..Findings::default() }
}

const SOUND_PURGE: (Check, Numbers) =
    (Check::PurgeResponse, &[(MeasureName::PurgeVacuum, -500.0, 30.0)]);
const QUICK_RETURN: (Check, Numbers) =
    (Check::UnplugRecovery, &[(MeasureName::RecoveryTime, 0.4, 0.05)]);
const REST: (Check, Numbers) = (
    Check::RestZero,
    &[
        (MeasureName::RestPressure, 12.0, 3.0),
        (MeasureName::Step, 5.0, 0.0),
        (MeasureName::Movement, 480.0, 0.0),
    ],
);
const REST_OFF_ZERO: (Check, Numbers) = (
    Check::RestZero,
    &[
        (MeasureName::RestPressure, 900.0, 3.0),
        (MeasureName::Step, 5.0, 0.0),
        (MeasureName::Movement, 480.0, 0.0),
    ],
);
const STILL: (Check, Numbers) =
    (Check::ThrottleFollow, &[(MeasureName::VacuumWithPurgeShut, -0.5, 1.5)]);
const FOLLOWS: (Check, Numbers) =
    (Check::ThrottleFollow, &[(MeasureName::VacuumWithPurgeShut, -60.0, 3.0)]);

#[test]
fn a_leak_alone_is_named_alone() {
    let verdict = weigh(&findings(&[REST, SOUND_PURGE, QUICK_RETURN, FOLLOWS]));
    assert_eq!(verdict.fault, Some(Fault::PurgeValveLeaking));
    assert_eq!(verdict.also, None);
}

/// A part is not replaced on a code: with a number that rounding may have made, the code leaves the verdict
/// open; with one that stands above it, the part is named.
#[test]
fn a_code_and_a_faint_number_name_no_part() {
    const FAINT: (Check, Numbers) = (Check::IdleZero, &[(MeasureName::IdleChange, -29.0, 10.7)]);
    const CLEAR: (Check, Numbers) = (Check::IdleZero, &[(MeasureName::IdleChange, -60.0, 5.0)]);
    let coded = |check| {
        let mut found = findings(&[check]);
        found.codes.push(String::from("P0496"));
        weigh(&found)
    };
    let faint = coded(FAINT);
    assert_eq!((faint.outcome, faint.fault), (VerdictOutcome::Inconclusive, None));
    assert!(faint.probability > 0.8 && faint.next_check.is_some(), "{faint:?}");
    assert_eq!(coded(CLEAR).fault, Some(Fault::PurgeValveLeaking));
}

/// Where nothing pulled on the tank, a time in which the reading came back with the cap off is chance: it
/// tells a stuck sensor that wanders from purge that does not flow no better than before.
#[test]
fn a_time_that_nothing_made_tells_nothing() {
    const NO_ANSWER: (Check, Numbers) =
        (Check::PurgeResponse, &[(MeasureName::PurgeVacuum, -1.0, 1.9)]);
    const WANDERS: (Check, Numbers) = (
        Check::RestZero,
        &[
            (MeasureName::RestPressure, -12.0, 1.3),
            (MeasureName::Step, 1.0, 0.0),
            (MeasureName::Movement, 22.0, 0.0),
        ],
    );
    const CAP_OFF: (Check, Numbers) = (Check::CapOffZero, &[(MeasureName::CapOffTime, 2.2, 0.9)]);
    let odds = |checks: &[(Check, Numbers)]| {
        let verdict = weigh(&findings(checks));
        let of = |fault| {
            let hypothesis = super::Hypothesis::Fault(fault);
            verdict.probabilities.iter().find(|it| it.0 == hypothesis).unwrap().1
        };
        of(Fault::NoPurgeFlow) / of(Fault::TankSensorStuck)
    };
    let ratio = odds(&[WANDERS, NO_ANSWER, CAP_OFF]) / odds(&[WANDERS, NO_ANSWER]);
    assert!((0.6..1.6).contains(&ratio), "{ratio}");
}

#[test]
fn a_sensor_off_zero_alone_is_named_alone() {
    let verdict = weigh(&findings(&[REST_OFF_ZERO, SOUND_PURGE, QUICK_RETURN, STILL]));
    assert_eq!(verdict.fault, Some(Fault::TankSensorOffset));
    assert_eq!(verdict.also, None);
}

/// Neither fault alone explains both numbers; both together do, and either may be named first.
#[test]
fn two_faults_at_once_are_both_named() {
    let verdict = weigh(&findings(&[REST_OFF_ZERO, SOUND_PURGE, QUICK_RETURN, FOLLOWS]));
    assert_eq!(verdict.outcome, VerdictOutcome::FaultFound);
    let mut named = [verdict.fault.unwrap(), verdict.also.unwrap().0];
    named.sort();
    assert_eq!(named, [Fault::PurgeValveLeaking, Fault::TankSensorOffset]);
}

#[test]
fn factors_multiply_to_the_odds_of_the_verdict_with_two_faults_too() {
    let mut found = findings(&[REST_OFF_ZERO, SOUND_PURGE, QUICK_RETURN, FOLLOWS]);
    found.codes.push(String::from("P0496"));
    found.observations.push(Observation::PurgeValvePassesAir);
    let verdict = weigh(&found);
    let product: f64 = verdict.weights.iter().map(|weight| weight.factor).product();
    let others: f64 =
        verdict.probabilities.iter().map(|(_, share)| share).sum::<f64>() - verdict.probability;
    let odds = verdict.probability / others.max(1e-15);
    assert!((product / odds).ln().abs() < 1e-6, "{product} against {odds}");
    let whole: f64 = verdict.probabilities.iter().map(|(_, share)| share).sum();
    assert!((whole - 1.0).abs() < 1e-9);
}
