//! What diagnostic bytes mean: signals, parameters, trouble codes, readiness, monitors, identity.
//!
//! May import: units.
//! Never: talks to a car, waits, or writes a sentence for the screen.
#![cfg_attr(not(test), deny(clippy::indexing_slicing, clippy::arithmetic_side_effects))]

mod error;
mod fault;
mod identity;
mod parameter_table;
mod quantity;
mod service;
mod signal;
mod signal_source;
mod supported_parameters;
mod trouble_code;

pub use error::{DecodeError, OwnSignalFlaw};
pub use fault::Fault;
pub use identity::{
    CalibrationId, InUseCounters, InUseMonitor, InUseRatio, Region, VerificationNumber, Vin,
    decode_calibration_ids, decode_in_use_counters, decode_unit_name, decode_verification_numbers,
    decode_vin, item,
};
pub use parameter_table::{
    Content, Field, Measured, PARAMETERS, Parameter, ParameterReading, decode_asked,
    decode_parameter, decode_parameters, parameter,
};
pub use quantity::Quantity;
pub use service::Service;
pub use signal::Signal;
pub use signal_source::{SIGNAL_SOURCES, SignalSource, parameter_for};
pub use supported_parameters::SupportedParameters;
pub use trouble_code::{TroubleCode, decode_codes};

/// Bytes written as two hexadecimal digits each with spaces between, as in `fixtures/bytes`.
#[cfg(test)]
fn hex_bytes(text: &str) -> Vec<u8> {
    text.split_whitespace().map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect()
}
