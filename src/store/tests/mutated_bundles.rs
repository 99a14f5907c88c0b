use std::path::Path;

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rusqlite::types::Value;
use rusqlite::{Connection, params};

use super::super::bundle::content_digest;
use super::super::{BundleFault, Merged, Store, StoreError};
use super::merging::{bundle_of, busy_visit, content};
use super::summaries::check_summaries;
use super::{Bench, crash_safety};

/// How many bundles are mutated; 10000 for the full run.
const MUTANTS: &str = "STILLTANK_TEST_MUTANTS";

fn mutants() -> u64 {
    std::env::var(MUTANTS).ok().and_then(|text| text.parse().ok()).unwrap_or(150)
}

#[test]
fn a_bundle_with_changed_bytes_is_refused_whole_or_was_not_hit() {
    let mut here = Bench::new(1);
    busy_visit(&mut here, "9ZZAB12C0R1000001");
    let bundle = bundle_of(&mut here, "all", None);
    let intact = std::fs::read(&bundle).unwrap();
    let mut sound = Bench::new(2);
    sound.store.import(&bundle).unwrap();
    let expected = content(&sound.store);
    let mut random = ChaCha8Rng::seed_from_u64(7);
    let mut there = Bench::new(2);
    let empty = content(&there.store);
    let (rounds, mut refused) = (mutants(), 0);
    for round in 0..rounds {
        std::fs::write(&bundle, changed(&intact, &mut random)).unwrap();
        match there.store.import(&bundle) {
            Err(StoreError::BadBundle { .. } | StoreError::Newer { .. }) => {
                refused += 1;
                assert!(content(&there.store) == empty, "round {round}: partly imported");
            }
            Ok(_) => {
                assert!(content(&there.store) == expected, "round {round}: imported otherwise");
                there = Bench::new(2);
            }
            Err(error) => panic!("round {round}: {error:?}"),
        }
    }
    // The others hit unused parts of pages, or the free rest of the file.
    assert!(refused > rounds / 3, "{refused} of {rounds}");
}

/// Bits flipped, bytes overwritten, the end cut off, or two stretches swapped.
fn changed(intact: &[u8], random: &mut ChaCha8Rng) -> Vec<u8> {
    let mut bytes = intact.to_vec();
    let place = |random: &mut ChaCha8Rng| random.random_range(0..intact.len());
    match random.random_range(0..4) {
        0 => bytes[place(random)] ^= 1 << random.random_range(0..8),
        1 => {
            for _ in 0..40 {
                bytes[place(random)] = random.random();
            }
        }
        2 => bytes.truncate(place(random)),
        _ => {
            let (from, to) = (place(random), place(random));
            for step in 0..200.min(bytes.len() - from.max(to)) {
                bytes.swap(from + step, to + step);
            }
        }
    }
    bytes
}

/// As a faulty or hostile program would write it: any value anywhere, with the digest that fits.
#[test]
fn a_bundle_of_odd_values_with_the_right_digest_is_refused_or_merged_whole() {
    let mut here = Bench::new(1);
    busy_visit(&mut here, "9ZZAB12C0R1000001");
    let bundle = bundle_of(&mut here, "all", None);
    let intact = std::fs::read(&bundle).unwrap();
    let mut random = ChaCha8Rng::seed_from_u64(8);
    let mut there = Bench::new(2);
    let empty = content(&there.store);
    let (mut refused, mut merged, mut untouched) = (0, 0, 0);
    for round in 0..mutants() {
        std::fs::write(&bundle, &intact).unwrap();
        if !give_odd_value(&bundle, &mut random) {
            untouched += 1;
            continue;
        }
        match there.store.import(&bundle) {
            Ok(_) => {
                merged += 1;
                crash_safety::check_integrity(&there.store);
                let mut loose = there.store.connection.prepare("PRAGMA foreign_key_check").unwrap();
                assert!(loose.query([]).unwrap().next().unwrap().is_none(), "round {round}");
                drop(loose);
                let again = there.store.import(&bundle).unwrap();
                assert_eq!(again, Merged::default(), "round {round}: doubled");
                look_at_everything(&there.store);
                there = Bench::new(2);
            }
            Err(StoreError::Database(error)) => panic!("round {round}: no clear error: {error}"),
            Err(_) => {
                refused += 1;
                assert!(content(&there.store) == empty, "round {round}: partly imported");
            }
        }
    }
    assert!(refused > 0 && merged > 0, "{refused} {merged} {untouched}");
}

/// Nothing that was merged may stop the program.
fn look_at_everything(store: &Store) {
    for vehicle in store.list_vehicles("").unwrap() {
        store.timeline(vehicle.id).unwrap();
        store.list_fill_ups(vehicle.id).unwrap();
        for visit in store.list_visits(vehicle.id).unwrap() {
            store.load_visit(visit.id).unwrap();
        }
    }
    store.open_follow_ups().unwrap();
    store.conflicts().unwrap();
    check_summaries(store);
}

