//! The recording file: UTF-8, RFC 4180, header first. `time_s` never decreases; each signal has a
//! column of its name; `action` and `trouble_code` hold what was done and read on the row of its
//! time; `tank_litre` holds what the tank takes, once. A blank cell means no sample then.

mod line_ends;
mod number;
mod read;
mod write;

#[cfg(test)]
mod tests;

pub use read::{ImportWarning, Imported, read};
pub use write::write;

/// Column of the time in seconds.
const TIME: &str = "time_s";

/// Column of what the person did.
const ACTION: &str = "action";

/// Column of trouble codes.
const TROUBLE_CODE: &str = "trouble_code";

/// Column of what the vehicle's tank holds, on the first row.
const TANK_LITRE: &str = "tank_litre";
