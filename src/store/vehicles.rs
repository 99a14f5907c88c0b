use chrono::{DateTime, Utc};
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::customers::{Customer, customer};
use super::database::{Store, micros, wall_clock};
use super::edits::uid_of;
use super::fields::Entity;
use super::{CustomerId, StoreError, VehicleId, search};
use crate::diagnosis::VerdictOutcome;
use crate::units::Estimate;
use crate::vehicle::Fault;

/// What is entered about a vehicle.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct NewVehicle {
    /// The owner's name for it.
    pub name: String,
    /// VIN, or empty.
    pub vin: String,
    /// Number plate, or empty.
    pub plate: String,
    /// Notes.
    pub notes: String,
    /// Whether this is a virtual car.
    pub is_virtual: bool,
}

/// A verdict in short.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LastVerdict {
    /// Found, not found, or open.
    pub outcome: VerdictOutcome,
    /// The fault, if found.
    pub fault: Option<Fault>,
    /// Its probability.
    pub probability: f64,
}

/// A vehicle with what its visits say of it.
#[derive(Clone, Debug, PartialEq)]
pub struct VehicleSummary {
    /// Number in this database.
    pub id: VehicleId,
    /// Name on every device.
    pub uid: String,
    /// The owner's name for it.
    pub name: String,
    /// VIN, if known.
    pub vin: Option<String>,
    /// Number plate, if known.
    pub plate: Option<String>,
    /// Notes.
    pub notes: String,
    /// Whether this is a virtual car.
    pub is_virtual: bool,
    /// Number of visits.
    pub visits: u32,
    /// Start of the newest visit.
    pub last_visit: Option<DateTime<Utc>>,
    /// The newest verdict.
    pub last_verdict: Option<LastVerdict>,
    /// The newest measured vacuum with the purge shut, Pa.
    pub last_shut_vacuum: Option<Estimate>,
    /// Half the detection band it was judged against, Pa.
    pub band: Option<f64>,
    /// Odometer at the newest visit that has one, km.
    pub odometer_km: Option<u32>,
    /// When the next open follow-up is due.
    pub follow_up: Option<DateTime<Utc>>,
}

impl Store {
    /// Adds a vehicle.
    ///
    /// # Errors
    ///
    /// [`StoreError::VinKnown`] if another vehicle of the same kind (real or virtual) has the VIN.
    pub fn add_vehicle(
        &mut self,
        vehicle: &NewVehicle,
        now: DateTime<Utc>,
    ) -> Result<VehicleId, StoreError> {
        self.write(|writing| {
            vin_is_free(writing.sql, &vehicle.vin, vehicle.is_virtual, None)?;
            let uid = writing.new_uid()?;
            writing.sql.execute(
                "INSERT INTO vehicles (uid, added_unix_us, is_virtual) VALUES (?1, ?2, ?3)",
                params![uid, micros(now), vehicle.is_virtual],
            )?;
            let id = VehicleId(writing.sql.last_insert_rowid());
            for (field, value) in fields(vehicle) {
                writing.enter(Entity::Vehicle, &uid, field, value, now)?;
            }
            search::index_vehicle(writing.sql, id)?;
            Ok(id)
        })
    }

