//! Invented visits: no number here was measured on a car.

use chrono::{DateTime, FixedOffset};
use stilltank::checks::{Rails, fit_curves};
use stilltank::diagnosis::{
    Hypothesis, NextCheck, Source, Verdict, VerdictOutcome, Weight, WhyNext,
};
use stilltank::evidence::{
    Check, CheckResult, Measure, MeasureName, Observation, Outcome, Reason, Warning,
};
use stilltank::recording::{Action, Recording};
use stilltank::report::{
    CheckRecord, CodeRecord, CostLine, GuessPartRecord, GuessRecord, NotMade, Paper, PriceAsked,
    RepairRecord, ToolRecord, Vehicle, Visit, WhyNotMade,
};
use stilltank::units::{Estimate, Instant};
use stilltank::vehicle::{Fault, Part, Signal};
use stilltank::wording::Style;

#[path = "proof.rs"]
mod proof;

/// Repeatable noise between −1 and 1.
pub(super) struct Noise(pub(super) u64);

impl Noise {
    pub(super) fn next(&mut self) -> f64 {
        self.0 =
            self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

pub(crate) fn at(text: &str) -> DateTime<FixedOffset> {
    DateTime::parse_from_rfc3339(text).unwrap()
}

pub(super) fn estimate(value: f64, half: f64) -> Estimate {
    Estimate { value, low: value - half, high: value + half }
}

pub(super) fn measure(name: MeasureName, value: f64, half: f64) -> Measure {
    Measure { name, estimate: estimate(value, half) }
}

/// Rest 0–20 s, idle and purge 20–70 s with three unplugs, throttle openings 70–100 s. `leak` is
/// the pull of the shut valve in Pa.
fn recording(leak: f64) -> Recording {
    let mut recording = Recording::default();
    let mut noise = Noise(7);
    let openings = [74.0, 81.3, 88.9, 96.2];
    let unplugs = [30.0, 45.0, 58.0];
    for tick in 0..1010u32 {
        let t = f64::from(tick) / 10.0;
        let time = Instant::from_seconds(t);
        let is_open = openings.iter().any(|start| (*start..start + 1.6).contains(&t));
        let is_unplugged =
            t > 70.0 || unplugs.iter().any(|start| (*start..start + 8.0).contains(&t));
        let runs = t > 20.0;
        let purge = if runs && !is_unplugged && t < 70.0 { 38.0 } else { 0.0 };
        let share = if is_open { 0.35 } else { 1.0 };
        let pull = if runs { leak * share } else { 0.0 };
        let since =
            unplugs.iter().filter(|start| t >= **start).fold(99.0f64, |best, s| best.min(t - s));
        let decay = if is_unplugged && t < 70.0 { (-since / 0.45).exp() } else { 0.0 };
        let purged = if purge > 0.0 { -420.0 } else { -420.0 * decay };
        let step = 4.0;
        let pressure = ((pull + purged - 3.0 + 9.0 * noise.next()) / step).round() * step;
        recording.push(Signal::TankPressure, time, pressure);
        recording.push(Signal::Throttle, time, if is_open { 82.0 } else { 4.0 });
        recording.push(Signal::PurgeCommand, time, purge);
        let speed = if runs { 780.0 + 12.0 * noise.next() } else { 0.0 };
        recording.push(Signal::EngineSpeed, time, speed);
    }
    let mut act = |t: f64, action| recording.push_action(Instant::from_seconds(t), action);
    act(0.5, Action::KeyOn);
    act(20.0, Action::EngineStarted);
    for start in unplugs {
        act(start, Action::PurgeUnplugged);
        act(start + 8.0, Action::PurgePlugged);
    }
    act(70.0, Action::PurgeUnplugged);
    for start in openings {
        act(start, Action::ThrottleOpened);
        act(start + 1.6, Action::ThrottleReleased);
    }
    recording
}

fn check(
    check: Check,
    outcome: Outcome,
    reason: Reason,
    (from, to): (f64, f64),
    measures: Vec<Measure>,
    band: Option<(f64, f64, f64)>,
) -> CheckRecord {
    let window = (Instant::from_seconds(from), Instant::from_seconds(to));
    let rails = band.map(|(since, low, high)| Rails {
        from: Instant::from_seconds(since),
        until: None,
        low,
        high,
    });
    CheckRecord {
        result: CheckResult { check, outcome, reason, measures, window },
        rails: rails.into_iter().collect(),
        fits: Vec::new(),
    }
}

/// The checks with what the program fits to the recording.
fn fitted(checks: Vec<CheckRecord>, recording: &Recording) -> Vec<CheckRecord> {
    let mut curves = fit_curves(recording);
    checks
        .into_iter()
        .map(|it| CheckRecord { fits: curves.remove(&it.result.check).unwrap_or_default(), ..it })
        .collect()
}

fn checks(leak: f64) -> Vec<CheckRecord> {
    use MeasureName as M;
    let leaks = leak < -50.0;
    let follow = if leaks {
        (Outcome::Fail, Reason::FollowsThrottle)
    } else {
        (Outcome::Pass, Reason::DoesNotFollow)
    };
    vec![
        check(
            Check::RestZero,
            Outcome::Pass,
            Reason::ReadsAtmospheric,
            (0.5, 19.5),
            vec![
                measure(M::RestPressure, -3.0, 1.4),
                measure(M::Noise, 5.2, 0.4),
                measure(M::Step, 4.0, 0.0),
            ],
            Some((0.5, -25.0, 19.0)),
        ),
        check(
            Check::UnplugRecovery,
            Outcome::Pass,
            Reason::ReturnsAtOnce,
            (24.0, 68.0),
            vec![
                measure(M::RecoveryTime, 0.44, 0.04),
                measure(M::RecoveryT90, 1.01, 0.09),
                Measure {
                    name: M::RecoveryDelay,
                    estimate: Estimate { value: 0.1, low: f64::NEG_INFINITY, high: 0.3 },
                },
            ],
            None,
        ),
        check(
            Check::ThrottleFollow,
            follow.0,
            follow.1,
            (71.0, 100.0),
            vec![
                measure(M::VacuumWithPurgeShut, leak, 7.0),
                measure(M::ShareOfPurge, -leak / 10.0, 0.8),
                measure(M::DetectionLimit, 12.0, 0.0),
            ],
            Some((71.0, leak - 23.0, leak + 17.0)),
        ),
    ]
}

fn shares(leading: Hypothesis, probability: f64, second: Hypothesis) -> Vec<(Hypothesis, f64)> {
    let rest = 1.0 - probability;
    Hypothesis::all()
        .map(|hypothesis| {
            let share = if hypothesis == leading {
                probability
            } else if hypothesis == second {
                rest * 0.7
            } else {
                rest * 0.05
            };
            (hypothesis, share)
        })
        .collect()
}

fn weights() -> Vec<Weight> {
    let weight = |source, factor, estimate| Weight { source, factor, estimate };
    vec![
        weight(Source::Prior, 2.1, None),
        weight(Source::Code("P0496".to_owned()), 6.3, None),
        weight(
            Source::Measure(Check::RestZero, MeasureName::RestPressure),
            1.1,
            Some(estimate(-3.0, 1.4)),
        ),
        weight(
            Source::Measure(Check::UnplugRecovery, MeasureName::RecoveryTime),
            30.0,
            Some(estimate(0.44, 0.04)),
        ),
        weight(
            Source::Measure(Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut),
            118.0,
            Some(estimate(-209.0, 7.0)),
        ),
        weight(Source::Observation(Observation::VentFilterDirty), 0.48, None),
    ]
}

fn code(code: &str, meaning: &str, stored: bool, permanent: bool) -> CodeRecord {
    CodeRecord {
        code: code.to_owned(),
        meaning: meaning.to_owned(),
        stored,
        pending: !stored,
        permanent,
    }
}

/// A sound car: nothing found.
pub(crate) fn sound(style: Style) -> Visit {
    Visit {
        style,
        paper: Paper::A4,
        private: false,
        vehicle: Vehicle {
            name: "Grey hatchback".to_owned(),
            vin: Some("9ZZAB12C0R1000001".to_owned()),
            is_virtual: false,
            odometer_km: Some(87_412),
            customer: Some("A. Example".to_owned()),
        },
        number: 2,
        started: at("2026-03-14T09:41:00+01:00"),
        written: at("2026-03-14T11:32:00+01:00"),
        complaint: vec!["Before an inspection".to_owned()],
        connected_to: Some("network adapter, 9.6 readings a second".to_owned()),
        codes_before: Some(Vec::new()),
        codes_after: None,
        cleared: None,
        readiness: vec![("Evaporative system".to_owned(), true), ("Catalyst".to_owned(), true)],
        recording: recording(-2.0),
        checks: fitted(checks(-2.0), &recording(-2.0)),
        not_made: vec![
            NotMade { check: Check::CapOffZero, why: WhyNotMade::NotNeeded },
            NotMade { check: Check::SealedHold, why: WhyNotMade::NotOffered },
            NotMade { check: Check::AfterFillUp, why: WhyNotMade::Skipped },
        ],
        given_up: vec![(Check::UnplugRecovery, "no time left".to_owned())],
        observations: vec![Observation::CapSealGood],
        warnings: vec![Warning::CoarseStep],
        verdict: Some(Verdict {
            outcome: VerdictOutcome::NoFaultFound,
            fault: None,
            also: None,
            probability: 0.973,
            probabilities: shares(Hypothesis::None, 0.973, Hypothesis::Fault(Fault::VaporLeak)),
            weights: Vec::new(),
            next_check: None,
            smallest_leak_percent: Some(1.2),
            smallest_leak_pa: Some(12.0),
        }),
        repair: None,
        proof: None,
        comparison: None,
        tool: None,
        follow_up: None,
    }
}

/// A leaking purge valve, found, replaced and proven.
pub(crate) fn repaired(style: Style) -> Visit {
    let leaking = Hypothesis::Fault(Fault::PurgeValveLeaking);
    let mut visit = sound(style);
    visit.complaint =
        vec!["Rough after a fill-up".to_owned(), "Starts badly at the pump".to_owned()];
    visit.codes_before = Some(vec![
        code("P0496", "Flow while the purge should be off", true, true),
        code("P0172", "Mixture too rich, bank 1", false, false),
    ]);
    visit.codes_after =
        Some(vec![code("P0496", "Flow while the purge should be off", false, true)]);
    visit.cleared = Some(at("2026-03-14T11:28:00+01:00"));
    visit.readiness = vec![("Evaporative system".to_owned(), false)];
    visit.recording = recording(-209.0);
    visit.checks = fitted(checks(-209.0), &recording(-209.0));
    visit.observations = vec![Observation::VentFilterDirty];
    visit.verdict = Some(Verdict {
        outcome: VerdictOutcome::FaultFound,
        fault: Some(Fault::PurgeValveLeaking),
        also: None,
        probability: 0.984,
        probabilities: shares(leaking, 0.984, Hypothesis::Fault(Fault::VentPathRestricted)),
        weights: weights(),
        next_check: Some(NextCheck {
            check: Check::RepairProof,
            why: WhyNext::ProvesRepair,
            expected_bits: 0.8,
            minutes: 4.0,
        }),
        smallest_leak_percent: Some(1.2),
        smallest_leak_pa: Some(12.0),
    });
    visit.repair = Some(RepairRecord {
        part: "Purge valve replaced".to_owned(),
        fault: Some(Fault::PurgeValveLeaking),
        prices: vec![
            price("Corner parts shop", "in stock", "53.40", true),
            price("Main dealer", "two days", "118.00", false),
        ],
        currency: "USD".to_owned(),
        lines: vec![
            cost("Purge valve", "53.40"),
            cost("Two O-rings, grease", "4.10"),
            cost("Labour, 40 minutes", "46.00"),
        ],
        total: "103.50".to_owned(),
        shop_diagnosis: Some("140.00".to_owned()),
        saved: Some("140.00".to_owned()),
        guess: Some(GuessRecord {
            parts: vec![
                guessed(Part::PurgeValve, 984, "53.40"),
                guessed(Part::FuelCap, 12, "18.90"),
                guessed(Part::TankSensor, 4, "71.10"),
            ],
            average: Some("53.99".to_owned()),
            saved: Some("0.59".to_owned()),
        }),
        notes: "The old valve let air through at once.".to_owned(),
    });
    let [cost, saved, currency] = ["49.90", "140.00", "USD"].map(str::to_owned);
    visit.tool = Some(ToolRecord { cost, saved, currency, left: None });
    visit.proof = Some(proof::proof());
    visit.follow_up = Some(at("2026-03-28T09:00:00+01:00"));
    visit
}

fn guessed(part: Part, per_mille: u32, price: &str) -> GuessPartRecord {
    GuessPartRecord { part, per_mille, price: Some(price.to_owned()) }
}

fn cost(text: &str, amount: &str) -> CostLine {
    CostLine { text: text.to_owned(), amount: amount.to_owned() }
}

fn price(seller: &str, note: &str, amount: &str, chosen: bool) -> PriceAsked {
    let [seller, note, amount] = [seller, note, amount].map(str::to_owned);
    PriceAsked { seller, note, amount, chosen }
}

/// A virtual car where two faults are still open.
pub(crate) fn open(style: Style) -> Visit {
    let restricted = Hypothesis::Fault(Fault::VentPathRestricted);
    let mut visit = sound(style);
    (visit.vehicle.is_virtual, visit.vehicle.customer) = (true, None);
    visit.vehicle.vin = Some("9ZZEVAP12R1000002".to_owned());
    visit.codes_before = Some(vec![code("P0441", "Purge flow not as commanded", true, false)]);
    if let Some(recovery) = visit.checks.get_mut(1) {
        recovery.result.outcome = Outcome::Inconclusive;
        recovery.result.reason = Reason::PollingTooSlow;
        recovery.result.measures = vec![Measure {
            name: MeasureName::RecoveryTime,
            estimate: Estimate { value: 1.2, low: f64::NEG_INFINITY, high: 2.4 },
        }];
    }
    visit.verdict = Some(Verdict {
        outcome: VerdictOutcome::Inconclusive,
        fault: None,
        also: None,
        probability: 0.62,
        probabilities: shares(restricted, 0.62, Hypothesis::Fault(Fault::TankSensorSlow)),
        weights: weights().into_iter().take(4).collect(),
        next_check: Some(NextCheck {
            check: Check::CapOffZero,
            why: WhyNext::TellsApart(restricted, Hypothesis::Fault(Fault::TankSensorSlow)),
            expected_bits: 0.7,
            minutes: 3.0,
        }),
        smallest_leak_percent: None,
        smallest_leak_pa: Some(31.0),
    });
    visit
}
