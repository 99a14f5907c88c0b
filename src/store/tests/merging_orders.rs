use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::{
    Customer, CustomerId, Definition, FillUp, NewVehicle, RepairEntry, Store, StoreError, VehicleId,
};
use super::merging::{bundle_of, busy_visit, content};
use super::{Bench, batch, minute, throttle_follow};
use crate::evidence::Observation;
use crate::vehicle::TankSource;

/// Every order of three.
const ORDERS: [[usize; 3]; 6] = [[0, 1, 2], [0, 2, 1], [1, 0, 2], [1, 2, 0], [2, 0, 1], [2, 1, 0]];

/// Three devices that set out from one history, worked on apart for a while, and exchange what they
/// have: everybody comes to the same content and the same open questions, in whatever order.
#[test]
fn three_devices_agree_in_any_order_of_merging() {
    let mut conflicts_seen = 0;
    for seed in 0..5 {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut benches: Vec<Bench> = (1..4).map(|place| Bench::new(seed * 10 + place)).collect();
        busy_visit(&mut benches[0], "9ZZAB12C0R1000001");
        let start = bundle_of(&mut benches[0], "start", None);
        for bench in &mut benches[1..] {
            bench.store.import(&start).unwrap();
        }
        for bench in &mut benches {
            for step in 0..30 {
                random_step(&mut bench.store, &mut random, step);
            }
        }
        let bundles: Vec<_> =
            benches.iter_mut().map(|bench| bundle_of(bench, "now", None)).collect();
        let mut agreed: Option<(Vec<String>, _)> = None;
        let mut agree = |store: &Store, who: &str| {
            let reached = (content(store), store.conflicts().unwrap());
            match &agreed {
                None => agreed = Some(reached),
                Some(agreed) => assert!(*agreed == reached, "seed {seed}: {who} differs"),
            }
        };
        for order in ORDERS {
            let mut fourth = Bench::new(seed * 10 + 9);
            for place in order {
                fourth.store.import(&bundles[place]).unwrap();
            }
            agree(&fourth.store, "a fourth device");
        }
        for (place, bench) in benches.iter_mut().enumerate() {
            for other in ORDERS[place + 1].into_iter().filter(|other| *other != place) {
                bench.store.import(&bundles[other]).unwrap();
            }
            agree(&bench.store, "one of the three");
        }
        let (_, conflicts) = agreed.unwrap();
        conflicts_seen += conflicts.len();
        assert!(conflicts.iter().all(|it| !it.also.is_empty()));
    }
    assert!(conflicts_seen > 5, "{conflicts_seen}: nothing was contested");
}

fn random_step(store: &mut Store, random: &mut ChaCha8Rng, step: i64) {
    let now = minute(100 + step);
    let vehicles = store.list_vehicles("").unwrap();
    let Some(row) = vehicles.get(random.random_range(0..vehicles.len().max(1))) else {
        return;
    };
    let visit = store.list_visits(row.id).unwrap().first().map(|visit| visit.id);
    let vins = ["", "8AZ00000319000017", "JAZ12345067890123"];
    let vehicle = NewVehicle {
        name: format!("Name {}", random.random_range(0..4)),
        vin: vins[random.random_range(0..vins.len())].into(),
        ..NewVehicle::default()
    };
    let allowed = |entered: Result<(), StoreError>| match entered {
        Ok(()) | Err(StoreError::VinKnown { .. }) => {}
        Err(error) => panic!("{error}"),
    };
    match (random.random_range(0..14), visit) {
        (0, _) => allowed(store.add_vehicle(&vehicle, now).map(drop)),
        (1, _) => allowed(store.edit_vehicle(row.id, &vehicle, now)),
        (2, _) => drop(store.start_visit(row.id, now).unwrap()),
        (3, Some(visit)) => {
            let words = format!("words {}", random.random_range(0..3));
            store.set_complaint(visit, &[], &words, now).unwrap();
        }
        (4, Some(visit)) => {
            let holds = random.random_bool(0.5);
            store.set_observation(visit, Observation::CapSealBad, holds, now).unwrap();
        }
        (5, Some(visit)) => store.save_check(visit, &throttle_follow(-9.0), now).unwrap(),
        (6, Some(visit)) => {
            let first = random.random_range(0..1000);
            let samples: Vec<_> = (first..first + 20).flat_map(batch).collect();
            assert_eq!(store.append_samples(visit, &samples).unwrap(), 40);
        }
        (7, Some(visit)) => {
            let part = format!("part {}", random.random_range(0..3));
            let entry = RepairEntry { part, ..RepairEntry::default() };
            match store.load_visit(visit).unwrap().repairs.first() {
                Some(repair) => store.edit_repair(repair.id, &entry, now).unwrap(),
                None => drop(store.add_repair(visit, &entry, now).unwrap()),
            }
        }
        (8, _) => {
            let note = format!("note {step}");
            store.add_fill_up(row.id, &FillUp { filled: now, note, ..FillUp::default() }).unwrap();
        }
        (9, _) => whose(store, random, row.id, step),
        (10, Some(visit)) => {
            let picture = [step as u8; 8];
            store.add_photo(visit, &picture, "jpg", "seen", now).unwrap();
        }
        (11, _) => {
            let note = format!("meaning {}", random.random_range(0..3));
            store.define(Definition::CodeNote, "example|P1450", &note, now).unwrap();
        }
        (12, _) => {
            let source = TankSource::ALL[random.random_range(0..TankSource::ALL.len())];
            store.set_tank_source(row.id, Some(source), now).unwrap();
        }
        (13, _) if vehicles.len() > 1 && random.random_bool(0.3) => {
            store.remove_vehicle(row.id, now).unwrap();
        }
        _ => {}
    }
}

/// Gives a vehicle to a customer, who may be new.
fn whose(store: &mut Store, random: &mut ChaCha8Rng, vehicle: VehicleId, step: i64) {
    let now = minute(100 + step);
    let known: Vec<CustomerId> =
        store.list_customers().unwrap().into_iter().map(|(id, _)| id).collect();
    let customer = match known.get(random.random_range(0..known.len() + 1)) {
        Some(known) => *known,
        None => {
            let name = format!("Customer {}", random.random_range(0..3));
            store.add_customer(&Customer { name, ..Customer::default() }, now).unwrap()
        }
    };
    store.set_customer(vehicle, Some(customer), now).unwrap();
}
