use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::{Store, StoreError, salvage};
use super::summaries::check_summaries;
use super::{Bench, batch, minute, throttle_follow};

/// A database of many vehicles, closed, as bytes.
fn many_vehicles() -> (Bench, Vec<u8>) {
    let mut bench = Bench::new(1);
    for number in 0..60 {
        let visit = bench.visit(&format!("Vehicle {number}"), "");
        let samples: Vec<_> = (0..400).flat_map(batch).collect();
        bench.store.append_samples(visit, &samples).unwrap();
        bench.store.save_check(visit, &throttle_follow(-9.0), minute(2)).unwrap();
        bench.store.close_visit(visit, minute(3)).unwrap();
    }
    let path = bench.path();
    drop(bench.store);
    let bytes = std::fs::read(&path).unwrap();
    let store = Store::open(&path).unwrap();
    (Bench { store, folder: bench.folder }, bytes)
}

#[test]
fn an_intact_file_is_salvaged_whole() {
    let (bench, bytes) = many_vehicles();
    let damaged = bench.folder.path().join("damaged.db");
    std::fs::write(&damaged, bytes).unwrap();
    let fresh = bench.folder.path().join("fresh.db");
    let salvaged = salvage(&damaged, &fresh).unwrap();
    assert!(salvaged.lost.is_empty() && salvaged.unreadable.is_empty(), "{salvaged:?}");
    let store = Store::open(&fresh).unwrap();
    let (ours, theirs) = (bench.store.list_vehicles(""), store.list_vehicles(""));
    assert_eq!(theirs.unwrap(), ours.unwrap());
    assert_eq!(store.list_vehicles("Vehicle 17").unwrap().len(), 1);
    check_summaries(&store);
}

#[test]
fn a_damaged_file_is_refused_and_most_of_it_saved() {
    let (bench, intact) = many_vehicles();
    let mut random = ChaCha8Rng::seed_from_u64(3);
    let page = 4096;
    let mut vehicles_saved = Vec::new();
    for round in 0..12 {
        let mut bytes = intact.clone();
        // Whole pages overwritten, as by a failing memory card; the first page spared.
        for _ in 0..3 {
            let start = random.random_range(1..bytes.len() / page) * page;
            for byte in &mut bytes[start..start + page] {
                *byte = random.random();
            }
        }
        let damaged = bench.folder.path().join(format!("damaged-{round}.db"));
        std::fs::write(&damaged, &bytes).unwrap();
        let fresh = bench.folder.path().join(format!("fresh-{round}.db"));
        let refusal = Store::open(&damaged);
        if !matches!(refusal, Err(StoreError::Damaged { .. })) {
            continue;
        }
        match salvage(&damaged, &fresh) {
            Ok(salvaged) => {
                let store = Store::open(&fresh).unwrap();
                let rows = store.list_vehicles("").unwrap();
                let readable = rows.iter().flat_map(|row| store.list_visits(row.id).unwrap());
                let readable = readable.filter(|visit| store.load_visit(visit.id).is_ok()).count();
                assert!(readable <= 60, "{salvaged:?}");
                vehicles_saved.push(rows.len());
            }
            // The damage hit the list of tables.
            Err(StoreError::Damaged { .. }) => vehicles_saved.push(0),
            Err(error) => panic!("round {round}: {error:?}"),
        }
    }
    vehicles_saved.sort_unstable();
    assert!(vehicles_saved.len() >= 8, "{vehicles_saved:?}");
    assert!(vehicles_saved[vehicles_saved.len() / 2] >= 50, "{vehicles_saved:?}");
}

#[test]
fn salvage_never_writes_over_a_file() {
    let (bench, bytes) = many_vehicles();
    let damaged = bench.folder.path().join("damaged.db");
    std::fs::write(&damaged, bytes).unwrap();
    let refusal = salvage(&damaged, &damaged).unwrap_err();
    assert!(matches!(refusal, StoreError::NotWritable { .. }));
}
