//! Histories in SQLite: vehicles, visits, recordings, verdicts, repairs.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis.
//! Never: judges, or shows.

mod backup;
mod customers;
mod database;
mod edits;
mod error;
mod fields;
mod ids;
mod judgements;
mod recordings;
mod repairs;
mod schema;
mod search;
mod series_blob;
mod uid;
mod upkeep;
mod vehicles;
mod visit_record;
mod visits;

#[cfg(test)]
mod tests;

pub use backup::{Backup, list_backups, restore};
pub use customers::Customer;
pub use database::Store;
pub use edits::Conflict;
pub use error::{BundleFault, StoreError};
pub use ids::{CustomerId, FillUpId, FollowUpId, PhotoId, RepairId, VehicleId, VisitId};
pub use judgements::{JudgedCheck, JudgedVerdict};
pub use repairs::{Quote, Repair, RepairEntry};
pub use upkeep::{FillUp, FollowUp};
pub use vehicles::{LastVerdict, NewVehicle, VehicleSummary};
pub use visit_record::VisitRecord;
pub use visits::VisitSummary;
