use std::path::PathBuf;

use rusqlite::types::Value;

use super::super::merge_tables::TABLES;
use super::super::{
    BundleFault, Definition, Merged, MonitorReading, NewVehicle, RepairEntry, Store, StoreError,
    VehicleId, VisitId,
};
use super::{Bench, batch, minute, purge_valve_verdict, seconds, throttle_follow};
use crate::evidence::{Check, MeasureName, Observation};
use crate::recording::{Action, ActionAt};

/// All that two devices should agree on, free of each device's own numbers.
pub(super) fn content(store: &Store) -> Vec<String> {
    let mut lines = Vec::new();
    let sql = &store.connection;
    for table in TABLES {
        let parent = table.parent.map_or("", |(_, column)| column);
        let mut names = sql.prepare("SELECT name FROM pragma_table_info(?1)").unwrap();
        let names: Vec<String> = names
            .query_map([table.name], |row| row.get::<_, String>("name"))
            .unwrap()
            .map(Result::unwrap)
            .filter(|name| name != "id" && name != parent)
            .map(|name| format!("t.{name}"))
            .collect();
        let columns = names.join(", ");
        let question = match table.parent {
            None => format!("SELECT {columns} FROM {} AS t", table.name),
            Some((parent, column)) => format!(
                "SELECT {columns}, p.uid FROM {} AS t JOIN {parent} AS p ON p.id = t.{column}",
                table.name
            ),
        };
        lines.extend(rows(store, table.name, &question));
    }
    for (name, question) in [
        ("edits", "SELECT uid, entity, row_uid, field, value, edited_unix_us FROM edits"),
        ("replacements", "SELECT edit_uid, replaced_uid FROM edit_replacements"),
        ("aliases", "SELECT alias_uid, vehicle_uid FROM vehicle_aliases"),
        (
            "samples",
            "SELECT r.uid, total(c.sample_count) FROM recordings AS r
             JOIN sample_chunks AS c ON c.recording_id = r.id GROUP BY r.uid",
        ),
        (
            "observations",
            "SELECT v.uid, observation, holds FROM observations JOIN visits AS v ON v.id = visit_id",
        ),
        (
            "quotes",
            "SELECT r.uid, position, seller, amount FROM quotes
             JOIN repairs AS r ON r.id = repair_id",
        ),
        (
            "search",
            "SELECT v.uid, codes, parts FROM vehicle_search
             JOIN vehicles AS v ON v.id = vehicle_search.rowid",
        ),
    ] {
        lines.extend(rows(store, name, question));
    }
    lines
}

fn rows(store: &Store, name: &str, question: &str) -> Vec<String> {
    let mut statement = store.connection.prepare(question).unwrap();
    let width = statement.column_count();
    let mut lines: Vec<String> = statement
        .query_map([], |row| {
            (0..width).map(|column| row.get::<_, Value>(column)).collect::<Result<Vec<_>, _>>()
        })
        .unwrap()
        .map(|row| format!("{name} {:?}", row.unwrap()))
        .collect();
    lines.sort();
    lines
}

pub(super) fn bundle_of(bench: &mut Bench, name: &str, vehicle: Option<VehicleId>) -> PathBuf {
    let path = bench.folder.path().join(name);
    bench.store.export(&path, vehicle, minute(0)).unwrap();
    path
}

