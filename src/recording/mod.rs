//! Signals over time on one clock, what the person did, and the file they travel in.
//!
//! May import: units, vehicle.
//! Never: judges a number, or opens a file itself.

mod action;
mod series;
mod timeline;

pub use action::Action;
pub use series::Series;
pub use timeline::{ActionAt, CodeAt, Recording};
