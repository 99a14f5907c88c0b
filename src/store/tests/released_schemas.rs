use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use rust_decimal::Decimal;

use super::super::schema::KNOWN_SCHEMA;
use super::super::{FillUp, Listening, NewVehicle, Quote, RepairEntry, Store};
use super::summaries::check_summaries;
use super::{batch, minute, purge_valve_verdict, seconds, throttle_follow};
use crate::checks::Rails;
use crate::evidence::Check;
use crate::recording::{Action, ActionAt};
use crate::vehicle::{CustomSignal, Part, Signal, TankSource};

/// Set to write the file of the newest schema anew, before that schema is released.
const WRITE: &str = "STILLTANK_TEST_WRITE_SCHEMA";

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("fixtures/databases")
}

/// Many nearly empty tables take less room on small pages.
fn shrink(path: &Path) {
    let sql = Connection::open(path).unwrap();
    sql.execute_batch("PRAGMA journal_mode = DELETE; PRAGMA page_size = 512; VACUUM").unwrap();
}

fn rails() -> Vec<Rails> {
    vec![
        Rails { from: seconds(1.0), until: Some(seconds(20.5)), low: -24.1, high: 19.9 },
        Rails { from: seconds(31.0), until: None, low: -20.0, high: 0.1 + 0.2 },
    ]
}

fn prices() -> BTreeMap<Part, Decimal> {
    [(Part::FuelCap, "18.90".parse().unwrap())].into()
}

fn fill_up() -> FillUp {
    FillUp {
        filled: minute(5),
        litre: Some("41.3".parse().unwrap()),
        cost: Some("67.10".parse().unwrap()),
        currency: "EUR".into(),
        odometer_km: Some(87_412),
        note: "to the click".into(),
    }
}

fn listening() -> Listening {
    let text = "[[signal]]\nsignal = \"tank_sensor_v\"\nservice = \"22\"\nidentifier = \"12AB\"\n\
                length = 2\nscale = 0.001\n";
    let own_signals = CustomSignal::read_all(text).unwrap();
    Listening { tank_source: Some(TankSource::Wide), own_signals }
}

/// Fills a database with one invented visit.
fn fill(path: &Path) {
    let mut store = Store::open(path).unwrap();
    store.seed_uids(1);
    let vehicle = NewVehicle {
        name: "Blue estate".into(),
        vin: "9ZZAB12C0R1000001".into(),
        make: "Invented Motors".into(),
        fuel: "E10".into(),
        tank_litre: Some("48.5".parse().unwrap()),
        ..NewVehicle::default()
    };
    let vehicle = store.add_vehicle(&vehicle, minute(0)).unwrap();
    let visit = store.start_visit(vehicle, minute(1)).unwrap();
    store.set_complaint(visit, &["light_on"], "smells of fuel", minute(1)).unwrap();
    let samples: Vec<_> = (0..2000).flat_map(batch).collect();
    store.append_samples(visit, &samples).unwrap();
    let action = ActionAt { at: seconds(2.0), action: Action::EngineStarted };
    store.append_actions(visit, &[action]).unwrap();
    store.append_code(visit, seconds(0.5), "P0496").unwrap();
    store.save_check(visit, &throttle_follow(-212.0), minute(2)).unwrap();
    store.save_rails(visit, Check::ThrottleFollow, &rails(), minute(2)).unwrap();
    store.save_verdict(visit, &purge_valve_verdict(0.98), minute(2)).unwrap();
    let quote = Quote {
        seller: "Corner shop".into(),
        note: String::new(),
        amount: "38.10".parse().unwrap(),
        chosen: true,
    };
    let repair = RepairEntry {
        part: "purge valve".into(),
        currency: "EUR".into(),
        quotes: vec![quote],
        tax: Some("0.10".parse().unwrap()),
        part_prices: prices(),
        ..RepairEntry::default()
    };
    store.add_repair(visit, &repair, minute(3)).unwrap();
    store.plan_follow_up(visit, minute(9_000), "after a fill-up", minute(3)).unwrap();
    store.add_fill_up(vehicle, &fill_up()).unwrap();
    store.set_tank_source(vehicle, listening().tank_source, minute(4)).unwrap();
    store.set_own_signals(vehicle, &listening().own_signals, minute(4)).unwrap();
    store.close_visit(visit, minute(4)).unwrap();
}

#[test]
fn every_released_schema_opens_and_tells_its_history() {
    let temporary = tempfile::tempdir().unwrap();
    if std::env::var_os(WRITE).is_some() {
        let path = temporary.path().join("new.db");
        fill(&path);
        shrink(&path);
        std::fs::create_dir_all(folder()).unwrap();
        let to = folder().join(format!("schema_{KNOWN_SCHEMA:04}.db"));
        std::fs::copy(&path, to).unwrap();
    }
    for schema in 1..=KNOWN_SCHEMA {
        let name = format!("schema_{schema:04}.db");
        let path = temporary.path().join(&name);
        std::fs::copy(folder().join(&name), &path).unwrap();
        let store = Store::open(&path).unwrap();
        let rows = store.list_vehicles("corner P0496").unwrap();
        assert_eq!((rows.len(), rows[0].name.as_str()), (1, "Blue estate"), "{name}");
        let visit = &store.list_visits(rows[0].id).unwrap()[0];
        let record = store.load_visit(visit.id).unwrap();
        let pressure = record.recording.series(Signal::TankPressure).unwrap();
        let samples: Vec<_> =
            (0..2000).map(|number| batch(number)[0]).map(|s| (s.1, s.2)).collect();
        assert_eq!(pressure.iter().collect::<Vec<_>>(), samples, "{name}");
        assert_eq!(record.results(), [&throttle_follow(-212.0)], "{name}");
        assert_eq!(record.verdict().unwrap().verdict, purge_valve_verdict(0.98), "{name}");
        // Taxes, other parts' prices and what the vehicle is are kept from schema 3 on.
        let repair = &record.repairs[0].entry;
        let (total, others) = if schema < 3 { ("38.10", [].into()) } else { ("38.20", prices()) };
        assert_eq!(repair.total().unwrap().to_string(), total, "{name}");
        assert_eq!(repair.part_prices, others, "{name}");
        let told = (rows[0].make.as_str(), rows[0].fuel.as_str(), rows[0].tank_litre);
        let is = ("Invented Motors", "E10", Some("48.5".parse().unwrap()));
        assert_eq!(told, if schema < 3 { ("", "", None) } else { is }, "{name}");
        assert_eq!(record.follow_up.unwrap().due, minute(9_000), "{name}");
        assert!(record.is_closed, "{name}");
        // Fill-ups stand in the file, and how the car is listened to is kept, from schema 4 on.
        let filled: Vec<FillUp> =
            store.list_fill_ups(rows[0].id).unwrap().into_iter().map(|(_, it)| it).collect();
        assert_eq!(filled, if schema < 4 { vec![] } else { vec![fill_up()] }, "{name}");
        let heard = store.listening(rows[0].id).unwrap();
        assert_eq!(heard, if schema < 4 { Listening::default() } else { listening() }, "{name}");
        // Bands are kept from schema 2 on.
        let kept = record.rails.get(&Check::ThrottleFollow).cloned().unwrap_or_default();
        assert_eq!(kept, if schema < 2 { Vec::new() } else { rails() }, "{name}");
        // Summaries stand in the file from schema 5 on.
        check_summaries(&store);
    }
}
