use std::str::FromStr;

use rust_decimal::Decimal;

use super::super::{
    Customer, Definition, FillUp, HappeningKind, KnownAdapter, LastVerdict, NewVehicle, Quote,
    RepairEntry, StoreError,
};
use super::{Bench, batch, minute, purge_valve_verdict, seconds, throttle_follow};
use crate::diagnosis::VerdictOutcome;
use crate::evidence::{Check, CheckResult, MeasureName, Observation};
use crate::recording::{Action, ActionAt, Recording};
use crate::vehicle::{Fault, Part, Signal};

#[test]
fn a_recording_comes_back_as_it_was_appended() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let mut expected = Recording::default();
    // More than one chunk and a rest.
    for part in (0..20_000).collect::<Vec<usize>>().chunks(700) {
        let samples: Vec<_> = part.iter().copied().flat_map(batch).collect();
        for (signal, at, value) in &samples {
            assert!(expected.push(*signal, *at, *value));
        }
        assert_eq!(bench.store.append_samples(visit, &samples).unwrap(), samples.len());
    }
    let action = ActionAt { at: seconds(3.0), action: Action::PurgeUnplugged };
    expected.push_action(action.at, action.action);
    expected.push_code(seconds(0.5), "P0496");
    bench.store.append_actions(visit, &[action]).unwrap();
    bench.store.append_code(visit, seconds(0.5), "P0496").unwrap();
    assert_eq!(bench.store.load_recording(visit).unwrap(), expected);
    bench.store.close_visit(visit, minute(9)).unwrap();
    assert_eq!(bench.store.load_recording(visit).unwrap(), expected);
    let bench = bench.reopen();
    assert_eq!(bench.store.load_recording(visit).unwrap(), expected);
}

#[test]
fn a_visit_goes_on_after_it_was_cut_off() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    bench.store.append_samples(visit, &batch(0)).unwrap();
    let mut bench = bench.reopen();
    assert_eq!(bench.store.open_visits().unwrap(), vec![visit]);
    bench.store.append_samples(visit, &batch(1)).unwrap();
    let recording = bench.store.load_recording(visit).unwrap();
    assert_eq!(recording.series(Signal::TankPressure).unwrap().values(), [0.0, -6.25]);
}

#[test]
fn part_of_one_signal_is_read_alone() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let samples: Vec<_> = (0..20_000).flat_map(batch).collect();
    bench.store.append_samples(visit, &samples).unwrap();
    let whole = bench.store.load_recording(visit).unwrap();
    let (from, to) = (seconds(500.0), seconds(1500.0));
    let part = bench.store.load_series(visit, Signal::TankPressure, from, to).unwrap();
    let (times, values) = whole.series(Signal::TankPressure).unwrap().between(from, to);
    assert_eq!((part.times(), part.values()), (times, values));
    assert!(part.len() > 9_000);
}

#[test]
fn values_that_are_not_finite_are_left_out() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let samples = [
        (Signal::TankPressure, seconds(0.0), f64::NAN),
        (Signal::TankPressure, seconds(0.1), -0.0),
    ];
    assert_eq!(bench.store.append_samples(visit, &samples).unwrap(), 1);
}

