//! Two visits laid over each other as a report gets them, invented.

use stilltank::diagnosis::VerdictOutcome;
use stilltank::evidence::{
    Check, CheckResult, Comparison, ComparisonEnd, MeasureName, Outcome, Reason,
};
use stilltank::report::{
    ComparedNumber, ComparedTraces, ComparisonRecord, Visit, VisitBeside, compose, html, json, pdf,
    plain_text,
};
use stilltank::units::Instant;
use stilltank::vehicle::Fault;
use stilltank::wording::Style;

use super::visits::{self, Noise, at, estimate, measure};
use super::{ENGLISH, GERMAN, read_back};
use crate::json_schema;

/// A sound visit after an earlier one that found a leaking valve.
pub(super) fn compared(style: Style) -> Visit {
    Visit { comparison: Some(comparison()), ..visits::sound(style) }
}

fn comparison() -> ComparisonRecord {
    let trace = |leak: f64, seed| {
        let mut noise = Noise(seed);
        let point = move |tick: i32| {
            let t = f64::from(tick) / 10.0;
            (t, leak * f64::from((0.0..1.8).contains(&t)) + 4.0 * noise.next())
        };
        (-30..150).map(point).collect::<Vec<_>>()
    };
    let verdict = (VerdictOutcome::FaultFound, Some(Fault::PurgeValveLeaking), 0.98);
    ComparisonRecord {
        earlier: VisitBeside {
            id: 7,
            number: 1,
            started: at("2026-02-28T14:05:00+01:00"),
            verdict: Some(verdict),
            repaired: Some("Purge valve of A. Example replaced".to_owned()),
        },
        later: VisitBeside {
            id: 9,
            number: 2,
            started: at("2026-03-14T09:41:00+01:00"),
            verdict: Some((VerdictOutcome::NoFaultFound, None, 0.973)),
            repaired: None,
        },
        comparison: Comparison {
            end: ComparisonEnd::Proven,
            fault: Some(Fault::PurgeValveLeaking),
            proof: Some(CheckResult {
                check: Check::RepairProof,
                outcome: Outcome::Pass,
                reason: Reason::ProvenStill,
                measures: vec![
                    measure(MeasureName::VacuumWithPurgeShut, -2.0, 6.0),
                    measure(MeasureName::DetectionLimit, 20.0, 0.0),
                ],
                window: (Instant::ZERO, Instant::from_seconds(26.0)),
            }),
            newly_failing: Vec::new(),
            missing: Vec::new(),
        },
        numbers: vec![ComparedNumber {
            check: Check::ThrottleFollow,
            name: MeasureName::VacuumWithPurgeShut,
            earlier: estimate(-209.0, 7.0),
            later: estimate(-2.0, 6.0),
            outcome: Outcome::Pass,
        }],
        traces: vec![ComparedTraces {
            check: Check::ThrottleFollow,
            later_check: Check::ThrottleFollow,
            earlier: trace(120.0, 3),
            later: trace(0.0, 9),
            limit_pa: Some(20.0),
        }],
    }
}

#[test]
fn an_earlier_visit_is_laid_under_this_one_in_words_numbers_and_a_drawing() {
    let text = plain_text(&compose(&compared(ENGLISH)));
    for wanted in [
        "Compared with visit 1",
        "✓ Repair proven",
        "Visit 1, 28 February 2026",
        "Purge valve leaks",
        "Visit 2, 14 March 2026",
        "Tank pressure at visit 1 and at visit 2",
        "| Measured | Visit 1 | Visit 2 | Must be |",
        "−209\u{a0}Pa (−216 to −202) | −2\u{a0}Pa (−8 to 4) | ±20\u{a0}Pa |",
        "Still means within ±20\u{a0}Pa",
    ] {
        assert!(text.contains(wanted), "{wanted} in: {text}");
    }
    let without = plain_text(&compose(&visits::sound(ENGLISH)));
    assert!(!without.contains("Compared with"), "{without}");
    let german = plain_text(&compose(&compared(GERMAN)));
    for wanted in ["Verglichen mit Besuch 1", "Reparatur nachgewiesen", "| Gemessen | Besuch 1 |"] {
        assert!(german.contains(wanted), "{wanted} in: {german}");
    }
}

#[test]
fn both_traces_are_drawn_and_named() {
    let drawn = |visit: &Visit| String::from_utf8(html(&compose(visit))).unwrap();
    let (with, without) = (drawn(&compared(ENGLISH)), drawn(&visits::sound(ENGLISH)));
    let lines = |page: &str| page.matches("<polyline").count() + page.matches("<path").count();
    assert!(lines(&with) >= lines(&without) + 2);
    assert!(with.contains(">Visit 1<") && with.contains(">Visit 2<"));
    let Some(text) = read_back(&pdf(&compose(&compared(GERMAN))).unwrap()) else { return };
    let words: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Verglichen mit Besuch 1"), "{words}");
}

#[test]
fn nothing_is_drawn_where_the_visits_share_no_check() {
    let mut visit = compared(ENGLISH);
    if let Some(record) = &mut visit.comparison {
        record.comparison.end = ComparisonEnd::NotProven;
        record.comparison.missing = vec![Check::ThrottleFollow];
        record.traces.clear();
        record.numbers.clear();
    }
    let text = plain_text(&compose(&visit));
    let section = text.split("Compared with visit 1").nth(1).unwrap();
    let section = section.split("Not tested").next().unwrap();
    assert!(section.contains("Still to make for the proof: “Throttle follow”."), "{section}");
    assert!(!section.contains("(figure") && !section.contains('|'), "{section}");
}

#[test]
fn the_comparison_stands_in_json_and_keeps_secrets() {
    let mut visit = compared(ENGLISH);
    visit.private = true;
    let value: serde_json::Value = serde_json::from_slice(&json(&visit).unwrap()).unwrap();
    json_schema::check("report", &value);
    let compared = &value["comparison"];
    assert_eq!((&compared["end"], &compared["earlier"]["number"]), (&"proven".into(), &1.into()));
    assert_eq!(compared["earlier"]["verdict"]["fault"], "purge_valve_leaking");
    assert_eq!(compared["numbers"][0]["earlier"]["value"], -209.0);
    let trace = &compared["traces"][0]["earlier"];
    let length = |name: &str| trace[name].as_array().unwrap().len();
    assert_eq!((length("time_s"), length("tank_pressure_pa")), (180, 180));
    assert!(!value.to_string().contains("A. Example"), "{value}");
}
