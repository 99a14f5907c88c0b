use chrono::{DateTime, Utc};
use rusqlite::Connection;

use super::database::Store;
use super::edits::uid_of;
use super::fields::Entity;
use super::{StoreError, VehicleId};
use crate::vehicle::{CustomSignal, TankSource};

/// How a vehicle is listened to: what the person chose for it once.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Listening {
    /// The source of tank pressure that the person took; `None` leaves it to the program.
    pub tank_source: Option<TankSource>,
    /// Requests of the person's own that hold for this vehicle alone.
    pub own_signals: Vec<CustomSignal>,
}

impl Store {
    /// How a vehicle is listened to.
    pub fn listening(&self, id: VehicleId) -> Result<Listening, StoreError> {
        self.read(|sql| listening(sql, id))
    }

    /// Takes tank pressure of this vehicle from this source from now on; `None` leaves it to the
    /// program again.
    pub fn set_tank_source(
        &mut self,
        id: VehicleId,
        source: Option<TankSource>,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.enter_for(id, "tank_source", source.map_or("", TankSource::name), now)
    }

    /// Keeps requests of the person's own for this vehicle alone.
    pub fn set_own_signals(
        &mut self,
        id: VehicleId,
        signals: &[CustomSignal],
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let text = match signals {
            [] => String::new(),
            signals => CustomSignal::write_all(signals),
        };
        self.enter_for(id, "own_signals", &text, now)
    }

    fn enter_for(
        &mut self,
        id: VehicleId,
        field: &str,
        value: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Vehicle, id.0)?;
            writing.enter(Entity::Vehicle, &uid, field, value, now)
        })
    }
}

fn listening(sql: &Connection, id: VehicleId) -> Result<Listening, StoreError> {
    uid_of(sql, Entity::Vehicle, id.0)?;
    let (source, text): (String, String) = sql
        .prepare_cached("SELECT tank_source, own_signals_toml FROM vehicles WHERE id = ?1")?
        .query_row([id], |row| Ok((row.get("tank_source")?, row.get("own_signals_toml")?)))?;
    let unreadable = || StoreError::unreadable("vehicles.own_signals_toml", &text);
    Ok(Listening {
        tank_source: TankSource::from_name(&source),
        own_signals: match text.as_str() {
            "" => Vec::new(),
            text => CustomSignal::read_all(text).map_err(|_| unreadable())?,
        },
    })
}
