//! A row of user actions, each one transaction, that always comes to the same content: what a
//! program was killed in, or had no room for, is told from how far the content got.

use std::path::{Path, PathBuf};

use tempfile::TempDir;

use super::super::{Customer, FillUp, NewVehicle, RepairEntry, Store, StoreError};
use super::merging::content;
use super::{Bench, batch, minute, purge_valve_verdict, seconds, throttle_follow};
use crate::recording::{Action, ActionAt};

/// How many steps there are.
pub(super) const STEPS: usize = 26;

/// Names of the bundles that are merged on the way, in the database's folder.
const BUNDLES: [&str; 2] = ["first.stilltank", "second.stilltank"];

/// Name of the database.
const DATABASE: &str = "garage.db";

/// Writes the bundles of two other devices into a folder.
fn write_bundles(folder: &Path) {
    for (number, name) in (1_u64..).zip(BUNDLES) {
        let mut other = Bench::new(100 + number);
        for place in 0..12 {
            let visit = other.visit(&format!("Vehicle {number}.{place}"), "");
            let samples: Vec<_> = (0..600).flat_map(batch).collect();
            other.store.append_samples(visit, &samples).unwrap();
            other.store.save_check(visit, &throttle_follow(-9.0), minute(2)).unwrap();
            other.store.save_verdict(visit, &purge_valve_verdict(0.97), minute(2)).unwrap();
            other.store.close_visit(visit, minute(3)).unwrap();
        }
        other.store.export(&folder.join(name), None, minute(4)).unwrap();
    }
}

/// A database that the steps begin on: one open visit.
fn begin(path: &Path) {
    let mut store = Store::open(path).unwrap();
    store.seed_uids(1);
    let vehicle = NewVehicle { name: "Blue estate".into(), ..NewVehicle::default() };
    let vehicle = store.add_vehicle(&vehicle, minute(0)).unwrap();
    store.start_visit(vehicle, minute(1)).unwrap();
}

/// Makes one step. Names follow from its number, so that it can be made again.
pub(super) fn step(store: &mut Store, number: usize) -> Result<(), StoreError> {
    store.seed_uids(1_000 + number as u64);
    let visit = store.open_visits()?[0];
    let vehicle = store.load_visit(visit)?.vehicle.id;
    let now = minute(10 + number as i64);
    match number % 13 {
        0 | 4 | 8 => {
            let samples: Vec<_> = (number * 300..(number + 1) * 300).flat_map(batch).collect();
            store.append_samples(visit, &samples).map(drop)
        }
        1 => {
            let action = ActionAt { at: seconds(number as f64), action: Action::ThrottleOpened };
            store.append_actions(visit, &[action])
        }
        2 => store.save_check(visit, &throttle_follow(-(number as f64)), now),
        3 => store.save_verdict(visit, &purge_valve_verdict(0.98), now),
        5 => {
            let name = BUNDLES[usize::from(number >= STEPS / 2)];
            store.import(&store.path().with_file_name(name)).map(drop)
        }
        6 => {
            let part = format!("purge valve {number}");
            let entry = RepairEntry { part, ..RepairEntry::default() };
            store.add_repair(visit, &entry, now).map(drop)
        }
        7 => {
            let note = "full ".repeat(40);
            store.add_fill_up(vehicle, &FillUp { filled: now, note, ..FillUp::default() }).map(drop)
        }
        9 => {
            let picture = vec![number as u8; 20_000];
            store.add_photo(visit, &picture, "jpg", "the valve", now).map(drop)
        }
        10 => store.save_car_report(visit, &serde_json::json!({ "step": number }), now),
        11 => {
            let name = format!("Customer {number}");
            store.add_customer(&Customer { name, ..Customer::default() }, now).map(drop)
        }
        _ => store.plan_follow_up(visit, minute(9_000 + number as i64), "look", now).map(drop),
    }
}

/// What a database holds after none, one, two … all of the steps.
pub(super) fn contents() -> Vec<Vec<String>> {
    let folder = prepare();
    let mut store = Store::open(&folder.path().join(DATABASE)).unwrap();
    let mut contents = Vec::new();
    for number in 0..=STEPS {
        // A copy that is opened anew, as after a crash: what waited uncompressed is in chunks then.
        let copy = folder.path().join(format!("copy-{number}.db"));
        store.connection.execute("VACUUM INTO ?1", [copy.to_str()]).unwrap();
        contents.push(content(&Store::open(&copy).unwrap()));
        if number < STEPS {
            step(&mut store, number).unwrap();
        }
    }
    contents
}

/// A folder with a database and bundles to make the steps on.
pub(super) fn prepare() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    write_bundles(folder.path());
    begin(&folder.path().join(DATABASE));
    folder
}

/// A copy of what was prepared; the path of its database.
pub(super) fn copy(prepared: &Path, folder: &Path) -> PathBuf {
    for name in BUNDLES.into_iter().chain([DATABASE]) {
        std::fs::copy(prepared.join(name), folder.join(name)).unwrap();
    }
    folder.join(DATABASE)
}
