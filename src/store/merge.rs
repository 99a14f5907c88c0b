//! Rows from one file into another, by their names on every device.
//!
//! Rows never change once written (what a person changes stands in `edits`), so merging is a union:
//! the same whichever way round and however often. Two things need more than that. Of two copies of
//! one recording the longer is taken, as each only grows at its end. And vehicles that two devices
//! entered apart become one when their VIN is the same, under the smaller of their names.

use std::collections::BTreeSet;

use rusqlite::types::Value;
use rusqlite::{Connection, params, params_from_iter};

use super::edits::{acceptable, project_row};
use super::merge_tables::{Scope, TABLES, Table};
use super::one_vehicle::{known_as, take_aliases, unify_vehicles};
use super::{BundleFault, StoreError, VehicleId, search};

/// What a merge brought.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Merged {
    /// Vehicles that were not here.
    pub vehicles: usize,
    /// Visits that were not here.
    pub visits: usize,
    /// Recordings that were not here or were shorter here.
    pub recordings: usize,
    /// Entries of fields that were not here.
    pub entries: usize,
    /// Photos that were not here.
    pub photos: usize,
    /// Vehicles that turned out to be one and the same.
    pub unified: usize,
}

/// Takes the rows of `scope` from one file into another, within the caller's transaction.
pub(super) fn merge(from: &Connection, into: &Connection, scope: Scope) -> Result<Merged, Refused> {
    let mut merged = Merged::default();
    let mut uids: BTreeSet<String> = BTreeSet::new();
    let mut found_by: BTreeSet<String> = BTreeSet::new();
    for table in TABLES {
        let added = take_table(from, into, table, scope, &mut uids)?;
        if matches!(table.name, "customers" | "vehicles") {
            // These come before all others: no other names are in the set yet.
            found_by.clone_from(&uids);
        }
        match table.name {
            "vehicles" => merged.vehicles = added,
            "visits" => merged.visits = added,
            "photos" => merged.photos = added,
            _ => {}
        }
    }
    take_aliases(from, into, &uids)?;
    merged.recordings = take_samples(from, into, scope)?;
    let entered = take_edits(from, into, &uids)?;
    merged.entries = entered.entries;
    for row_uid in &entered.rows {
        project_row(into, row_uid)?;
    }
    merged.unified = unify_vehicles(into)?;
    index(into, &found_by)?;
    Ok(merged)
}

/// Why a merge stopped.
#[derive(Debug)]
pub(super) enum Refused {
    Fault(BundleFault),
    Store(StoreError),
}