#[test]
fn a_visit_comes_back_whole() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "9ZZAB12C0R1000001");
    let store = &mut bench.store;
    let owner = Customer { name: "A. Person".into(), ..Customer::default() };
    let customer = store.add_customer(&owner, minute(1)).unwrap();
    let vehicle = store.load_visit(visit).unwrap().vehicle.id;
    store.set_customer(vehicle, Some(customer), minute(1)).unwrap();
    store.set_complaint(visit, &["light_on", "inspection"], "smells of fuel", minute(2)).unwrap();
    store.set_odometer(visit, 123_456, minute(2)).unwrap();
    store.set_connected_to(visit, "virtual car", true, minute(2)).unwrap();
    store.set_skipped(visit, &[Check::SealedHold], minute(3)).unwrap();
    store.set_observation(visit, Observation::PurgeValveSilent, true, minute(3)).unwrap();
    store.set_observation(visit, Observation::PurgeValveClicks, true, minute(4)).unwrap();
    store.set_observation(visit, Observation::HoseCracked, true, minute(4)).unwrap();
    let said = serde_json::json!({"vin": "9ZZAB12C0R1000001", "rate": 11.3});
    store.save_car_report(visit, &said, minute(5)).unwrap();
    store.save_check(visit, &throttle_follow(-212.0), minute(6)).unwrap();
    store.save_check(visit, &throttle_follow(-3.0), minute(8)).unwrap();
    store.save_verdict(visit, &purge_valve_verdict(0.981), minute(7)).unwrap();
    store.add_clearing(visit, minute(9)).unwrap();
    store.plan_follow_up(visit, minute(9_000), "after the next fill-up", minute(9)).unwrap();
    store.plan_follow_up(visit, minute(10_000), "after the next fill-up", minute(9)).unwrap();

    let record = bench.reopen().store.load_visit(visit).unwrap();
    assert_eq!((record.number, record.is_virtual, record.is_closed), (1, true, false));
    assert_eq!(record.customer, Some(owner));
    assert_eq!(record.complaint_kinds, ["light_on", "inspection"]);
    assert_eq!(record.complaint_words, "smells of fuel");
    assert_eq!(record.odometer_km, Some(123_456));
    assert_eq!(record.connected_to.as_deref(), Some("virtual car"));
    assert_eq!(record.skipped, [Check::SealedHold]);
    assert_eq!(record.observations, [Observation::PurgeValveClicks, Observation::HoseCracked]);
    assert_eq!(record.car_report, Some(said));
    let results: Vec<&CheckResult> = record.checks.iter().map(|judged| &judged.result).collect();
    assert_eq!(results, [&throttle_follow(-212.0), &throttle_follow(-3.0)]);
    assert_eq!(record.results(), [&throttle_follow(-3.0)]);
    assert_eq!(record.verdict().unwrap().verdict, purge_valve_verdict(0.981));
    assert_eq!(record.clearings, [minute(9)]);
    assert_eq!(record.follow_up.unwrap().due, minute(10_000));
}

#[test]
fn judging_again_keeps_both_with_their_versions() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    bench.store.save_check_of(visit, &throttle_follow(-212.0), "0.0.9", minute(1)).unwrap();
    bench.store.save_check(visit, &throttle_follow(-209.0), minute(2)).unwrap();
    let versions: Vec<_> = bench
        .store
        .checks(visit)
        .unwrap()
        .into_iter()
        .map(|judged| (judged.program_version, judged.judged))
        .collect();
    let now = env!("CARGO_PKG_VERSION").to_owned();
    assert_eq!(versions, [("0.0.9".to_owned(), minute(1)), (now, minute(2))]);
}

#[test]
fn a_result_that_is_not_a_number_is_refused() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let refusal = bench.store.save_check(visit, &throttle_follow(f64::NAN), minute(1));
    assert!(matches!(refusal, Err(StoreError::NotStorable { what: "check result" })));
}

#[test]
fn money_is_exact() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let amount = |text| Decimal::from_str(text).unwrap();
    let quote = |seller: &str, price, chosen| Quote {
        seller: seller.into(),
        note: "in stock".into(),
        amount: amount(price),
        chosen,
    };
    let entry = RepairEntry {
        part: "purge valve".into(),
        currency: "EUR".into(),
        quotes: vec![quote("Corner shop", "38.10", true), quote("By post", "31.95", false)],
        labour: Some(amount("0.20")),
        diagnosis: None,
        shop_diagnosis: Some(amount("129.00")),
        tax: Some(amount("7.32")),
        part_prices: [(Part::FuelCap, amount("18.90")), (Part::VentValve, amount("52.3"))].into(),
        notes: "connector was green".into(),
    };
    let repair = bench.store.add_repair(visit, &entry, minute(2)).unwrap();
    let stored = bench.store.load_visit(visit).unwrap().repairs;
    assert_eq!(stored[0].entry, entry);
    assert_eq!(stored[0].entry.total().unwrap().to_string(), "45.62");
    let other =
        RepairEntry { quotes: vec![], labour: None, tax: None, part_prices: [].into(), ..entry };
    bench.store.edit_repair(repair, &other, minute(3)).unwrap();
    let stored = bench.reopen().store.load_visit(visit).unwrap().repairs;
    assert_eq!(stored[0].entry, other);
    assert_eq!(stored[0].entry.total(), None);
}

