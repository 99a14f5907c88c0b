//! Histories in SQLite: vehicles, visits, recordings, verdicts, repairs.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis.
//! Never: judges, or shows.

mod backup;
mod bundle;
mod customers;
mod database;
mod definitions;
mod edits;
mod error;
mod fields;
mod history;
mod ids;
mod judgements;
mod listening;
mod merge;
mod merge_tables;
mod monitors;
mod one_vehicle;
mod parquet;
mod photos;
mod rails;
mod readable;
mod recordings;
mod repairs;
mod salvage;
mod schema;
mod search;
mod series_blob;
mod settings;
mod summaries;
mod table_questions;
mod tables;
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
pub use definitions::Definition;
pub use edits::{Conflict, entered_fields};
pub use error::{BundleFault, StoreError};
pub use history::{Happening, HappeningKind, TrendPoint};
pub use ids::{CustomerId, FillUpId, FollowUpId, PhotoId, RepairId, VehicleId, VisitId};
pub use judgements::{JudgedCheck, JudgedVerdict};
pub use listening::Listening;
pub use merge::Merged;
pub use monitors::MonitorReading;
pub use photos::Photo;
pub use repairs::{DiagnosisSaved, Quote, Repair, RepairEntry};
pub use salvage::{Salvaged, salvage};
pub use settings::{KnownAdapter, adapters_remembered_in};
pub use tables::TableFormat;
pub use upkeep::{FillUp, FollowUp};
pub use vehicles::{LastVerdict, NewVehicle, VehicleSummary};
pub use visit_record::VisitRecord;
pub use visits::VisitSummary;
