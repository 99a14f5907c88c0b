use std::collections::BTreeMap;
use std::path::Path;

use chrono::{DateTime, Utc};
use rusqlite::{Connection, OpenFlags, OptionalExtension, params};

use super::StoreError;
use super::database::{Store, look_before_opening, micros, wall_clock};

/// An adapter that was used on this device.
#[derive(Clone, Debug, PartialEq)]
pub struct KnownAdapter {
    /// Where it is, in the caller's own words; one adapter an address.
    pub address: String,
    /// Its name.
    pub name: String,
    /// What was learnt of it, as the caller saved it.
    pub capability: serde_json::Value,
    /// When it was last used.
    pub used: DateTime<Utc>,
}

impl Store {
    /// Keeps a setting of this device. Settings do not travel.
    pub fn set_setting(&mut self, name: &str, value: &str) -> Result<(), StoreError> {
        self.write(|writing| {
            writing.sql.execute(
                "INSERT INTO settings (name, value) VALUES (?1, ?2)
                 ON CONFLICT (name) DO UPDATE SET value = excluded.value",
                params![name, value],
            )?;
            Ok(())
        })
    }

    /// A setting of this device, if it was ever set.
    pub fn setting(&self, name: &str) -> Result<Option<String>, StoreError> {
        self.read(|sql| {
            Ok(sql
                .query_row("SELECT value FROM settings WHERE name = ?1", [name], |row| {
                    row.get("value")
                })
                .optional()?)
        })
    }

    /// Every setting of this device.
    pub fn settings(&self) -> Result<BTreeMap<String, String>, StoreError> {
        self.read(|sql| {
            let mut statement = sql.prepare("SELECT name, value FROM settings")?;
            let rows = statement.query_map([], |row| Ok((row.get("name")?, row.get("value")?)))?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }

    /// Remembers an adapter, or what was learnt of it since.
    pub fn remember_adapter(&mut self, adapter: &KnownAdapter) -> Result<(), StoreError> {
        self.write(|writing| {
            writing.sql.execute(
                "INSERT INTO adapters (address, name, capability_json, used_unix_us)
                 VALUES (?1, ?2, ?3, ?4) ON CONFLICT (address) DO UPDATE SET
                   name = excluded.name, capability_json = excluded.capability_json,
                   used_unix_us = excluded.used_unix_us",
                params![
                    adapter.address,
                    adapter.name,
                    adapter.capability.to_string(),
                    micros(adapter.used)
                ],
            )?;
            Ok(())
        })
    }

    /// Forgets an adapter. One that was never remembered is no failure.
    pub fn forget_adapter(&mut self, address: &str) -> Result<(), StoreError> {
        self.write(|writing| {
            writing.sql.execute("DELETE FROM adapters WHERE address = ?1", [address])?;
            Ok(())
        })
    }

    /// Adapters used on this device, the last one first.
    pub fn known_adapters(&self) -> Result<Vec<KnownAdapter>, StoreError> {
        self.read(adapters_of)
    }
}

/// Adapters that a database remembers, the last one first. The file may be open elsewhere, and is
/// only read; where there is none, nothing is remembered.
///
/// # Errors
///
/// [`StoreError::Newer`], [`StoreError::Damaged`] or [`StoreError::Foreign`] if the file is not to be
/// read, and what the engine says beyond these.
pub fn adapters_remembered_in(database: &Path) -> Result<Vec<KnownAdapter>, StoreError> {
    look_before_opening(database)?;
    if std::fs::metadata(database).map_or(0, |file| file.len()) == 0 {
        return Ok(Vec::new());
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    Connection::open_with_flags(database, flags)
        .map_err(StoreError::from)
        .and_then(|sql| adapters_of(&sql))
        .map_err(|error| error.at(database))
}

fn adapters_of(sql: &Connection) -> Result<Vec<KnownAdapter>, StoreError> {
    let mut statement = sql.prepare(
        "SELECT address, name, capability_json, used_unix_us FROM adapters
         ORDER BY used_unix_us DESC, address",
    )?;
    let mut rows = statement.query([])?;
    let mut adapters = Vec::new();
    while let Some(row) = rows.next()? {
        let json: String = row.get("capability_json")?;
        adapters.push(KnownAdapter {
            address: row.get("address")?,
            name: row.get("name")?,
            capability: super::judgements::from_json("adapters.capability_json", &json)?,
            used: wall_clock(row.get("used_unix_us")?)?,
        });
    }
    Ok(adapters)
}
