//! What a person entered, one field at a time, so that two devices can be merged without losing
//! either's work.
//!
//! Each change of a field is an entry that names the entries it was made in sight of. Entries that
//! no other entry replaces compete; the latest of them (then the one with the larger name) is what
//! the field shows, and the others are kept as a conflict until the field is entered again. Merging
//! is the union of the entries, so it does not matter who merges what into whom, or how often.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rusqlite::{Connection, OptionalExtension, params};

use super::StoreError;
use super::database::{Store, Writing, micros, wall_clock};
use super::fields::{Entity, field_row};

/// A field for which two devices entered different things without knowing of each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// Kind of the row, such as `vehicle`.
    pub entity: String,
    /// The row's name on every device.
    pub row_uid: String,
    /// The field, such as `name`.
    pub field: String,
    /// What the field shows: the later entry.
    pub shown: String,
    /// What else was entered, newest first.
    pub also: Vec<(String, DateTime<Utc>)>,
}

impl Store {
    /// Fields with more than one answer. Entering a field again settles it.
    pub fn conflicts(&self) -> Result<Vec<Conflict>, StoreError> {
        self.read(|sql| {
            let mut statement = sql.prepare(
                "SELECT entity, row_uid, field, value, edited_unix_us FROM edits AS e
                 WHERE NOT EXISTS (SELECT 1 FROM edit_replacements WHERE replaced_uid = e.uid)
                 ORDER BY entity, row_uid, field, edited_unix_us DESC, uid DESC",
            )?;
            let mut fields: BTreeMap<_, Vec<(String, DateTime<Utc>)>> = BTreeMap::new();
            let mut rows = statement.query([])?;
            while let Some(row) = rows.next()? {
                let key: (String, String, String) =
                    (row.get("entity")?, row.get("row_uid")?, row.get("field")?);
                let at = wall_clock(row.get("edited_unix_us")?)?;
                fields.entry(key).or_default().push((row.get("value")?, at));
            }
            let conflicts = fields.into_iter().filter_map(|((entity, row_uid, field), heads)| {
                let (shown, _) = heads.first()?.clone();
                let also: Vec<_> = heads.into_iter().filter(|(value, _)| *value != shown).collect();
                (!also.is_empty()).then_some(Conflict { entity, row_uid, field, shown, also })
            });
            Ok(conflicts.collect())
        })
    }
}

impl Writing<'_> {
    /// Enters a value into a field. Entering what it shows already changes nothing.
    pub(super) fn enter(
        &mut self,
        entity: Entity,
        row_uid: &str,
        field: &str,
        value: &str,
        at: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let heads = heads(self.sql, row_uid, field)?;
        let settled = heads.iter().all(|head| head.value == value);
        if settled && (!heads.is_empty() || value.is_empty()) {
            return Ok(());
        }
        let uid = self.new_uid()?;
        self.sql
            .prepare_cached(
                "INSERT INTO edits (uid, entity, row_uid, field, value, edited_unix_us)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
            )?
            .execute(params![uid, entity.name(), row_uid, field, value, micros(at)])?;
        for head in heads {
            self.sql
                .prepare_cached(
                    "INSERT INTO edit_replacements (edit_uid, replaced_uid) VALUES (?1, ?2)",
                )?
                .execute(params![uid, head.uid])?;
        }
        project(self.sql, entity, row_uid, field)
    }
}

/// Writes what the entries of a field say into the row's column.
pub(super) fn project(
    sql: &Connection,
    entity: Entity,
    row_uid: &str,
    field: &str,
) -> Result<(), StoreError> {
    let Some(row) = field_row(entity, field) else {
        return Ok(());
    };
    let Some(head) = heads(sql, row_uid, field)?.into_iter().next() else {
        return Ok(());
    };
    for statement in row.apply {
        sql.prepare_cached(statement)?.execute(params![row_uid, head.value, field])?;
    }
    Ok(())
}

/// Writes every field of a row anew.
pub(super) fn project_row(sql: &Connection, row_uid: &str) -> Result<(), StoreError> {
    let mut statement =
        sql.prepare_cached("SELECT DISTINCT entity, field FROM edits WHERE row_uid = ?1")?;
    let fields: Vec<(String, String)> = statement
        .query_map([row_uid], |row| Ok((row.get("entity")?, row.get("field")?)))?
        .collect::<Result<_, _>>()?;
    for (entity, field) in fields {
        if let Some(entity) = Entity::from_name(&entity) {
            project(sql, entity, row_uid, &field)?;
        }
    }
    Ok(())
}

/// Whether a merged entry may be kept: a known field may hold only what its column can. An unknown
/// one is kept unseen, for a program that knows it.
pub(super) fn acceptable(entity: &str, field: &str, value: &str) -> bool {
    Entity::from_name(entity)
        .and_then(|entity| field_row(entity, field))
        .is_none_or(|row| row.content.accepts(value))
}

/// The row's name on every device.
pub(super) fn uid_of(sql: &Connection, entity: Entity, id: i64) -> Result<String, StoreError> {
    let (table, what) = (entity.table(), entity.name());
    sql.prepare_cached(&format!("SELECT uid FROM {table} WHERE id = ?1"))?
        .query_row([id], |row| row.get("uid"))
        .optional()?
        .ok_or(StoreError::Unknown { what, id })
}

struct Head {
    uid: String,
    value: String,
}

/// Entries that no other entry replaces, the one to show first.
fn heads(sql: &Connection, row_uid: &str, field: &str) -> Result<Vec<Head>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT uid, value FROM edits AS e WHERE row_uid = ?1 AND field = ?2
         AND NOT EXISTS (SELECT 1 FROM edit_replacements WHERE replaced_uid = e.uid)
         ORDER BY edited_unix_us DESC, uid DESC",
    )?;
    let rows = statement.query_map(params![row_uid, field], |row| {
        Ok(Head { uid: row.get("uid")?, value: row.get("value")? })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}
