//! Signals over time on one clock, what the person did, and the file they travel in.
//!
//! May import: units, vehicle.
//! Never: judges a number, or opens a file itself.

mod action;
mod column_map;
pub mod csv;
mod error;
mod gap;
mod series;
mod timeline;

use column_map::Conversion;

pub use action::Action;
pub use column_map::{ColumnMap, MappedColumn, TimeColumn, TimeUnit};
pub use error::{CellFlaw, ColumnMapFlaw, RecordingError};
pub use gap::{Gap, gaps, usual_interval};
pub use series::Series;
pub use timeline::{ActionAt, CodeAt, Recording, TANK_LITRE};
