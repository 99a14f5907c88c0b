use chrono::{DateTime, Utc};
use rusqlite::{Connection, Row, params};
use rust_decimal::Decimal;

use super::database::{Store, micros, wall_clock};
use super::edits::uid_of;
use super::fields::Entity;
use super::repairs::{amount, amount_text};
use super::{FillUpId, FollowUpId, StoreError, VehicleId, VisitId, search};

/// A filling of the tank.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FillUp {
    /// When.
    pub filled: DateTime<Utc>,
    /// How much, L.
    pub litre: Option<Decimal>,
    /// What was paid, in `currency`, if known.
    pub cost: Option<Decimal>,
    /// ISO 4217 code of the cost; empty without one.
    pub currency: String,
    /// Odometer, km.
    pub odometer_km: Option<u32>,
    /// Note.
    pub note: String,
}

/// A look that is to be taken later.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FollowUp {
    /// Number in this database.
    pub id: FollowUpId,
    /// Which vehicle.
    pub vehicle: VehicleId,
    /// When it is due.
    pub due: DateTime<Utc>,
    /// What to look at.
    pub note: String,
    /// Whether it was done.
    pub is_done: bool,
}

impl Store {
    /// Adds a filling of the tank.
    pub fn add_fill_up(
        &mut self,
        vehicle: VehicleId,
        fill_up: &FillUp,
    ) -> Result<FillUpId, StoreError> {
        let now = fill_up.filled;
        self.write(|writing| {
            uid_of(writing.sql, Entity::Vehicle, vehicle.0)?;
            let uid = writing.new_uid()?;
            writing.sql.execute(
                "INSERT INTO fill_ups (uid, vehicle_id, filled_unix_us) VALUES (?1, ?2, ?3)",
                params![uid, vehicle, micros(now)],
            )?;
            let id = FillUpId(writing.sql.last_insert_rowid());
            let odometer = fill_up.odometer_km.map(|km| km.to_string()).unwrap_or_default();
            writing.enter(Entity::FillUp, &uid, "litre", &amount_text(fill_up.litre), now)?;
            writing.enter(Entity::FillUp, &uid, "cost", &amount_text(fill_up.cost), now)?;
            writing.enter(Entity::FillUp, &uid, "currency", &fill_up.currency, now)?;
            writing.enter(Entity::FillUp, &uid, "odometer_km", &odometer, now)?;
            writing.enter(Entity::FillUp, &uid, "note", &fill_up.note, now)?;
            search::index_vehicle(writing.sql, vehicle)?;
            Ok(id)
        })
    }

    /// Takes a fill-up back.
    pub fn remove_fill_up(&mut self, id: FillUpId, now: DateTime<Utc>) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::FillUp, id.0)?;
            writing.enter(Entity::FillUp, &uid, "state", "removed", now)
        })
    }

    /// The fill-ups of a vehicle, newest first.
    pub fn list_fill_ups(&self, vehicle: VehicleId) -> Result<Vec<(FillUpId, FillUp)>, StoreError> {
        self.read(|sql| fill_ups_of(sql, vehicle))
    }

    /// Plans a look at the vehicle of a visit. An open follow-up of the same visit moves instead.
    pub fn plan_follow_up(
        &mut self,
        visit: VisitId,
        due: DateTime<Utc>,
        note: &str,
        now: DateTime<Utc>,
    ) -> Result<FollowUpId, StoreError> {
        self.write(|writing| {
            let visit_uid = uid_of(writing.sql, Entity::Visit, visit.0)?;
            let uid = super::uid::derived_uid(&[b"follow_up", visit_uid.as_bytes()]);
            writing.sql.execute(
                "INSERT INTO follow_ups (uid, vehicle_id, visit_uid, planned_unix_us)
                 SELECT ?1, vehicle_id, uid, ?2 FROM visits WHERE id = ?3
                 ON CONFLICT (uid) DO NOTHING",
                params![uid, micros(now), visit],
            )?;
            writing.enter(Entity::FollowUp, &uid, "due", &micros(due).to_string(), now)?;
            writing.enter(Entity::FollowUp, &uid, "note", note, now)?;
            writing.enter(Entity::FollowUp, &uid, "state", "open", now)?;
            Ok(writing.sql.query_row("SELECT id FROM follow_ups WHERE uid = ?1", [uid], |row| {
                row.get("id")
            })?)
        })
    }

    /// Notes that a follow-up was done.
    pub fn finish_follow_up(
        &mut self,
        id: FollowUpId,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::FollowUp, id.0)?;
            writing.enter(Entity::FollowUp, &uid, "state", "done", now)
        })
    }

    /// Open follow-ups of all vehicles, the one due first in front.
    pub fn open_follow_ups(&self) -> Result<Vec<FollowUp>, StoreError> {
        self.read(|sql| {
            let mut statement = sql.prepare(
                "SELECT * FROM follow_ups WHERE state = 'open' ORDER BY due_unix_us, uid",
            )?;
            let mut rows = statement.query([])?;
            let mut follow_ups = Vec::new();
            while let Some(row) = rows.next()? {
                follow_ups.push(follow_up_from(row)?);
            }
            Ok(follow_ups)
        })
    }
}

pub(super) fn fill_ups_of(
    sql: &Connection,
    vehicle: VehicleId,
) -> Result<Vec<(FillUpId, FillUp)>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT * FROM fill_ups WHERE vehicle_id = ?1 AND state = 'kept'
         ORDER BY filled_unix_us DESC, uid",
    )?;
    let mut rows = statement.query([vehicle])?;
    let mut fill_ups = Vec::new();
    while let Some(row) = rows.next()? {
        let fill_up = FillUp {
            filled: wall_clock(row.get("filled_unix_us")?)?,
            litre: amount(row, "litre")?,
            cost: amount(row, "cost_amount")?,
            currency: row.get("currency_iso4217")?,
            odometer_km: row.get::<_, String>("odometer_km")?.parse().ok(),
            note: row.get("note")?,
        };
        fill_ups.push((row.get("id")?, fill_up));
    }
    Ok(fill_ups)
}

/// The follow-up planned in a visit, done or not.
pub(super) fn follow_up_of_visit(
    sql: &Connection,
    visit_uid: &str,
) -> Result<Option<FollowUp>, StoreError> {
    let mut statement =
        sql.prepare_cached("SELECT * FROM follow_ups WHERE visit_uid = ?1 AND state <> 'removed'")?;
    let mut rows = statement.query([visit_uid])?;
    rows.next()?.map(follow_up_from).transpose()
}

fn follow_up_from(row: &Row<'_>) -> Result<FollowUp, StoreError> {
    Ok(FollowUp {
        id: row.get("id")?,
        vehicle: row.get("vehicle_id")?,
        due: wall_clock(row.get("due_unix_us")?)?,
        note: row.get("note")?,
        is_done: row.get::<_, String>("state")? == "done",
    })
}
