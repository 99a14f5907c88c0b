use super::car::car;
use super::keeping::customers;
use super::money::{guess, photos, repair, tool};
use super::traces::openings;
use super::{Stage, at, date};
use crate::diagnosis::{Hypothesis, NextCheck, Source, Verdict, VerdictOutcome, Weight, WhyNext};
use crate::evidence::{Check, CheckResult, Measure, MeasureName, Observation, Outcome, Reason};
use crate::jobs::{
    CheckLine, CheckState, Complaint, FillUpRow, ProofReport, VehicleDetails, VehicleFacts,
    VehiclePage, VehicleRow, VisitCard, VisitRow,
};
use crate::units::Estimate;
use crate::vehicle::Fault;

pub(super) fn estimate(value: f64, half: f64) -> Estimate {
    Estimate { value, low: value - half, high: value + half }
}

/// Six invented vehicles, every kind of ending among them.
pub(in crate::ui) fn vehicles() -> Vec<VehicleRow> {
    let row = |id: i64, name: &str, verdict, vacuum: Option<Estimate>, month, day| VehicleRow {
        id,
        name: name.to_owned(),
        vin: Some("9ZZAB12C0R1000001".to_owned()),
        is_virtual: false,
        visits: 2,
        last_visit: Some(date(month, day, 9, 41)),
        last_verdict: verdict,
        last_shut_vacuum: vacuum,
        band: Some(24.0),
        follow_up: None,
    };
    let fault = Some((VerdictOutcome::FaultFound, Some(Fault::PurgeValveLeaking), 0.984));
    let none = Some((VerdictOutcome::NoFaultFound, None, 0.97));
    let open = Some((VerdictOutcome::Inconclusive, None, 0.6));
    vec![
        row(1, "Grey hatchback", fault, Some(estimate(-140.0, 6.0)), 3, 9),
        row(2, "Red pickup", none, Some(estimate(2.0, 24.0)), 3, 7),
        row(3, "Family van", open, Some(estimate(-34.0, 74.0)), 3, 2),
        row(4, "Blue estate", none, Some(estimate(-8.0, 6.0)), 2, 21),
        VehicleRow {
            visits: 0,
            last_visit: None,
            band: None,
            ..row(5, "White minibus", None, None, 2, 18)
        },
        VehicleRow { is_virtual: true, ..row(6, "Practice", none, Some(estimate(6.0, 5.0)), 2, 2) },
    ]
}

/// The vehicle of the invented visits, with its earlier ones.
pub(in crate::ui) fn vehicle_page() -> VehiclePage {
    let row = |id, number, (month, day), verdict, vacuum| VisitRow {
        id,
        number,
        started: date(month, day, 9, 41),
        complaint: "Rough after a fill-up".to_owned(),
        codes: vec!["P0496".to_owned()],
        verdict,
        repair: None,
        guess: None,
        shut_vacuum: vacuum,
        recovery_time: None,
        band: Some(24.0),
        trim: None,
    };
    let fill_up = |id, (month, day), litre: &str, cost: Option<&str>, note: &str, trim| FillUpRow {
        id,
        filled: date(month, day, 17, 20),
        litre: Some(litre.to_owned()),
        cost: cost.map(|cost: &str| (cost.to_owned(), "USD".to_owned())),
        odometer_km: None,
        note: note.to_owned(),
        trim: Some(estimate(trim, 1.5)),
    };
    let fault = Some((VerdictOutcome::FaultFound, Some(Fault::PurgeValveLeaking), 0.984));
    let repaired = VisitRow {
        repair: Some(repair()),
        ..row(12, 2, (3, 9), fault, Some(estimate(-209.0, 6.0)))
    };
    let clean = Some((VerdictOutcome::NoFaultFound, None, 0.97));
    let open = Some((VerdictOutcome::Inconclusive, None, 0.6));
    VehiclePage {
        vehicle: VehicleRow { follow_up: Some(date(3, 30, 9, 0)), ..vehicles().remove(0) },
        details: VehicleDetails {
            name: vehicles().remove(0).name,
            vin: "9ZZAB12C0R1000001".to_owned(),
            plate: "AB 123".to_owned(),
            make: "Invented Motors".to_owned(),
            fuel: "E10".to_owned(),
            tank_litre: "48.5".to_owned(),
            notes: "Tow bar, second owner".to_owned(),
        },
        customer: customers().into_iter().next(),
        odometer_km: Some(87_655),
        visits: vec![
            row(13, 3, (3, 22), clean, Some(estimate(-4.0, 6.0))),
            repaired,
            row(11, 1, (2, 9), open, Some(estimate(-170.0, 160.0))),
        ],
        fill_ups: vec![
            fill_up(3, (3, 15), "39.5", Some("43.06"), "", -3.0),
            fill_up(2, (3, 2), "41.0", Some("44.69"), "Rough for 2 min afterwards", -19.0),
            fill_up(1, (2, 3), "38.2", None, "Rough for 90 s afterwards", -17.0),
        ],
        trim_limit: crate::checks::USUAL_TRIM,
    }
}

