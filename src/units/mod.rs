//! Quantities, instants, estimates and money as types.
//!
//! May import: nothing.
//! Never: does I/O, reads a clock, or knows what a quantity is measured on.

mod display_unit;
mod estimate;
mod instant;
mod quantity;

pub use display_unit::{Dimension, DisplayUnit, UnitChoice};
pub use estimate::Estimate;
pub use instant::Instant;
pub use quantity::{
    Celsius, KilometrePerHour, Kilopascal, Litre, LitrePerMinute, Millimetre, Pascal, Percent,
    RevolutionsPerMinute, Volt,
};
