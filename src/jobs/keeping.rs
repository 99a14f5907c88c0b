use std::path::Path;

use super::{FillUpDraft, JobError, MachineClock, fill_up, history};
use crate::store::{Customer, Store};

/// Keeps a filling of the tank; the words name the vehicle. Returns the vehicle's name.
///
/// # Errors
/// What keeps the database from being written, or the words from naming one vehicle.
pub fn add_fill_up(
    database: &Path,
    vehicle: &str,
    draft: &FillUpDraft,
    clock: MachineClock,
) -> Result<String, JobError> {
    let fill_up = fill_up::fill_up(draft, clock.date())?;
    let mut store = Store::open(database)?;
    let id = history::find_vehicle(&store, vehicle)?;
    store.add_fill_up(id, &fill_up)?;
    Ok(store.vehicle(id)?.name)
}

/// Says whose vehicle it is. A customer of this name is taken, with what is new about them; else
/// one is added; an empty name takes the customer away. Returns the vehicle's name.
///
/// # Errors
/// What keeps the database from being written, or the words from naming one vehicle.
pub fn set_customer(
    database: &Path,
    vehicle: &str,
    customer: &Customer,
    clock: MachineClock,
) -> Result<String, JobError> {
    let mut store = Store::open(database)?;
    let id = history::find_vehicle(&store, vehicle)?;
    let now = clock.date();
    let known = store.list_customers()?.into_iter().find(|(_, it)| it.name == customer.name);
    let whose = match known {
        _ if customer.name.is_empty() => None,
        Some((known, before)) => {
            let newer = |new: &String, old: String| if new.is_empty() { old } else { new.clone() };
            let merged = Customer {
                name: before.name,
                phone: newer(&customer.phone, before.phone),
                email: newer(&customer.email, before.email),
                notes: newer(&customer.notes, before.notes),
            };
            store.edit_customer(known, &merged, now)?;
            Some(known)
        }
        None => Some(store.add_customer(customer, now)?),
    };
    store.set_customer(id, whose, now)?;
    Ok(store.vehicle(id)?.name)
}
