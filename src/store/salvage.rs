//! What can still be read of a damaged file, in a fresh one.
//!
//! Rows are read table by table from the front until a page does not read, then from the back, then
//! one number at a time in between. What a lost row was needed for is handled in the end: a vehicle
//! or visit is put back empty (its fields come back from `edits`, if those were saved), anything
//! else that hangs loose is left out and counted.

use std::collections::BTreeMap;
use std::path::Path;

use rusqlite::types::Value;
use rusqlite::{Connection, OpenFlags, params, params_from_iter};

use super::database::look_before_opening;
use super::edits::project_row;
use super::schema::{self, KNOWN_SCHEMA};
use super::uid::derived_uid;
use super::{Store, StoreError, VehicleId, search, summaries};

/// What was saved of a damaged file.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Salvaged {
    /// Rows saved, by table.
    pub saved: BTreeMap<String, usize>,
    /// Rows that are known to be lost, by table: numbers that were given out between saved rows and
    /// do not read, and rows that hung loose. A removed row of an older file may count here.
    pub lost: BTreeMap<String, usize>,
    /// Tables of which nothing could be read because their first page is gone.
    pub unreadable: Vec<String>,
}

/// Longest run of row numbers that is tried one at a time.
const LONGEST_GAP: i64 = 1_000_000;

/// Saves what can be read of `damaged` into a new database at `fresh`. The damaged file is only
/// read. A file whose very first page is gone cannot be read at all; then a backup is what is left.
///
/// # Errors
///
/// [`StoreError::NotWritable`] if there is a file at `fresh` already, [`StoreError::Damaged`] if
/// nothing can be read, [`StoreError::Newer`] or [`StoreError::Foreign`] for files of others.
pub fn salvage(damaged: &Path, fresh: &Path) -> Result<Salvaged, StoreError> {
    look_before_opening(damaged)?;
    if fresh.exists() {
        return Err(StoreError::NotWritable { path: fresh.to_path_buf() });
    }
    let from = Connection::open_with_flags(damaged, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_err(|error| StoreError::from(error).at(damaged))?;
    let tables = tables_of(&from).map_err(|error| error.at(damaged))?;
    let mut store = Store::open(fresh)?;
    let salvaged = store.fill_from(&from, &tables).map_err(|error| error.at(fresh))?;
    store.seal_interrupted()?;
    Ok(salvaged)
}

/// Tables that follow from the others.
const MADE_ANEW: [&str; 3] = ["sqlite_sequence", "vehicle_summaries", "changed_vehicles"];

/// The tables that both the damaged file and this program have.
fn tables_of(from: &Connection) -> Result<Vec<String>, StoreError> {
    let version = schema::schema_version(from)?;
    let expected = schema::expected_objects(version.clamp(1, KNOWN_SCHEMA), "")?;
    let here = schema::objects(from)?;
    Ok(expected
        .into_iter()
        .filter(|(kind, name, _)| {
            kind == "table"
                && !name.starts_with("vehicle_search")
                && !MADE_ANEW.contains(&name.as_str())
        })
        .filter(|object| here.contains(object))
        .map(|(_, name, _)| name)
        .collect())
}

impl Store {
    fn fill_from(&mut self, from: &Connection, tables: &[String]) -> Result<Salvaged, StoreError> {
        let mut salvaged = Salvaged::default();
        // Rows come in order of table, not of dependence; what hangs loose is found at the end.
        self.connection.pragma_update(None, "foreign_keys", false)?;
        let transaction = self.connection.transaction()?;
        for table in tables {
            transaction.execute(&format!("DELETE FROM {table}"), [])?;
            save_table(from, &transaction, table, &mut salvaged)?;
        }
        tie_up(&transaction, &mut salvaged)?;
        let uids = column(&transaction, "SELECT DISTINCT row_uid FROM edits")?;
        uids.iter().try_for_each(|uid| project_row(&transaction, uid))?;
        let mut vehicles = transaction.prepare("SELECT id FROM vehicles")?;
        let ids: Vec<VehicleId> =
            vehicles.query_map([], |row| row.get("id"))?.collect::<Result<_, _>>()?;
        ids.into_iter().try_for_each(|id| search::index_vehicle(&transaction, id))?;
        drop(vehicles);
        summaries::refresh(&transaction)?;
        transaction.commit()?;
        self.connection.pragma_update(None, "foreign_keys", true)?;
        salvaged.lost.retain(|_, count| *count > 0);
        Ok(salvaged)
    }
}

fn save_table(
    from: &Connection,
    into: &Connection,
    table: &str,
    salvaged: &mut Salvaged,
) -> Result<(), StoreError> {
    let mut saving = Saving { from, into, table, saved: 0 };
    let front = saving.run("ORDER BY id", i64::MIN, i64::MAX)?;
    if let Some(front) = front.broken_after {
        let back = saving.run("ORDER BY id DESC", front.saturating_add(1), i64::MAX)?;
        let end = back.broken_after.unwrap_or(i64::MAX);
        let start = if front == i64::MIN { 0 } else { front };
        if back.broken_after.is_some() && end.saturating_sub(start) <= LONGEST_GAP {
            for id in start.saturating_add(1)..end {
                saving.run("LIMIT 1", id, id)?;
            }
        }
        let last: i64 = into.query_row(
            &format!("SELECT coalesce(max(id), 0) AS last FROM {table}"),
            [],
            |row| row.get("last"),
        )?;
        let lost = usize::try_from(last).unwrap_or(0).saturating_sub(saving.saved);
        salvaged.lost.insert(table.to_owned(), lost);
        if saving.saved == 0 {
            salvaged.unreadable.push(table.to_owned());
        }
    }
    salvaged.saved.insert(table.to_owned(), saving.saved);
    Ok(())
}

struct Saving<'a> {
    from: &'a Connection,
    into: &'a Connection,
    table: &'a str,
    saved: usize,
}