#[test]
fn lists_show_the_newest_of_each_kind() {
    let mut bench = Bench::new(1);
    let first = bench.visit("Blue estate", "9ZZAB12C0R1000001");
    let store = &mut bench.store;
    let vehicle = store.load_visit(first).unwrap().vehicle.id;
    store.append_code(first, seconds(1.0), "P0496").unwrap();
    store.save_check(first, &throttle_follow(-212.0), minute(2)).unwrap();
    store.save_verdict(first, &purge_valve_verdict(0.98), minute(3)).unwrap();
    let second = store.start_visit(vehicle, minute(5_000)).unwrap();
    store.set_odometer(second, 99, minute(5_000)).unwrap();
    store.save_check(second, &throttle_follow(-3.0), minute(5_001)).unwrap();
    store.plan_follow_up(second, minute(9_000), "", minute(5_002)).unwrap();

    let summary = store.vehicle(vehicle).unwrap();
    assert_eq!((summary.visits, summary.odometer_km), (2, Some(99)));
    assert_eq!(summary.last_visit, Some(minute(5_000)));
    assert_eq!(summary.last_shut_vacuum.unwrap().value, -3.0);
    assert_eq!((summary.band, summary.follow_up), (Some(18.0), Some(minute(9_000))));
    let verdict = LastVerdict {
        outcome: VerdictOutcome::FaultFound,
        fault: Some(Fault::PurgeValveLeaking),
        probability: 0.98,
    };
    assert_eq!(summary.last_verdict, Some(verdict));

    let visits = store.list_visits(vehicle).unwrap();
    let numbers: Vec<_> = visits.iter().map(|visit| (visit.id, visit.number)).collect();
    assert_eq!(numbers, [(second, 2), (first, 1)]);
    assert_eq!(visits[1].codes, ["P0496"]);
    assert_eq!(visits[1].verdict, Some(verdict));
    assert_eq!(visits[1].shut_vacuum.unwrap().value, -212.0);
    assert_eq!(visits[0].recovery_time.unwrap().high, f64::INFINITY);
    assert_eq!(visits[0].verdict, None);
    assert_eq!(throttle_follow(-3.0).measure(MeasureName::RecoveryTime), visits[0].recovery_time);
}

#[test]
fn search_finds_any_three_letters_of_names_codes_parts_and_notes() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "9ZZAB12C0R1000001");
    bench.visit("Rotes Möbelauto", "8AZ00000319000017");
    bench.store.append_code(visit, seconds(1.0), "P0496").unwrap();
    let entry = RepairEntry {
        part: "purge valve".into(),
        notes: "connector was green".into(),
        ..RepairEntry::default()
    };
    bench.store.add_repair(visit, &entry, minute(2)).unwrap();
    let found = |search: &str| -> Vec<String> {
        let rows = bench.store.list_vehicles(search).unwrap();
        rows.into_iter().map(|row| row.name).collect()
    };
    for word in ["blue", "BLU state", "0496", "purge", "green", "1000001", "bl", "a 12C"] {
        assert_eq!(found(word), ["Blue estate"], "{word}");
    }
    assert_eq!(found("mobelauto"), ["Rotes Möbelauto"]);
    for word in ["yellow", "blue yellow", "\"", "NEAR(", "bl* OR red", "p0496 -blue"] {
        assert_eq!(found(word), Vec::<String>::new(), "{word}");
    }
    assert_eq!(found("  ").len(), 2);
}

#[test]
fn one_vin_belongs_to_one_vehicle() {
    let mut bench = Bench::new(1);
    let first = bench.vehicle("Blue estate", "9ZZAB12C0R1000001");
    let again = NewVehicle { vin: "9ZZAB12C0R1000001".into(), ..NewVehicle::default() };
    let refusal = bench.store.add_vehicle(&again, minute(1)).unwrap_err();
    assert!(matches!(refusal, StoreError::VinKnown { vehicle, .. } if vehicle == first));
    let twin = NewVehicle { is_virtual: true, ..again };
    bench.store.add_vehicle(&twin, minute(1)).unwrap();
    bench.store.remove_vehicle(first, minute(2)).unwrap();
    assert_eq!(bench.store.list_vehicles("").unwrap().len(), 1);
}

#[test]
fn fill_ups_keep_what_is_unknown_unknown() {
    let mut bench = Bench::new(1);
    let vehicle = bench.vehicle("Blue estate", "");
    let fill_up = FillUp {
        filled: minute(3),
        litre: Some(Decimal::from_str("41.20").unwrap()),
        cost: Some(Decimal::from_str("0.10").unwrap()),
        currency: "EUR".into(),
        ..FillUp::default()
    };
    bench.store.add_fill_up(vehicle, &fill_up).unwrap();
    assert_eq!(bench.store.list_fill_ups(vehicle).unwrap()[0].1, fill_up);
    let unknown = FillUp { filled: minute(4), ..FillUp::default() };
    bench.store.add_fill_up(vehicle, &unknown).unwrap();
    assert_eq!(bench.store.list_fill_ups(vehicle).unwrap()[0].1, unknown);
}

