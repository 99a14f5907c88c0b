//! Whether everything in a file can be opened by this program.

use std::path::Path;

use rusqlite::Connection;

use super::database::wall_clock;
use super::history::timeline_of;
use super::merge_tables::TABLES;
use super::recordings::{each_sample, read_events};
use super::upkeep::fill_ups_of;
use super::visit_record::load;
use super::visits::visits_of;
use super::{StoreError, VehicleId, VisitId};
use crate::recording::Recording;

/// Reads every vehicle and visit as pages do. Rows never change: what does not read once it was taken
/// in would keep its visit from being opened for good.
///
/// # Errors
///
/// What the first of them says that does not read.
pub(super) fn read_everything(sql: &Connection) -> Result<(), StoreError> {
    // A visit is asked some twenty questions; each is to be prepared once, not once a visit.
    sql.set_prepared_statement_cache_capacity(64);
    let mut vehicles = sql.prepare("SELECT id FROM vehicles ORDER BY id")?;
    let ids: Vec<VehicleId> =
        vehicles.query_map([], |row| row.get("id"))?.collect::<Result<_, _>>()?;
    for vehicle in ids {
        visits_of(sql, vehicle)?;
        timeline_of(sql, vehicle)?;
        fill_ups_of(sql, vehicle)?;
    }
    // Removed ones as well: they can be opened again.
    let mut visits = sql.prepare("SELECT id FROM visits ORDER BY id")?;
    let ids: Vec<VisitId> = visits.query_map([], |row| row.get("id"))?.collect::<Result<_, _>>()?;
    for visit in ids {
        each_sample(sql, visit, &mut |_, _| {})?;
        let mut recording = Recording::default();
        read_events(sql, visit, &mut recording)?;
        // Where pictures lie is not asked here.
        load(sql, Path::new(""), visit, recording)?;
    }
    // Rows that no page shows now may be shown after another entry.
    let times = TABLES.iter().flat_map(|table| table.columns.iter().map(|it| (table.name, *it)));
    let times = times.filter(|(_, column)| column.ends_with("_unix_us"));
    for (table, column) in times.chain([("edits", "edited_unix_us")]) {
        let question = format!(
            "SELECT coalesce(min({column}), 0) AS first, coalesce(max({column}), 0) AS last FROM {table}"
        );
        let (first, last) =
            sql.query_row(&question, [], |row| Ok((row.get("first")?, row.get("last")?)))?;
        wall_clock(first)?;
        wall_clock(last)?;
    }
    Ok(())
}
