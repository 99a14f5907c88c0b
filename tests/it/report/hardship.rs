//! Visits that nobody would enter and that must not stop a report.

use stilltank::checks::{FitCurve, Rails, fit_curves};
use stilltank::evidence::{Check, CheckResult, Measure, MeasureName, Outcome, Reason};
use stilltank::recording::{Action, Recording};
use stilltank::report::{CheckRecord, compose, csv, html, json, pdf};
use stilltank::units::{Estimate, Instant};
use stilltank::vehicle::Signal;
use stilltank::wording::Style;

use super::{LARGEST, visits};

fn result(check: Check, window: (f64, f64), estimate: Estimate) -> CheckResult {
    CheckResult {
        check,
        outcome: Outcome::Inconclusive,
        reason: Reason::BetweenLimits,
        measures: MeasureName::ALL.iter().map(|name| Measure { name: *name, estimate }).collect(),
        window: (Instant::from_seconds(window.0), Instant::from_seconds(window.1)),
    }
}

#[test]
fn numbers_beyond_reason_do_not_stop_a_report() {
    let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 0.0, 1e300, -1e-300];
    for (place, value) in odd.into_iter().enumerate() {
        for low in [odd[(place + 1) % odd.len()], odd[(place + 4) % odd.len()]] {
            let mut visit = visits::repaired(Style::default());
            let estimate = Estimate { value, low, high: value };
            visit.checks = vec![CheckRecord {
                result: result(Check::ThrottleFollow, (80.0, 60.0), estimate),
                rails: vec![Rails {
                    from: Instant::from_seconds(70.0),
                    until: Some(Instant::ZERO),
                    low,
                    high: value,
                }],
                fits: vec![FitCurve {
                    measure: MeasureName::RecoveryTime,
                    points: odd.map(|at| (Instant::from_seconds(at), estimate)).to_vec(),
                }],
            }];
            if let Some(proof) = &mut visit.proof {
                proof.limit_pa = value;
                proof.before.push((value, low));
                proof.after.push((low, value));
                proof.shut_vacuum = Some((estimate, estimate));
            }
            if let Some(verdict) = &mut visit.verdict {
                verdict.probability = value;
                verdict.smallest_leak_pa = Some(low);
            }
            let document = compose(&visit);
            assert!(!html(&document).is_empty());
            assert!(pdf(&document).is_ok());
            assert!(json(&visit).is_ok() && csv(&visit).is_ok());
        }
    }
}

#[test]
fn an_hour_of_every_check_stays_small() {
    let mut recording = Recording::default();
    for tick in 0..36_000u32 {
        let time = Instant::from_seconds(f64::from(tick) / 10.0);
        let wave = f64::from(tick % 97) * 4.0 - 190.0;
        recording.push(Signal::TankPressure, time, wave);
        recording.push(Signal::Throttle, time, f64::from(tick % 53));
        recording.push(Signal::PurgeCommand, time, f64::from(tick % 101));
        recording.push(Signal::EngineSpeed, time, 800.0);
        recording.push(Signal::ShortTrim1, time, f64::from(tick % 11) - 5.0);
        if tick % 50 == 0 {
            recording.push_action(time, Action::ThrottleOpened);
        }
    }
    let mut visit = visits::repaired(Style::default());
    visit.recording = recording;
    let estimate = Estimate { value: -20.0, low: -30.0, high: -10.0 };
    visit.checks = Check::ALL
        .into_iter()
        .map(|check| CheckRecord {
            result: result(check, (0.0, 3600.0), estimate),
            rails: vec![Rails { from: Instant::ZERO, until: None, low: -20.0, high: 20.0 }],
            fits: fit_curves(&visit.recording).into_values().flatten().collect(),
        })
        .collect();
    let document = compose(&visit);
    let (page, file) = (html(&document).len(), pdf(&document).unwrap().len());
    assert!(page <= LARGEST && file <= LARGEST, "HTML {page}, PDF {file}");
}
