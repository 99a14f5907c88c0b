//! Quantities, instants, estimates and money as types.
//!
//! May import: nothing.
//! Never: does I/O, reads a clock, or knows what a quantity is measured on.

mod display_unit;
mod estimate;
mod instant;
mod money;
mod number_text;
mod quantity;

pub use display_unit::{Dimension, DisplayUnit, UnitChoice};
pub use estimate::Estimate;
pub use instant::Instant;
pub use money::{Currency, Money, MoneyError};
pub use number_text::{
    DecimalSign, MINUS, THIN_SPACE, decimals_for, number_at_resolution, number_text,
};
pub use quantity::{
    Celsius, KilometrePerHour, Kilopascal, Litre, LitrePerMinute, Millimetre, Pascal, Percent,
    RevolutionsPerMinute, Volt,
};