struct Run {
    /// The last number that was read before reading failed; `i64::MIN` if none was.
    broken_after: Option<i64>,
}

impl Saving<'_> {
    /// Saves rows with numbers from `first` to `last` until one does not read.
    fn run(&mut self, order: &str, first: i64, last: i64) -> Result<Run, StoreError> {
        let table = self.table;
        let question = format!("SELECT * FROM {table} WHERE id BETWEEN ?1 AND ?2 {order}");
        let mut reached = i64::MIN;
        let Ok(mut read) = self.from.prepare_cached(&question) else {
            return Ok(Run { broken_after: Some(reached) });
        };
        let names = read.column_names().collect::<Vec<_>>().join(", ");
        let width = read.column_count();
        let places = vec!["?"; width].join(", ");
        let mut write = self.into.prepare_cached(&format!(
            "INSERT INTO {table} ({names}) VALUES ({places}) ON CONFLICT DO NOTHING"
        ))?;
        let Ok(mut rows) = read.query(params![first, last]) else {
            return Ok(Run { broken_after: Some(reached) });
        };
        loop {
            match rows.next() {
                Ok(None) => return Ok(Run { broken_after: None }),
                Err(_) => return Ok(Run { broken_after: Some(reached) }),
                Ok(Some(row)) => {
                    let values: Result<Vec<Value>, _> =
                        (0..width).map(|column| row.get(column)).collect();
                    let (Ok(values), Ok(id)) = (values, row.get("id")) else { continue };
                    // A value of the wrong kind is refused by the fresh table: that row is lost.
                    self.saved += write.execute(params_from_iter(values)).unwrap_or(0);
                    reached = id;
                }
            }
        }
    }
}

/// Puts back empty what rows need, and leaves out what then still hangs loose.
fn tie_up(sql: &Connection, salvaged: &mut Salvaged) -> Result<(), StoreError> {
    let missing = "SELECT DISTINCT vehicle_id AS id FROM (
        SELECT vehicle_id FROM visits UNION SELECT vehicle_id FROM fill_ups
        UNION SELECT vehicle_id FROM follow_ups)
      WHERE vehicle_id NOT IN (SELECT id FROM vehicles)";
    let mut statement = sql.prepare(missing)?;
    let ids: Vec<i64> = statement.query_map([], |row| row.get("id"))?.collect::<Result<_, _>>()?;
    for id in ids {
        sql.execute(
            "INSERT INTO vehicles (id, uid, added_unix_us, is_virtual) VALUES (?1, ?2, 0, 0)",
            params![id, derived_uid(&[b"salvaged", &id.to_le_bytes()])],
        )?;
    }
    loop {
        let mut check = sql.prepare("PRAGMA foreign_key_check")?;
        let loose: Vec<(String, i64)> = check
            .query_map([], |row| Ok((row.get("table")?, row.get("rowid")?)))?
            .collect::<Result<_, _>>()?;
        if loose.is_empty() {
            return Ok(());
        }
        for (table, id) in loose {
            sql.execute(&format!("DELETE FROM {table} WHERE id = ?1"), [id])?;
            *salvaged.lost.entry(table.clone()).or_default() += 1;
            if let Some(saved) = salvaged.saved.get_mut(&table) {
                *saved = saved.saturating_sub(1);
            }
        }
    }
}

fn column(sql: &Connection, question: &str) -> Result<Vec<String>, StoreError> {
    let mut statement = sql.prepare(question)?;
    Ok(statement.query_map([], |row| row.get(0))?.collect::<Result<_, _>>()?)
}
