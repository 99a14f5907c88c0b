use std::path::Path;

use super::{JobError, ToolReport, VehiclePage, card, tool};
use crate::store::{Store, VehicleId, VehicleSummary};

/// What a database holds.
#[derive(Clone, Debug, PartialEq)]
pub struct Histories {
    /// The vehicles with their visits.
    pub vehicles: Vec<VehiclePage>,
    /// How much of the adapter's price has been saved back, over all vehicles.
    pub tool: Option<ToolReport>,
}

/// The vehicles of a database with their visits; all, or the one that the words name.
///
/// # Errors
/// What keeps the database from being opened, or the words from naming one vehicle.
pub fn histories(database: &Path, words: Option<&str>) -> Result<Histories, JobError> {
    let store = Store::open(database)?;
    let ids = match words {
        Some(words) => vec![find_vehicle(&store, words)?],
        None => store.list_vehicles("")?.iter().map(|it| it.id).collect(),
    };
    let pages = ids.into_iter().map(|id| card::vehicle_page(&store, id));
    Ok(Histories { vehicles: pages.collect::<Result<_, _>>()?, tool: tool::tool(&store)? })
}

/// The vehicle with this number, VIN or name; else the only one in which the words are found.
pub(super) fn find_vehicle(store: &Store, words: &str) -> Result<VehicleId, JobError> {
    let all = store.list_vehicles("")?;
    let named = |it: &&VehicleSummary| {
        it.id.0.to_string() == words
            || it.vin.as_deref().is_some_and(|vin| vin.eq_ignore_ascii_case(words))
            || it.name == words
    };
    if let Some(vehicle) = all.iter().find(named) {
        return Ok(vehicle.id);
    }
    let matching = store.list_vehicles(words)?;
    match matching.as_slice() {
        [] => Err(JobError::UnknownVehicle { words: words.to_owned() }),
        [only] => Ok(only.id),
        several => Err(JobError::SeveralVehicles { words: words.to_owned(), count: several.len() }),
    }
}
