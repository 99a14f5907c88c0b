//! A visit as a document, and the document as bytes in a format.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis, wording.
//! Never: touches a file, or computes what it prints.

mod chart;
mod comparison;
mod compose;
mod csv;
mod document;
mod drawing;
mod error;
mod fleet;
mod html;
mod json;
mod pdf;
mod plain_text;
mod visit;

pub use comparison::{
    ComparedNumber, ComparedTraces, ComparisonLines, ComparisonRecord, VisitBeside,
};
pub use compose::compose;
pub use csv::csv;
pub use document::{Block, Document, Figure, LeaderLine, Mark, Paper, Section, Table, WeightLine};
pub use drawing::{Anchor, Drawing, Ink, Item, Segment, Stroke, Weight};
pub use error::ReportError;
pub use fleet::{Fleet, FleetVehicle, compose_fleet, fleet_csv};
pub use html::html;
pub use json::json;
pub use pdf::pdf;
pub use plain_text::plain_text;
pub use visit::{
    CheckRecord, CodeRecord, CostLine, GuessPartRecord, GuessRecord, NotMade, PriceAsked,
    ProofNumber, ProofRecord, RepairRecord, ToolRecord, Vehicle, Visit, WhyNotMade,
};
