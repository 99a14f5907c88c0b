//! Vehicles that two devices entered apart and that turn out to be one.

use std::collections::{BTreeMap, BTreeSet};

use rusqlite::{Connection, OptionalExtension, params};

use super::edits::project_row;
use super::{StoreError, VehicleId};

/// The name a vehicle goes by here.
pub(super) fn known_as(sql: &Connection, uid: &str) -> Result<String, StoreError> {
    let alias: Option<String> = sql
        .prepare_cached("SELECT vehicle_uid FROM vehicle_aliases WHERE alias_uid = ?1")?
        .query_row([uid], |row| row.get("vehicle_uid"))
        .optional()?;
    Ok(alias.unwrap_or_else(|| uid.to_owned()))
}

/// Takes over that vehicles were found to be one and the same, for the vehicles named.
pub(super) fn take_aliases(
    from: &Connection,
    into: &Connection,
    named: &BTreeSet<String>,
) -> Result<(), StoreError> {
    let mut statement = from.prepare("SELECT alias_uid, vehicle_uid FROM vehicle_aliases")?;
    let aliases: Vec<(String, String)> = statement
        .query_map([], |row| Ok((row.get("alias_uid")?, row.get("vehicle_uid")?)))?
        .collect::<Result<_, _>>()?;
    for (alias, vehicle) in aliases.into_iter().filter(|(_, vehicle)| named.contains(vehicle)) {
        let (alias, vehicle) = (known_as(into, &alias)?, known_as(into, &vehicle)?);
        // The smaller name stays, so that every device ends with the same one.
        let (stays, goes) = if alias < vehicle { (alias, vehicle) } else { (vehicle, alias) };
        if stays != goes {
            fold(into, &goes, &stays)?;
        }
    }
    Ok(())
}

/// Makes one vehicle of those that have one VIN.
pub(super) fn unify_vehicles(sql: &Connection) -> Result<usize, StoreError> {
    let mut statement = sql.prepare(
        "SELECT vin, is_virtual, uid FROM vehicles WHERE vin <> '' AND state = 'kept' ORDER BY uid",
    )?;
    let mut by_vin: BTreeMap<(String, bool), Vec<String>> = BTreeMap::new();
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        by_vin.entry((row.get("vin")?, row.get("is_virtual")?)).or_default().push(row.get("uid")?);
    }
    let mut unified = 0;
    for uids in by_vin.into_values() {
        let Some((stays, others)) = uids.split_first() else { continue };
        for goes in others {
            fold(sql, goes, stays)?;
            unified += 1;
        }
    }
    Ok(unified)
}

/// Gives everything of one vehicle to another and remembers the name under which it was known.
fn fold(sql: &Connection, goes: &str, stays: &str) -> Result<(), StoreError> {
    let id = |uid: &str| {
        sql.prepare_cached("SELECT id FROM vehicles WHERE uid = ?1")?
            .query_row([uid], |row| row.get::<_, VehicleId>("id"))
            .optional()
    };
    let Some(new) = id(stays)? else {
        return Ok(());
    };
    if let Some(old) = id(goes)? {
        for table in ["visits", "fill_ups", "follow_ups"] {
            sql.execute(
                &format!("UPDATE {table} SET vehicle_id = ?1 WHERE vehicle_id = ?2"),
                params![new, old],
            )?;
        }
        sql.execute("DELETE FROM vehicle_search WHERE rowid = ?1", [old])?;
        sql.execute("DELETE FROM vehicles WHERE id = ?1", [old])?;
    }
    sql.execute("UPDATE edits SET row_uid = ?1 WHERE row_uid = ?2", params![stays, goes])?;
    sql.execute(
        "UPDATE vehicle_aliases SET vehicle_uid = ?1 WHERE vehicle_uid = ?2",
        params![stays, goes],
    )?;
    sql.execute(
        "INSERT INTO vehicle_aliases (alias_uid, vehicle_uid) VALUES (?1, ?2)
         ON CONFLICT (alias_uid) DO UPDATE SET vehicle_uid = excluded.vehicle_uid",
        params![goes, stays],
    )?;
    project_row(sql, stays)
}