/// A visit with something of every kind.
pub(super) fn busy_visit(bench: &mut Bench, vin: &str) -> (VehicleId, VisitId) {
    let visit = bench.visit("Blue estate", vin);
    let store = &mut bench.store;
    let vehicle = store.load_visit(visit).unwrap().vehicle.id;
    let samples: Vec<_> = (0..500).flat_map(batch).collect();
    store.append_samples(visit, &samples).unwrap();
    let action = ActionAt { at: seconds(2.0), action: Action::EngineStarted };
    store.append_actions(visit, &[action]).unwrap();
    store.append_code(visit, seconds(0.5), "P0496").unwrap();
    store.set_complaint(visit, &["light_on"], "smells of fuel", minute(2)).unwrap();
    store.set_observation(visit, Observation::HoseCracked, true, minute(2)).unwrap();
    store.save_check(visit, &throttle_follow(-212.0), minute(3)).unwrap();
    store.save_verdict(visit, &purge_valve_verdict(0.98), minute(3)).unwrap();
    let monitor = MonitorReading {
        read: minute(3),
        monitor: 0x3C,
        test: 0x81,
        value: -12.5,
        low: f64::NEG_INFINITY,
        high: 10.0,
        unit: "Pa".into(),
    };
    store.save_monitors(visit, &[monitor]).unwrap();
    store.save_car_report(visit, &serde_json::json!({"rate": 11.5}), minute(3)).unwrap();
    let entry = RepairEntry { part: "purge valve".into(), ..RepairEntry::default() };
    store.add_repair(visit, &entry, minute(4)).unwrap();
    store.add_photo(visit, b"not really a picture", "jpg", "the valve", minute(4)).unwrap();
    store.plan_follow_up(visit, minute(9_000), "after a fill-up", minute(5)).unwrap();
    store.add_clearing(visit, minute(5)).unwrap();
    store.define(Definition::CodeNote, "example|P1450", "vapour line", minute(5)).unwrap();
    (vehicle, visit)
}

#[test]
fn a_bundle_carries_everything_and_importing_it_again_changes_nothing() {
    let (mut here, mut there) = (Bench::new(1), Bench::new(2));
    let (_, visit) = busy_visit(&mut here, "9ZZAB12C0R1000001");
    let bundle = bundle_of(&mut here, "all.stilltank", None);
    let merged = there.store.import(&bundle).unwrap();
    assert_eq!((merged.vehicles, merged.visits, merged.recordings, merged.photos), (1, 1, 1, 1));
    assert_eq!(content(&there.store), content(&here.store));
    let (ours, theirs) =
        (here.store.load_visit(visit).unwrap(), there.store.open_visits().unwrap());
    let theirs = there.store.load_visit(theirs[0]).unwrap();
    assert_eq!(theirs.recording, ours.recording);
    assert_eq!((theirs.checks, theirs.monitors), (ours.checks, ours.monitors));
    assert_eq!(there.store.read_photo(theirs.photos[0].id).unwrap(), b"not really a picture");
    assert_eq!(there.store.list_vehicles("purge 0496 blue").unwrap().len(), 1);
    assert_eq!(there.store.import(&bundle).unwrap(), Merged::default());
    assert_eq!(here.store.import(&bundle).unwrap(), Merged::default());
}

#[test]
fn one_vehicle_travels_without_the_others() {
    let (mut here, mut there) = (Bench::new(1), Bench::new(2));
    let (vehicle, _) = busy_visit(&mut here, "9ZZAB12C0R1000001");
    here.visit("Red van", "8AZ00000319000017");
    let bundle = bundle_of(&mut here, "one.stilltank", Some(vehicle));
    assert_eq!(there.store.import(&bundle).unwrap().vehicles, 1);
    let names: Vec<_> =
        there.store.list_vehicles("").unwrap().into_iter().map(|row| row.name).collect();
    assert_eq!(names, ["Blue estate"]);
    assert_eq!(there.store.definitions(Definition::CodeNote).unwrap(), []);
}

#[test]
fn a_visit_that_went_on_is_taken_in_its_longer_form() {
    let (mut here, mut there) = (Bench::new(1), Bench::new(2));
    let (_, visit) = busy_visit(&mut here, "9ZZAB12C0R1000001");
    let early = bundle_of(&mut here, "early", None);
    let more: Vec<_> = (500..900).flat_map(batch).collect();
    here.store.append_samples(visit, &more).unwrap();
    let late = bundle_of(&mut here, "late", None);
    there.store.import(&late).unwrap();
    assert_eq!(there.store.import(&early).unwrap(), Merged::default());
    let copy = there.store.open_visits().unwrap()[0];
    let whole = here.store.load_recording(visit).unwrap();
    assert_eq!(there.store.load_recording(copy).unwrap(), whole);
    let mut third = Bench::new(3);
    third.store.import(&early).unwrap();
    assert_eq!(third.store.import(&late).unwrap().recordings, 1);
    let copy = third.store.open_visits().unwrap()[0];
    assert_eq!(third.store.load_recording(copy).unwrap(), whole);
}