    /// Changes a vehicle; fields that stay the same are not entered again. Whether it is virtual
    /// never changes.
    ///
    /// # Errors
    ///
    /// [`StoreError::VinKnown`] if another vehicle has the VIN.
    pub fn edit_vehicle(
        &mut self,
        id: VehicleId,
        vehicle: &NewVehicle,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Vehicle, id.0)?;
            vin_is_free(writing.sql, &vehicle.vin, is_virtual(writing.sql, id)?, Some(id))?;
            for (field, value) in fields(vehicle) {
                writing.enter(Entity::Vehicle, &uid, field, value, now)?;
            }
            search::index_vehicle(writing.sql, id)
        })
    }

    /// Notes the VIN that the car itself gave.
    ///
    /// # Errors
    ///
    /// [`StoreError::VinKnown`] if another vehicle has it.
    pub fn set_vin(
        &mut self,
        id: VehicleId,
        vin: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Vehicle, id.0)?;
            vin_is_free(writing.sql, vin, is_virtual(writing.sql, id)?, Some(id))?;
            writing.enter(Entity::Vehicle, &uid, "vin", vin, now)?;
            search::index_vehicle(writing.sql, id)
        })
    }

    /// Says whose vehicle it is; `None` takes the customer away.
    pub fn set_customer(
        &mut self,
        id: VehicleId,
        customer: Option<CustomerId>,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Vehicle, id.0)?;
            let customer = match customer {
                Some(customer) => uid_of(writing.sql, Entity::Customer, customer.0)?,
                None => String::new(),
            };
            writing.enter(Entity::Vehicle, &uid, "customer", &customer, now)?;
            search::index_vehicle(writing.sql, id)
        })
    }

    /// Takes a vehicle out of every list. Its visits stay in the file, and a merge does not bring
    /// it back.
    pub fn remove_vehicle(&mut self, id: VehicleId, now: DateTime<Utc>) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Vehicle, id.0)?;
            writing.enter(Entity::Vehicle, &uid, "state", "removed", now)?;
            search::index_vehicle(writing.sql, id)
        })
    }

    /// The vehicle with this VIN.
    pub fn vehicle_by_vin(
        &self,
        vin: &str,
        is_virtual: bool,
    ) -> Result<Option<VehicleId>, StoreError> {
        self.read(|sql| by_vin(sql, vin, is_virtual))
    }

    /// One vehicle.
    pub fn vehicle(&self, id: VehicleId) -> Result<VehicleSummary, StoreError> {
        self.read(|sql| summary(sql, id))
    }

    /// Whose vehicle it is, if anybody's.
    pub fn customer_of(&self, id: VehicleId) -> Result<Option<(CustomerId, Customer)>, StoreError> {
        self.read(|sql| owner(sql, id))
    }

    /// Vehicles whose name, VIN, plate, customer, codes, parts or notes hold every word of
    /// `search`; all for an empty one. Newest visit first, vehicles without a visit last.
    pub fn list_vehicles(&self, search: &str) -> Result<Vec<VehicleSummary>, StoreError> {
        self.read(|sql| {
            let found = search::matching(sql, search)?;
            let Some(found) = found else {
                return self.all_vehicles(sql);
            };
            let ids = serde_json::to_string(&found)
                .map_err(|_| StoreError::NotStorable { what: "search" })?;
            let condition = "v.state = 'kept' AND v.id IN (SELECT value FROM json_each(?1))";
            summaries(sql, condition, [ids])
        })
    }
}

impl Store {
    /// Every vehicle that is kept; asked anew only after something changed. Nobody else writes to
    /// the file meanwhile: the store holds its lock.
    fn all_vehicles(&self, sql: &Connection) -> Result<Vec<VehicleSummary>, StoreError> {
        let changes = sql.total_changes();
        if let Some((at, known)) = &*self.listed.borrow()
            && *at == changes
        {
            return Ok(known.clone());
        }
        let found = summaries(sql, "v.state = 'kept'", [])?;
        *self.listed.borrow_mut() = Some((changes, found.clone()));
        Ok(found)
    }
}

/// One vehicle, also if it was removed.
pub(super) fn summary(sql: &Connection, id: VehicleId) -> Result<VehicleSummary, StoreError> {
    summaries(sql, "v.id = ?1", [id])?
        .pop()
        .ok_or(StoreError::Unknown { what: Entity::Vehicle.name(), id: id.0 })
}

pub(super) fn owner(
    sql: &Connection,
    id: VehicleId,
) -> Result<Option<(CustomerId, Customer)>, StoreError> {
    let uid: Option<String> = sql
        .query_row("SELECT customer_uid FROM vehicles WHERE id = ?1", [id], |row| {
            row.get("customer_uid")
        })
        .optional()?;
    uid.map_or(Ok(None), |uid| customer(sql, &uid))
}

/// The summary's question. The newest of each kind is found by walking the visits' index from its
/// end to the first visit that has one; joining and sorting all visits took twice as long.
const SUMMARY: &str = "
SELECT v.id, v.uid, v.name, v.vin, v.plate, v.notes, v.is_virtual,
  (SELECT count(*) FROM visits WHERE vehicle_id = v.id AND state <> 'removed') AS visits,
  (SELECT max(started_unix_us) FROM visits WHERE vehicle_id = v.id AND state <> 'removed')
    AS last_visit,
  (SELECT odometer_km FROM visits
   WHERE vehicle_id = v.id AND state <> 'removed' AND odometer_km <> ''
   ORDER BY started_unix_us DESC LIMIT 1) AS odometer_km,
  verdict.outcome, verdict.fault, verdict.probability,
  shut.value, shut.low, shut.high, band.value AS band,
  (SELECT min(due_unix_us) FROM follow_ups WHERE vehicle_id = v.id AND state = 'open') AS follow_up
FROM vehicles AS v
LEFT JOIN verdicts AS verdict ON verdict.id = (
  SELECT w.id FROM verdicts AS w WHERE w.visit_id = (
    SELECT visits.id FROM visits
    WHERE visits.vehicle_id = v.id AND visits.state <> 'removed'
      AND EXISTS (SELECT 1 FROM verdicts WHERE visit_id = visits.id)
    ORDER BY visits.started_unix_us DESC LIMIT 1)
  ORDER BY w.judged_unix_us DESC, w.id DESC LIMIT 1)