/// The digest fits, so that nothing but the value itself tells that no page could show it.
#[test]
fn a_bundle_of_which_a_visit_could_not_be_opened_is_refused_whole() {
    let mut here = Bench::new(1);
    busy_visit(&mut here, "9ZZAB12C0R1000001");
    busy_visit(&mut here, "");
    let bundle = bundle_of(&mut here, "all", None);
    let intact = std::fs::read(&bundle).unwrap();
    let mut there = Bench::new(2);
    busy_visit(&mut there, "9ZZAB12C0R1000003");
    let before = content(&there.store);
    for nonsense in [
        "UPDATE verdicts SET verdict_json = 'guilty' WHERE id = 2",
        "UPDATE verdicts SET verdict_json = '{\"outcome\": \"fault_found\"}' WHERE id = 2",
        "UPDATE verdicts SET outcome = 'perhaps' WHERE id = 2",
        "UPDATE check_results SET result_json = '[]' WHERE id = 2",
        "UPDATE car_reports SET report_json = '' WHERE id = 2",
        "UPDATE sample_chunks SET times = x'00' WHERE id = 2",
        "UPDATE visits SET started_unix_us = 9223372036854775807 WHERE id = 2",
        "UPDATE monitor_results SET monitor = 256 WHERE id = 2",
        "UPDATE edits SET edited_unix_us = 9223372036854775807 WHERE id = 9",
        "UPDATE edits SET value = '9223372036854775807' WHERE field = 'due'",
    ] {
        std::fs::write(&bundle, &intact).unwrap();
        let sql = Connection::open(&bundle).unwrap();
        assert!(sql.execute(nonsense, []).unwrap() > 0, "{nonsense}");
        sign(&sql);
        sql.close().unwrap();
        let refusal = there.store.import(&bundle).unwrap_err();
        let fault = BundleFault::Unreadable;
        assert!(
            matches!(&refusal, StoreError::BadBundle { fault: told, .. }
                if *told == fault || *told == BundleFault::ImpossibleValue),
            "{nonsense}: {refusal:?}"
        );
        assert!(content(&there.store) == before, "{nonsense}: partly imported");
    }
    std::fs::write(&bundle, &intact).unwrap();
    assert_eq!(there.store.import(&bundle).unwrap().visits, 2);
}

/// Writes the digest that fits what the bundle holds now.
fn sign(sql: &Connection) {
    let digest = content_digest(sql).unwrap();
    sql.execute(
        "UPDATE bundle_manifest SET value = ?1 WHERE name = 'content_sha256'",
        params![digest],
    )
    .unwrap();
}

/// Writes something else into one field of one row. Returns whether the table took it.
fn give_odd_value(bundle: &Path, random: &mut ChaCha8Rng) -> bool {
    let sql = Connection::open(bundle).unwrap();
    let texts = |question: &str| -> Vec<String> {
        let mut statement = sql.prepare(question).unwrap();
        statement.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect()
    };
    let mut tables = texts(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'vehicle_search%'
         AND name NOT LIKE 'sqlite_%' AND name <> 'bundle_manifest'",
    );
    tables.retain(|table| !texts(&format!("SELECT 'row' FROM {table} LIMIT 1")).is_empty());
    let table = &tables[random.random_range(0..tables.len())];
    let columns =
        texts(&format!("SELECT name FROM pragma_table_info('{table}') WHERE name <> 'id'"));
    let column = &columns[random.random_range(0..columns.len())];
    let kind =
        texts(&format!("SELECT type FROM pragma_table_info('{table}') WHERE name = '{column}'"));
    let choice = random.random_range(0..4);
    let value = match (kind[0].as_str(), choice) {
        ("INTEGER", 0) => Value::Integer(i64::MAX),
        ("INTEGER", 1) => Value::Integer(i64::MIN),
        ("INTEGER", _) => Value::Integer(random.random_range(-3..40)),
        ("REAL", 0) => Value::Real(f64::NEG_INFINITY),
        ("REAL", _) => Value::Real(1e308),
        ("TEXT", 0) => Value::Text(String::new()),
        ("TEXT", 1) => Value::Text("{\"value\": 1e999}".to_owned()),
        ("TEXT", 2) => Value::Text("\u{0}'; DROP TABLE vehicles; --".to_owned()),
        ("TEXT", _) => Value::Text("-1".to_owned()),
        (_, 0) => Value::Blob(vec![0xFF; 9]),
        _ => Value::Blob((0..random.random_range(0..64)).map(|_| random.random()).collect()),
    };
    let changed = sql.execute(
        &format!(
            "UPDATE {table} SET {column} = ?1
             WHERE id = (SELECT id FROM {table} ORDER BY id LIMIT 1 OFFSET ?2)"
        ),
        params![value, random.random_range(0..3)],
    );
    sign(&sql);
    changed.is_ok_and(|rows| rows > 0)
}
