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

use super::database::{Store, Writing, micros, wall_clock};
use super::fields::{Entity, FIELDS, field_row};
use super::{StoreError, VehicleId, search};

/// A field for which two devices entered different things without knowing of each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// Kind of the row, such as `vehicle`.
    pub entity: String,
    /// The name of the vehicle that the row belongs to; empty where it belongs to none.
    pub vehicle: String,
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
                // Nearly every field was entered once, which its index tells alone.
                "WITH entered AS (
                   SELECT row_uid, field FROM edits GROUP BY row_uid, field HAVING count(*) > 1)
                 SELECT entity, e.row_uid, e.field, value, edited_unix_us
                 FROM entered CROSS JOIN edits AS e USING (row_uid, field)
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
                (!also.is_empty()).then_some((entity, row_uid, field, shown, also))
            });
            let named = |(entity, row_uid, field, shown, also): (String, String, _, _, _)| {
                let vehicle = vehicle_of(sql, &entity, &row_uid)?;
                Ok(Conflict { entity, vehicle, row_uid, field, shown, also })
            };
            conflicts.map(named).collect()
        })
    }

    /// Settles a conflict with one of its answers, or another one.
    ///
    /// # Errors
    ///
    /// [`StoreError::NotStorable`] where the field cannot hold that.
    pub fn settle(
        &mut self,
        conflict: &Conflict,
        value: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let Conflict { row_uid, field, .. } = conflict;
        let entity = Entity::from_name(&conflict.entity)
            .filter(|_| acceptable(&conflict.entity, field, value))
            .ok_or(StoreError::NotStorable { what: "field" })?;
        self.write(|writing| {
            writing.enter(entity, row_uid, field, value, now)?;
            let vehicles = vehicles_of(writing.sql, entity.name(), row_uid)?;
            vehicles.into_iter().try_for_each(|id| search::index_vehicle(writing.sql, id))
        })
    }
}

/// Every field that a person can change, as kind of row and name; a trailing `*` stands for any
/// ending.
pub fn entered_fields() -> impl Iterator<Item = (&'static str, &'static str)> {
    FIELDS.iter().map(|field| (field.entity.name(), field.name))
}

/// The vehicles that a row belongs to: one, none, or every one of a customer.
fn vehicles_of(
    sql: &Connection,
    entity: &str,
    row_uid: &str,
) -> Result<Vec<VehicleId>, StoreError> {
    let question = match entity {
        "vehicle" => "SELECT id FROM vehicles WHERE uid = ?1",
        "customer" => "SELECT id FROM vehicles WHERE customer_uid = ?1",
        "visit" => "SELECT vehicle_id AS id FROM visits WHERE uid = ?1",
        "fill_up" => "SELECT vehicle_id AS id FROM fill_ups WHERE uid = ?1",
        "follow_up" => "SELECT vehicle_id AS id FROM follow_ups WHERE uid = ?1",
        "repair" => {
            "SELECT vehicle_id AS id FROM repairs JOIN visits ON visits.id = visit_id
             WHERE repairs.uid = ?1"
        }
        "photo" => {
            "SELECT vehicle_id AS id FROM photos JOIN visits ON visits.id = visit_id
             WHERE photos.uid = ?1"
        }
        _ => return Ok(Vec::new()),
    };
    let mut statement = sql.prepare_cached(question)?;
    let rows = statement.query_map([row_uid], |row| row.get("id"))?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// The name of the one vehicle that a row belongs to.
fn vehicle_of(sql: &Connection, entity: &str, row_uid: &str) -> Result<String, StoreError> {
    let vehicles = vehicles_of(sql, entity, row_uid)?;
    let ([only], false) = (vehicles.as_slice(), entity == "customer") else {
        return Ok(String::new());
    };
    Ok(sql.query_row("SELECT name FROM vehicles WHERE id = ?1", [only], |row| row.get("name"))?)
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
