use chrono::{DateTime, Utc};
use rusqlite::{Connection, OptionalExtension, params};
use rust_decimal::Decimal;

use super::customers::{Customer, customer};
use super::database::{Store, micros};
use super::edits::uid_of;
use super::fields::Entity;
use super::repairs::amount_text;
use super::summaries::summaries;
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
    /// Who made it, in the person's own words; what a maker's own codes mean is remembered by it.
    pub make: String,
    /// What it burns, in the person's own words.
    pub fuel: String,
    /// What its tank holds, in litres, if known.
    pub tank_litre: Option<Decimal>,
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
    /// Who made it, or empty.
    pub make: String,
    /// What it burns, or empty.
    pub fuel: String,
    /// What its tank holds, in litres, if known.
    pub tank_litre: Option<Decimal>,
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
                writing.enter(Entity::Vehicle, &uid, field, &value, now)?;
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
                writing.enter(Entity::Vehicle, &uid, field, &value, now)?;
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

fn fields(vehicle: &NewVehicle) -> [(&'static str, String); 7] {
    [
        ("name", vehicle.name.clone()),
        ("vin", vehicle.vin.clone()),
        ("plate", vehicle.plate.clone()),
        ("make", vehicle.make.clone()),
        ("fuel", vehicle.fuel.clone()),
        ("tank_litre", amount_text(vehicle.tank_litre)),
        ("notes", vehicle.notes.clone()),
    ]
}