/// The job card of the invented visit.
pub(in crate::ui) fn card(stage: Stage) -> VisitCard {
    let judged = stage >= Stage::Judged;
    VisitCard {
        id: 12,
        vehicle: vehicles().remove(0),
        facts: VehicleFacts {
            make: "Invented Motors".to_owned(),
            fuel: "E10".to_owned(),
            tank_litre: "48.5".to_owned(),
        },
        number: 2,
        started: date(3, 9, 9, 41),
        odometer_km: Some(87_412),
        complaints: vec![Complaint::LightOn, Complaint::RoughAfterFillUp],
        complaint_words: "stumbles for a minute, then clears".to_owned(),
        connected_to: Some("Garage stick, Bluetooth".to_owned()),
        car: Some(car()),
        checks: if judged { checks_done() } else { checks_open() },
        results: if judged { results() } else { results().into_iter().take(1).collect() },
        observations: vec![Observation::VentFilterDirty],
        verdict: Some(if judged { verdict() } else { open_verdict() }),
        verdict_sentence:
            "Not certain yet: purge valve leaks 71 %; make this check next: Unplug and watch."
                .to_owned(),
        repair: (stage >= Stage::Repaired).then(repair),
        photos: if stage >= Stage::Repaired { photos() } else { Vec::new() },
        guess: judged.then(guess),
        tool: Some(tool()),
        proof: (stage >= Stage::Proven).then(proof),
        vent_closed: None,
        cleared: None,
        follow_up: None,
    }
}

fn line(check: Check, state: CheckState, reason: &str, minutes: f64) -> CheckLine {
    CheckLine { check, state, reason: reason.to_owned(), minutes, given_up: None }
}

fn checks_open() -> Vec<CheckLine> {
    vec![
        line(
            Check::RestZero,
            CheckState::Done(Outcome::Pass),
            "Reads −3 Pa with the system open: the sensor is true.",
            1.0,
        ),
        line(
            Check::UnplugRecovery,
            CheckState::Next,
            "Next, because the code says it flows while shut, and this shows it directly.",
            3.0,
        ),
        line(
            Check::ThrottleFollow,
            CheckState::Later,
            "Then: tells a leaking valve from a blocked vent.",
            4.0,
        ),
        line(Check::CapOffZero, CheckState::Later, "Only if those two disagree.", 2.0),
    ]
}

fn checks_done() -> Vec<CheckLine> {
    vec![
        line(
            Check::RestZero,
            CheckState::Done(Outcome::Pass),
            "Reads −3 Pa with the system open: the sensor is true.",
            1.0,
        ),
        line(
            Check::UnplugRecovery,
            CheckState::Done(Outcome::Fail),
            "It came to rest at −209 Pa, three times of three.",
            3.0,
        ),
        line(
            Check::ThrottleFollow,
            CheckState::Done(Outcome::Fail),
            "The tank moved 115 Pa with the throttle.",
            4.0,
        ),
        line(Check::CapOffZero, CheckState::Skipped, "Not needed.", 2.0),
    ]
}