#[test]
fn the_timeline_holds_what_happened_in_order() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let store = &mut bench.store;
    let vehicle = store.load_visit(visit).unwrap().vehicle.id;
    store.save_verdict(visit, &purge_valve_verdict(0.98), minute(3)).unwrap();
    let entry = RepairEntry { part: "purge valve".into(), ..RepairEntry::default() };
    store.add_repair(visit, &entry, minute(5)).unwrap();
    store.add_clearing(visit, minute(6)).unwrap();
    let fill_up = FillUp { filled: minute(4), note: "full".into(), ..FillUp::default() };
    store.add_fill_up(vehicle, &fill_up).unwrap();
    let follow_up = store.plan_follow_up(visit, minute(9_000), "look", minute(6)).unwrap();
    store.finish_follow_up(follow_up, minute(7_000)).unwrap();
    let verdict = LastVerdict {
        outcome: VerdictOutcome::FaultFound,
        fault: Some(Fault::PurgeValveLeaking),
        probability: 0.98,
    };
    let happened: Vec<_> =
        store.timeline(vehicle).unwrap().into_iter().map(|it| (it.at, it.visit, it.what)).collect();
    assert_eq!(
        happened,
        [
            (minute(1), Some(visit), HappeningKind::Visit),
            (minute(3), Some(visit), HappeningKind::Verdict(verdict)),
            (minute(4), None, HappeningKind::FillUp("full".into())),
            (minute(5), Some(visit), HappeningKind::Repair("purge valve".into())),
            (minute(6), Some(visit), HappeningKind::CodesCleared),
            (minute(9_000), None, HappeningKind::FollowUp("look".into(), true)),
        ]
    );
    assert_eq!(store.open_follow_ups().unwrap(), []);
}

#[test]
fn what_the_device_was_told_is_remembered() {
    let mut bench = Bench::new(1);
    bench.store.set_setting("language", "en").unwrap();
    bench.store.set_setting("language", "de").unwrap();
    let adapter = |address: &str, used| KnownAdapter {
        address: address.into(),
        name: "garage".into(),
        capability: serde_json::json!({"long_frames": true}),
        used: minute(used),
    };
    bench.store.remember_adapter(&adapter("a", 1)).unwrap();
    bench.store.remember_adapter(&adapter("b", 2)).unwrap();
    bench.store.remember_adapter(&adapter("a", 3)).unwrap();
    bench.store.define(Definition::ColumnMap, "old logs", "time = \"t\"", minute(1)).unwrap();
    bench.store.define(Definition::ColumnMap, "older", "x", minute(1)).unwrap();
    bench.store.define(Definition::ColumnMap, "older", "", minute(2)).unwrap();
    let bench = bench.reopen();
    assert_eq!(bench.store.setting("language").unwrap().as_deref(), Some("de"));
    assert_eq!(bench.store.settings().unwrap().len(), 1);
    assert_eq!(bench.store.known_adapters().unwrap(), [adapter("a", 3), adapter("b", 2)]);
    let maps = bench.store.definitions(Definition::ColumnMap).unwrap();
    assert_eq!(maps, [("old logs".to_owned(), "time = \"t\"".to_owned())]);
}

#[test]
fn a_photo_that_was_swapped_is_noticed() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let id = bench.store.add_photo(visit, b"a picture", "png", "valve", minute(1)).unwrap();
    assert_eq!(bench.store.read_photo(id).unwrap(), b"a picture");
    let photo = bench.store.load_visit(visit).unwrap().photos.remove(0);
    assert_eq!((photo.caption.as_str(), photo.size_byte), ("valve", 9));
    std::fs::write(&photo.path, b"another picture").unwrap();
    assert!(matches!(bench.store.read_photo(id), Err(StoreError::Damaged { .. })));
    let refusal = bench.store.add_photo(visit, b"x", "../sh", "", minute(1));
    assert!(matches!(refusal, Err(StoreError::NotStorable { .. })));
    bench.store.remove_photo(id, minute(2)).unwrap();
    assert_eq!(bench.store.load_visit(visit).unwrap().photos, []);
}