LEFT JOIN measures AS shut ON shut.id = (
  SELECT m.id FROM check_results AS r JOIN measures AS m
    ON m.check_result_id = r.id AND m.measure = 'vacuum_with_purge_shut'
  WHERE r.visit_id = (
    SELECT visits.id FROM visits
    WHERE visits.vehicle_id = v.id AND visits.state <> 'removed'
      AND EXISTS (SELECT 1 FROM check_results AS s JOIN measures AS n
        ON n.check_result_id = s.id AND n.measure = 'vacuum_with_purge_shut'
        WHERE s.visit_id = visits.id)
    ORDER BY visits.started_unix_us DESC LIMIT 1)
  ORDER BY r.judged_unix_us DESC, r.id DESC LIMIT 1)
LEFT JOIN measures AS band
  ON band.check_result_id = shut.check_result_id AND band.measure = 'detection_limit'
";

fn summaries<P: rusqlite::Params>(
    sql: &Connection,
    condition: &str,
    parameters: P,
) -> Result<Vec<VehicleSummary>, StoreError> {
    let question = format!("{SUMMARY} WHERE {condition} ORDER BY last_visit DESC, v.name, v.uid");
    let mut statement = sql.prepare_cached(&question)?;
    let mut rows = statement.query(parameters)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        found.push(VehicleSummary {
            id: row.get("id")?,
            uid: row.get("uid")?,
            name: row.get("name")?,
            vin: given(row.get("vin")?),
            plate: given(row.get("plate")?),
            notes: row.get("notes")?,
            is_virtual: row.get("is_virtual")?,
            visits: row.get("visits")?,
            last_visit: time(row, "last_visit")?,
            last_verdict: last_verdict(row)?,
            last_shut_vacuum: estimate(row)?,
            band: row.get("band")?,
            odometer_km: row
                .get::<_, Option<String>>("odometer_km")?
                .and_then(|text| text.parse().ok()),
            follow_up: time(row, "follow_up")?,
        });
    }
    Ok(found)
}

/// The columns `outcome`, `fault` and `probability` of a verdict, if the row has one.
pub(super) fn last_verdict(row: &Row<'_>) -> Result<Option<LastVerdict>, StoreError> {
    let Some(outcome) = row.get::<_, Option<String>>("outcome")? else {
        return Ok(None);
    };
    let known =
        [VerdictOutcome::FaultFound, VerdictOutcome::NoFaultFound, VerdictOutcome::Inconclusive];
    let fault: String = row.get("fault")?;
    Ok(Some(LastVerdict {
        outcome: known
            .into_iter()
            .find(|known| known.name() == outcome)
            .ok_or_else(|| StoreError::unreadable("verdicts.outcome", &outcome))?,
        fault: Fault::from_name(&fault),
        probability: row.get("probability")?,
    }))
}

/// The columns `value`, `low` and `high` of a measure, if the row has one.
pub(super) fn estimate(row: &Row<'_>) -> Result<Option<Estimate>, StoreError> {
    let Some(value) = row.get("value")? else {
        return Ok(None);
    };
    Ok(Some(Estimate { value, low: row.get("low")?, high: row.get("high")? }))
}

fn time(row: &Row<'_>, column: &str) -> Result<Option<DateTime<Utc>>, StoreError> {
    row.get::<_, Option<i64>>(column)?.map(wall_clock).transpose()
}

/// A text, unless it is the empty one that stands for unknown.
pub(super) fn given(text: String) -> Option<String> {
    (!text.is_empty()).then_some(text)
}

fn by_vin(sql: &Connection, vin: &str, is_virtual: bool) -> Result<Option<VehicleId>, StoreError> {
    if vin.is_empty() {
        return Ok(None);
    }
    Ok(sql
        .query_row(
            "SELECT id FROM vehicles WHERE vin = ?1 AND is_virtual = ?2 AND state = 'kept'
             ORDER BY uid LIMIT 1",
            params![vin, is_virtual],
            |row| row.get("id"),
        )
        .optional()?)
}

fn vin_is_free(
    sql: &Connection,
    vin: &str,
    is_virtual: bool,
    except: Option<VehicleId>,
) -> Result<(), StoreError> {
    match by_vin(sql, vin, is_virtual)? {
        Some(vehicle) if Some(vehicle) != except => {
            Err(StoreError::VinKnown { vin: vin.to_owned(), vehicle })
        }
        _ => Ok(()),
    }
}

fn is_virtual(sql: &Connection, id: VehicleId) -> Result<bool, StoreError> {
    Ok(sql.query_row("SELECT is_virtual FROM vehicles WHERE id = ?1", [id], |row| {
        row.get("is_virtual")
    })?)
}

fn fields(vehicle: &NewVehicle) -> [(&'static str, &str); 4] {
    [
        ("name", &vehicle.name),
        ("vin", &vehicle.vin),
        ("plate", &vehicle.plate),
        ("notes", &vehicle.notes),
    ]
}