impl From<StoreError> for Refused {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

impl From<rusqlite::Error> for Refused {
    fn from(error: rusqlite::Error) -> Self {
        Self::Store(error.into())
    }
}

/// Copies a table's rows that are not there yet; adds the names of all of them to `uids`.
fn take_table(
    from: &Connection,
    into: &Connection,
    table: &Table,
    scope: Scope,
    uids: &mut BTreeSet<String>,
) -> Result<usize, StoreError> {
    let named = table.columns.first() == Some(&"uid");
    let mut read = from.prepare(&table.read_rows())?;
    let mut write = into.prepare(&table.write_row())?;
    let width = table.columns.len() + usize::from(table.parent.is_some());
    let mut rows = read.query([scope.parameter()])?;
    let mut added = 0;
    while let Some(row) = rows.next()? {
        let mut values: Vec<Value> =
            (0..width).map(|column| row.get(column)).collect::<Result<_, _>>()?;
        if let (true, Some(Value::Text(uid))) = (named, values.first()) {
            uids.insert(uid.clone());
            if table.name == "vehicles" && known_as(into, uid)? != *uid {
                continue;
            }
        }
        if let (Some(("vehicles", _)), Some(Value::Text(parent))) = (table.parent, values.last()) {
            let parent = known_as(into, parent)?;
            if let Some(last) = values.last_mut() {
                *last = Value::Text(parent);
            }
        }
        added += write.execute(params_from_iter(values))?;
    }
    Ok(added)
}

/// Takes the samples of recordings that are longer there than here.
fn take_samples(from: &Connection, into: &Connection, scope: Scope) -> Result<usize, StoreError> {
    let mut recordings = from.prepare(
        "SELECT r.id, r.uid,
           (SELECT total(sample_count) FROM sample_chunks WHERE recording_id = r.id) AS samples
         FROM recordings AS r JOIN visits AS v ON v.id = r.visit_id
         WHERE ?1 = 'all' OR v.vehicle_id IN (SELECT value FROM json_each(?1)) ORDER BY r.id",
    )?;
    let mut here = into.prepare(
        "SELECT r.id, (SELECT total(sample_count) FROM sample_chunks WHERE recording_id = r.id)
           + (SELECT total(sample_count) FROM sample_tails WHERE recording_id = r.id) AS samples
         FROM recordings AS r WHERE r.uid = ?1",
    )?;
    let mut taken = 0;
    let mut rows = recordings.query([scope.parameter()])?;
    while let Some(row) = rows.next()? {
        let (id, uid): (i64, String) = (row.get("id")?, row.get("uid")?);
        let there: f64 = row.get("samples")?;
        let (own, count): (i64, f64) =
            here.query_row([uid], |row| Ok((row.get("id")?, row.get("samples")?)))?;
        if there > count {
            into.execute("DELETE FROM sample_tails WHERE recording_id = ?1", [own])?;
            into.execute("DELETE FROM sample_chunks WHERE recording_id = ?1", [own])?;
            copy_chunks(from, into, id, own)?;
            taken += 1;
        }
    }
    Ok(taken)
}

fn copy_chunks(
    from: &Connection,
    into: &Connection,
    there: i64,
    own: i64,
) -> Result<(), StoreError> {
    let mut chunks = from.prepare_cached(
        "SELECT id, position, sample_count, first_us, last_us, time_count, times
         FROM sample_chunks WHERE recording_id = ?1 ORDER BY position",
    )?;
    let mut series = from.prepare_cached(
        "SELECT signal, sample_count, places, sample_values FROM chunk_series
         WHERE chunk_id = ?1 ORDER BY signal",
    )?;
    let mut rows = chunks.query([there])?;
    while let Some(row) = rows.next()? {
        let values: Vec<Value> = (1..=6).map(|column| row.get(column)).collect::<Result<_, _>>()?;
        into.prepare_cached(
            "INSERT INTO sample_chunks (position, sample_count, first_us, last_us, time_count,
               times, recording_id) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
        )?
        .execute(params_from_iter(values.into_iter().chain([Value::Integer(own)])))?;
        let chunk = into.last_insert_rowid();
        let mut parts = series.query([row.get::<_, i64>("id")?])?;
        while let Some(part) = parts.next()? {
            let values: Vec<Value> =
                (0..4).map(|column| part.get(column)).collect::<Result<_, _>>()?;
            into.prepare_cached(
                "INSERT INTO chunk_series (signal, sample_count, places, sample_values, chunk_id)
                 VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute(params_from_iter(values.into_iter().chain([Value::Integer(chunk)])))?;
        }
    }
    Ok(())
}

struct Entered {
    entries: usize,
    rows: BTreeSet<String>,
}

/// Takes the entries of the named rows.
fn take_edits(
    from: &Connection,
    into: &Connection,
    uids: &BTreeSet<String>,
) -> Result<Entered, Refused> {
    let mut entered = Entered { entries: 0, rows: BTreeSet::new() };
    let mut edits = from.prepare(
        "SELECT uid, entity, field, value, edited_unix_us FROM edits WHERE row_uid = ?1 ORDER BY id",
    )?;
    let mut replaced =
        from.prepare("SELECT replaced_uid FROM edit_replacements WHERE edit_uid = ?1")?;
    for there in uids {
        let row_uid = known_as(into, there)?;
        let mut rows = edits.query([there])?;
        while let Some(row) = rows.next()? {
            let uid: String = row.get("uid")?;
            let (entity, field): (String, String) = (row.get("entity")?, row.get("field")?);
            let value: String = row.get("value")?;
            if !acceptable(&entity, &field, &value) {
                return Err(Refused::Fault(BundleFault::ImpossibleValue));
            }
            let at: i64 = row.get("edited_unix_us")?;
            let added = into
                .prepare_cached(
                    "INSERT INTO edits (uid, entity, row_uid, field, value, edited_unix_us)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6) ON CONFLICT DO NOTHING",
                )?
                .execute(params![uid, entity, row_uid, field, value, at])?;
            let olders: Vec<String> = replaced
                .query_map([&uid], |row| row.get("replaced_uid"))?
                .collect::<Result<_, _>>()?;
            for older in olders {
                into.prepare_cached(
                    "INSERT INTO edit_replacements (edit_uid, replaced_uid) VALUES (?1, ?2)
                     ON CONFLICT DO NOTHING",
                )?
                .execute(params![uid, older])?;
            }
            entered.entries += added;
            if added > 0 {
                entered.rows.insert(row_uid.clone());
            }
        }
    }
    Ok(entered)
}

/// Writes what can be found of the merged vehicles, and of the merged customers' vehicles, anew.
fn index(into: &Connection, uids: &BTreeSet<String>) -> Result<(), StoreError> {
    let mut vehicles: BTreeSet<VehicleId> = BTreeSet::new();
    let mut statement =
        into.prepare("SELECT id FROM vehicles WHERE uid = ?1 OR customer_uid = ?2")?;
    for uid in uids {
        let found = statement.query_map([&known_as(into, uid)?, uid], |row| row.get("id"))?;
        for id in found {
            vehicles.insert(id?);
        }
    }
    vehicles.into_iter().try_for_each(|vehicle| search::index_vehicle(into, vehicle))
}