pub(super) fn result(
    check: Check,
    outcome: Outcome,
    reason: Reason,
    measures: &[(MeasureName, f64, f64)],
    window: (f64, f64),
) -> CheckResult {
    CheckResult {
        check,
        outcome,
        reason,
        measures: measures
            .iter()
            .map(|(name, value, half)| Measure { name: *name, estimate: estimate(*value, *half) })
            .collect(),
        window: (at(window.0), at(window.1)),
    }
}

fn results() -> Vec<CheckResult> {
    vec![
        result(
            Check::RestZero,
            Outcome::Pass,
            Reason::ReadsAtmospheric,
            &[(MeasureName::RestPressure, -3.0, 2.0)],
            (0.0, 11.0),
        ),
        result(
            Check::UnplugRecovery,
            Outcome::Fail,
            Reason::ReturnsPartly,
            &[(MeasureName::ResidualVacuum, -209.0, 7.0), (MeasureName::RecoveryTime, 0.44, 0.05)],
            (11.0, 39.0),
        ),
        result(
            Check::ThrottleFollow,
            Outcome::Fail,
            Reason::FollowsThrottle,
            &[
                (MeasureName::VacuumWithPurgeShut, -209.0, 7.0),
                (MeasureName::ShareOfPurge, 20.0, 2.0),
                (MeasureName::LeakFlow, 10.0, 1.0),
                (MeasureName::EquivalentHole, 1.2, 0.1),
            ],
            (20.0, 55.0),
        ),
    ]
}

fn probabilities(leading: f64) -> Vec<(Hypothesis, f64)> {
    let rest = [0.0, 0.05, 0.41, 0.24, 0.06, 0.02, 0.12, 0.10];
    let left = 1.0 - leading;
    Hypothesis::all()
        .zip(rest)
        .map(|(hypothesis, share)| match hypothesis {
            Hypothesis::Fault(Fault::PurgeValveLeaking) => (hypothesis, leading),
            _ => (hypothesis, share * left),
        })
        .collect()
}

fn open_verdict() -> Verdict {
    Verdict {
        outcome: VerdictOutcome::Inconclusive,
        fault: None,
        also: None,
        probability: 0.71,
        probabilities: probabilities(0.71),
        weights: Vec::new(),
        next_check: Some(NextCheck {
            check: Check::UnplugRecovery,
            why: WhyNext::NotYetMade,
            expected_bits: 0.7,
            minutes: 3.0,
        }),
        smallest_leak_percent: None,
        smallest_leak_pa: None,
    }
}

fn verdict() -> Verdict {
    let weight = |source, factor, estimate| Weight { source, factor, estimate };
    Verdict {
        outcome: VerdictOutcome::FaultFound,
        fault: Some(Fault::PurgeValveLeaking),
        also: None,
        probability: 0.984,
        probabilities: probabilities(0.984),
        weights: vec![
            weight(Source::Prior, 0.4, None),
            weight(Source::Code("P0496".to_owned()), 6.0, None),
            weight(
                Source::Measure(Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut),
                120.0,
                Some(estimate(-209.0, 7.0)),
            ),
            weight(
                Source::Measure(Check::UnplugRecovery, MeasureName::ResidualVacuum),
                14.0,
                Some(estimate(-209.0, 7.0)),
            ),
            weight(
                Source::Measure(Check::RestZero, MeasureName::RestPressure),
                20.0,
                Some(estimate(-3.0, 2.0)),
            ),
            weight(Source::Observation(Observation::VentFilterDirty), 0.4, None),
        ],
        next_check: None,
        smallest_leak_percent: Some(1.1),
        smallest_leak_pa: Some(24.0),
    }
}

fn proof() -> ProofReport {
    ProofReport {
        result: result(
            Check::RepairProof,
            Outcome::Pass,
            Reason::ProvenStill,
            &[
                (MeasureName::ChangeAfterRepair, 207.0, 9.0),
                (MeasureName::VacuumWithPurgeShut, -2.0, 6.0),
            ],
            (0.0, 26.0),
        ),
        deeds: (Check::ThrottleFollow, Check::ThrottleFollow),
        before: openings(115.0, -206.0),
        after: openings(1.0, -2.0),
        limit_pa: 20.0,
    }
}
