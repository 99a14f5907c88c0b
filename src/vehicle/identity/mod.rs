mod calibration;
mod in_use;
mod long_answer;
mod vin;

#[cfg(test)]
mod tests;

pub use calibration::{
    CalibrationId, VerificationNumber, decode_calibration_ids, decode_unit_name,
    decode_verification_numbers,
};
pub use in_use::{InUseCounters, InUseMonitor, InUseRatio, decode_in_use_counters};
pub use vin::{Region, Vin, decode_vin};

/// Items of service 09 (SAE J1979 / ISO 15031-5, from memory of the standard).
pub mod item {
    /// Vehicle identification number.
    pub const VIN: u8 = 0x02;
    /// Calibration identifications.
    pub const CALIBRATION_IDS: u8 = 0x04;
    /// Calibration verification numbers.
    pub const VERIFICATION_NUMBERS: u8 = 0x06;
    /// In-use counters, spark ignition.
    pub const IN_USE_COUNTERS: u8 = 0x08;
    /// Name of the control unit.
    pub const UNIT_NAME: u8 = 0x0A;
}
