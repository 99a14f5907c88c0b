use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicBool, Ordering};

use rusqlite::Connection;

use super::super::database::lock_out_others;
use super::super::schema::KNOWN_SCHEMA;
use super::super::{Store, StoreError, restore};
use super::{Bench, batch, minute};

#[test]
fn a_fresh_file_has_the_newest_schema_and_write_ahead_logging() {
    let bench = Bench::new(1);
    let sql = &bench.store.connection;
    let mode: String = sql.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
    let keys: bool = sql.pragma_query_value(None, "foreign_keys", |row| row.get(0)).unwrap();
    let version: u32 = sql.pragma_query_value(None, "user_version", |row| row.get(0)).unwrap();
    assert_eq!((mode.as_str(), keys, version), ("wal", true, KNOWN_SCHEMA));
}

#[test]
fn every_table_is_strict_and_every_column_is_not_null() {
    let bench = Bench::new(1);
    let sql = &bench.store.connection;
    let of_search = "tables.name NOT LIKE 'vehicle_search%' AND tables.name NOT LIKE 'sqlite_%'";
    let lax: Vec<String> = sql
        .prepare(&format!(
            "SELECT name FROM pragma_table_list AS tables
             WHERE schema = 'main' AND NOT strict AND {of_search}"
        ))
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    assert_eq!(lax, Vec::<String>::new());
    let nullable: Vec<String> = sql
        .prepare(&format!(
            "SELECT tables.name || '.' || columns.name FROM pragma_table_list AS tables,
               pragma_table_info(tables.name) AS columns
             WHERE tables.schema = 'main' AND {of_search}
               AND NOT columns.\"notnull\" AND NOT columns.pk"
        ))
        .unwrap()
        .query_map([], |row| row.get(0))
        .unwrap()
        .collect::<Result<_, _>>()
        .unwrap();
    assert_eq!(nullable, Vec::<String>::new());
}

#[test]
fn a_second_instance_is_told_that_the_file_is_taken() {
    let bench = Bench::new(1);
    assert!(matches!(Store::open(&bench.path()), Err(StoreError::Locked { .. })));
    let bench = bench.reopen();
    assert_eq!(bench.store.list_vehicles("").unwrap(), vec![]);
}

/// A child process that is being started holds copies of the open files for a moment. Whoever closes
/// a database and opens it again must not find it taken by that.
#[test]
fn a_database_that_was_closed_is_free_at_once_while_others_start_programs() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("garage.db");
    drop(Store::open(&path).unwrap());
    let done = AtomicBool::new(false);
    std::thread::scope(|scope| {
        for _ in 0..3 {
            scope.spawn(|| {
                while !done.load(Ordering::Relaxed) {
                    let program = std::env::current_exe().unwrap();
                    let child = Command::new(program).arg("--help").stdout(Stdio::null()).status();
                    assert!(child.unwrap().success());
                }
            });
        }
        let taken = (0..400).filter(|_| lock_out_others(&path).is_err()).count();
        done.store(true, Ordering::Relaxed);
        assert_eq!(taken, 0);
    });
}

#[test]
fn a_newer_file_is_refused_and_not_one_byte_changes() {
    let bench = Bench::new(1);
    let path = bench.path();
    drop(bench.store);
    let sql = Connection::open(&path).unwrap();
    sql.pragma_update(None, "user_version", KNOWN_SCHEMA + 1).unwrap();
    sql.close().unwrap();
    let before = std::fs::read(&path).unwrap();
    let refusal = Store::open(&path).unwrap_err();
    assert!(
        matches!(refusal, StoreError::Newer { found, known, .. }
            if found == KNOWN_SCHEMA + 1 && known == KNOWN_SCHEMA),
        "{refusal}"
    );
    assert_eq!(std::fs::read(&path).unwrap(), before);
    assert!(!path.with_file_name("garage.db-wal").exists());
}

#[test]
fn a_database_of_another_program_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("other.db");
    let sql = Connection::open(&path).unwrap();
    sql.execute_batch("CREATE TABLE poems (line TEXT)").unwrap();
    sql.close().unwrap();
    let before = std::fs::read(&path).unwrap();
    assert!(matches!(Store::open(&path), Err(StoreError::Foreign { .. })));
    assert_eq!(std::fs::read(&path).unwrap(), before);
}

#[test]
fn a_file_that_is_no_database_is_damaged_and_stays() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("notes.db");
    std::fs::write(&path, "a shopping list".repeat(20)).unwrap();
    assert!(matches!(Store::open(&path), Err(StoreError::Damaged { .. })));
    assert_eq!(std::fs::read(&path).unwrap(), "a shopping list".repeat(20).as_bytes());
}

#[test]
fn a_path_that_cannot_be_written_says_so() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    std::fs::write(&file, "").unwrap();
    assert_not_writable(&file.join("garage.db"));
    assert_not_writable(folder.path());
}

fn assert_not_writable(path: &Path) {
    let refusal = Store::open(path).unwrap_err();
    assert!(matches!(refusal, StoreError::NotWritable { .. }), "{refusal:?}");
}

#[test]
fn a_full_disk_loses_the_last_step_only() {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    let pages: i64 =
        bench.store.connection.pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
    bench.store.connection.pragma_update(None, "max_page_count", pages + 20).unwrap();
    let mut kept = 0;
    let refusal = loop {
        let samples: Vec<_> = (kept * 200..(kept + 1) * 200).flat_map(batch).collect();
        match bench.store.append_samples(visit, &samples) {
            Ok(_) => kept += 1,
            Err(refusal) => break refusal,
        }
    };
    assert!(matches!(refusal, StoreError::DiskFull { .. }), "{refusal:?}");
    assert!(kept > 0);
    let expected: usize = kept * 400;
    let found = |store: &Store| {
        store.load_recording(visit).unwrap().signals().map(|(_, s)| s.len()).sum::<usize>()
    };
    assert_eq!(found(&bench.store), expected);
    bench.store.connection.pragma_update(None, "max_page_count", pages + 2000).unwrap();
    assert_eq!(bench.store.append_samples(visit, &batch(kept * 200)).unwrap(), 2);
    assert_eq!(found(&bench.reopen().store), expected + 2);
}

#[test]
fn a_backup_is_made_once_a_day_and_only_after_a_change() {
    let mut bench = Bench::new(1);
    bench.vehicle("Blue estate", "");
    let first = bench.store.back_up_if_due(minute(0)).unwrap();
    assert!(first.is_some_and(|path| path.ends_with("garage.db-backups/2023-11-14.db")));
    bench.vehicle("Red van", "");
    assert_eq!(bench.store.back_up_if_due(minute(1)).unwrap(), None);
    assert!(bench.store.back_up_if_due(minute(24 * 60)).unwrap().is_some());
    assert_eq!(bench.store.back_up_if_due(minute(48 * 60)).unwrap(), None);
}

#[test]
fn a_restored_backup_shows_the_old_state_and_keeps_the_newer_one() {
    let mut bench = Bench::new(1);
    bench.vehicle("Blue estate", "");
    let copy = bench.store.back_up_if_due(minute(0)).unwrap().unwrap();
    bench.vehicle("Red van", "");
    let path = bench.path();
    assert!(matches!(restore(&path, &copy), Err(StoreError::Locked { .. })));
    drop(bench.store);
    let kept = restore(&path, &copy).unwrap().unwrap();
    assert_eq!(Store::open(&path).unwrap().list_vehicles("").unwrap().len(), 1);
    assert_eq!(Store::open(&kept).unwrap().list_vehicles("").unwrap().len(), 2);
}
