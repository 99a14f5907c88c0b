//! What diagnostic bytes mean: signals, parameters, trouble codes, readiness, monitors, identity.
//!
//! May import: units.
//! Never: talks to a car, waits, or writes a sentence for the screen.
#![cfg_attr(not(test), deny(clippy::indexing_slicing, clippy::arithmetic_side_effects))]

pub mod code_catalogue;
mod control_unit;
mod custom_signal;
mod error;
mod fault;
mod freeze_frame;
mod identity;
mod leak_test_conditions;
mod monitor_result;
mod parameter_table;
mod part;
mod plausibility;
mod quantity;
mod readiness;
mod service;
mod signal;
mod signal_source;
mod supported_parameters;
mod tank_source;
mod trouble_code;

pub use code_catalogue::{CodeEntry, CodeFamily};
pub use control_unit::{ControlUnit, engine_unit, unit_for};
pub use custom_signal::{CustomSignal, Hex, PickedValue};
pub use error::{DecodeError, OwnSignalFlaw};
pub use fault::Fault;
pub use freeze_frame::FreezeFrame;
pub use identity::{
    CalibrationId, InUseCounters, InUseMonitor, InUseRatio, Region, VerificationNumber, Vin,
    decode_calibration_ids, decode_in_use_counters, decode_unit_name, decode_verification_numbers,
    decode_vin, item,
};
pub use leak_test_conditions::{
    Condition, ConditionRow, ConditionState, LeakTestFacts, Outlook, leak_test_outlook,
};
pub use monitor_result::{
    MonitorName, MonitorOutcome, MonitorResult, OlderMonitorResult, SCALINGS, UnitAndScaling,
    decode_monitor_results, decode_older_monitor_result,
};
pub use parameter_table::{
    Content, ExternalScaling, Field, Measured, PARAMETERS, Parameter, ParameterReading,
    decode_asked, decode_parameter, decode_parameters, parameter,
};
pub use part::Part;
pub use plausibility::{Plausibility, plausibility, smallest_step, update_interval};
pub use quantity::Quantity;
pub use readiness::{Ignition, Monitor, MonitorReadiness, Readiness};
pub use service::Service;
pub use signal::Signal;
pub use signal_source::{SIGNAL_SOURCES, SignalSource, parameter_for};
pub use supported_parameters::SupportedParameters;
pub use tank_source::{
    RestReadings, SourceDoubt, TankChoice, TankSource, choose_tank_source, gauge_pressure,
};
pub use trouble_code::{TroubleCode, decode_codes};

/// Bytes written as two hexadecimal digits each with spaces between, as in `fixtures/bytes`.
#[cfg(test)]
fn hex_bytes(text: &str) -> Vec<u8> {
    text.split_whitespace().map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect()
}