#[test]
fn the_later_entry_of_a_field_wins_and_the_other_is_kept() {
    let (mut here, mut there) = (Bench::new(1), Bench::new(2));
    let (vehicle, _) = busy_visit(&mut here, "9ZZAB12C0R1000001");
    there.store.import(&bundle_of(&mut here, "start", None)).unwrap();
    let twin = there.store.list_vehicles("").unwrap()[0].id;
    let named = |name: &str, notes: &str| NewVehicle {
        name: name.into(),
        vin: "9ZZAB12C0R1000001".into(),
        notes: notes.into(),
        ..NewVehicle::default()
    };
    here.store.edit_vehicle(vehicle, &named("Blue", ""), minute(10)).unwrap();
    there.store.edit_vehicle(twin, &named("Azure", "tow bar"), minute(11)).unwrap();
    let (from_here, from_there) =
        (bundle_of(&mut here, "here", None), bundle_of(&mut there, "there", None));
    here.store.import(&from_there).unwrap();
    there.store.import(&from_here).unwrap();
    assert_eq!(content(&here.store), content(&there.store));
    let row = here.store.vehicle(vehicle).unwrap();
    assert_eq!((row.name.as_str(), row.notes.as_str()), ("Azure", "tow bar"));
    let conflicts = here.store.conflicts().unwrap();
    assert_eq!(conflicts.len(), 1);
    assert_eq!(conflicts[0].also, [("Blue".to_owned(), minute(10))]);
    assert_eq!(conflicts, there.store.conflicts().unwrap());
    here.store.edit_vehicle(vehicle, &named("Azure blue", "tow bar"), minute(12)).unwrap();
    assert_eq!(here.store.conflicts().unwrap(), []);
    there.store.import(&bundle_of(&mut here, "settled", None)).unwrap();
    assert_eq!(there.store.conflicts().unwrap(), []);
}

#[test]
fn an_entry_made_in_sight_of_another_wins_even_by_a_clock_that_runs_behind() {
    let (mut here, mut there) = (Bench::new(1), Bench::new(2));
    let (vehicle, _) = busy_visit(&mut here, "");
    let renamed = NewVehicle { name: "Blue".into(), ..NewVehicle::default() };
    here.store.edit_vehicle(vehicle, &renamed, minute(50)).unwrap();
    there.store.import(&bundle_of(&mut here, "start", None)).unwrap();
    let twin = there.store.list_vehicles("").unwrap()[0].id;
    let corrected = NewVehicle { name: "Green".into(), ..NewVehicle::default() };
    there.store.edit_vehicle(twin, &corrected, minute(20)).unwrap();
    here.store.import(&bundle_of(&mut there, "back", None)).unwrap();
    assert_eq!(here.store.vehicle(vehicle).unwrap().name, "Green");
    assert_eq!(here.store.conflicts().unwrap(), []);
}

#[test]
fn a_car_entered_on_two_devices_becomes_one() {
    let (mut here, mut there) = (Bench::new(1), Bench::new(2));
    busy_visit(&mut here, "9ZZAB12C0R1000001");
    busy_visit(&mut there, "9ZZAB12C0R1000001");
    let (from_here, from_there) =
        (bundle_of(&mut here, "here", None), bundle_of(&mut there, "there", None));
    assert_eq!(here.store.import(&from_there).unwrap().unified, 1);
    assert_eq!(there.store.import(&from_here).unwrap().unified, 1);
    assert_eq!(content(&here.store), content(&there.store));
    let rows = here.store.list_vehicles("").unwrap();
    assert_eq!((rows.len(), rows[0].visits), (1, 2));
    let trend =
        here.store.trend(rows[0].id, Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut);
    assert_eq!(trend.unwrap().len(), 2);
    // The bundle from before still knows the car by its other name.
    assert_eq!(here.store.import(&from_there).unwrap().vehicles, 0);
    assert_eq!(content(&here.store), content(&there.store));
}

#[test]
fn a_database_is_not_a_bundle_nor_a_bundle_a_database() {
    let (mut here, mut there) = (Bench::new(1), Bench::new(2));
    let bundle = bundle_of(&mut here, "all", None);
    let path = here.path();
    drop(here.store);
    let refusal = there.store.import(&path).unwrap_err();
    assert!(
        matches!(refusal, StoreError::BadBundle { fault: BundleFault::NoManifest, .. }),
        "{refusal:?}"
    );
    assert!(matches!(Store::open(&bundle), Err(StoreError::Foreign { .. })));
}
