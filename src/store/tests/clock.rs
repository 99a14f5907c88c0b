use super::super::HappeningKind;
use super::{Bench, batch, minute, purge_valve_verdict, seconds, throttle_follow};
use crate::checks::Rails;
use crate::evidence::{Check, MeasureName};

/// The wall clock is set back by two hours in the middle of a visit, as by a tablet that finds the
/// network's time: what was done later still counts as later.
#[test]
fn a_clock_set_back_in_the_middle_of_a_visit_turns_nothing_round() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let store = &mut bench.store;
    let vehicle = store.load_visit(visit).unwrap().vehicle.id;
    let rails = |low| vec![Rails { from: seconds(1.0), until: None, low, high: 20.0 }];
    let (before, after) = (minute(180), minute(60));
    for (now, vacuum, sure, number) in [(before, -212.0, 0.97, 0), (after, -9.0, 0.99, 1)] {
        let samples: Vec<_> = (number * 300..(number + 1) * 300).flat_map(batch).collect();
        store.append_samples(visit, &samples).unwrap();
        store.save_check(visit, &throttle_follow(vacuum), now).unwrap();
        store.save_rails(visit, Check::ThrottleFollow, &rails(vacuum), now).unwrap();
        store.save_verdict(visit, &purge_valve_verdict(sure), now).unwrap();
        store.save_car_report(visit, &serde_json::json!({ "number": number }), now).unwrap();
        store.set_complaint(visit, &[], &format!("words {number}"), now).unwrap();
    }
    let store = bench.reopen().store;
    let record = store.load_visit(visit).unwrap();
    assert_eq!(record.verdict().unwrap().verdict.probability, 0.99, "the later one counts");
    assert_eq!(record.verdicts.len(), 2, "both are kept");
    assert_eq!(record.results(), [&throttle_follow(-9.0)]);
    assert_eq!(record.rails[&Check::ThrottleFollow], rails(-9.0));
    assert_eq!(record.car_report.unwrap()["number"], 1);
    assert_eq!(record.complaint_words, "words 1");
    // The recording has a clock of its own.
    let series: usize = record.recording.signals().map(|(_, series)| series.len()).sum();
    assert_eq!(series, 1200);
    let row = store.vehicle(vehicle).unwrap();
    assert_eq!(row.last_verdict.unwrap().probability, 0.99);
    assert_eq!(row.last_shut_vacuum.unwrap().value, -9.0);
    let measure = MeasureName::VacuumWithPurgeShut;
    let trend = store.trend(vehicle, Check::ThrottleFollow, measure).unwrap();
    assert_eq!(trend.iter().map(|it| it.estimate.value).collect::<Vec<_>>(), [-9.0]);
    let told = store.timeline(vehicle).unwrap().into_iter().find_map(|it| match it.what {
        HappeningKind::Verdict(verdict) => Some(verdict.probability),
        _ => None,
    });
    assert_eq!(told, Some(0.99));
}
