//! Trouble codes in our own words: what each speaks of and which faults it may come from.

mod rows;

use serde::{Deserialize, Serialize};

pub use rows::CODES;

use super::{Fault, TroubleCode};

/// What part of the car a code speaks of, as far as the vapour system's diagnosis cares.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum CodeFamily {
    /// The vapour system as a whole.
    VaporSystem,
    /// A leak of about 0.5 mm (0.020 in).
    VerySmallLeak,
    /// A leak of about 1 mm (0.040 in).
    SmallLeak,
    /// A large leak, or no vacuum to be had.
    LargeLeak,
    /// Cap loose or off.
    LooseCap,
    /// Purge flow too low, too high or at the wrong time.
    PurgeFlow,
    /// Wiring or coil of the purge valve.
    PurgeCircuit,
    /// Vent path does not pass or does not close.
    VentFlow,
    /// Wiring or coil of the vent valve.
    VentCircuit,
    /// Tank pressure sensor.
    TankPressureSensor,
    /// Leak-detection pump and its switching valve.
    LeakDetectionPump,
    /// Fuel level sender: it decides when the leak test may run.
    FuelLevel,
    /// Fuel cap sensor.
    CapSensor,
    /// Mixture outside what trims can correct, direction not stated.
    FuelTrim,
    /// Mixture lean.
    TrimLean,
    /// Mixture rich.
    TrimRich,
    /// Misfire.
    Misfire,
    /// Manifold pressure sensor.
    ManifoldPressure,
    /// Barometric pressure sensor.
    BarometricPressure,
    /// Air flow sensor.
    AirFlow,
    /// Intake or ambient air temperature.
    AirTemperature,
    /// Coolant temperature or thermostat.
    CoolantTemperature,
    /// Idle speed.
    IdleSpeed,
    /// Vehicle speed sensor.
    VehicleSpeed,
    /// Supply voltage.
    Supply,
    /// Network between control units.
    Network,
    /// Near the vapour system's numbers, yet another system.
    OtherSystem,
}

impl CodeFamily {
    /// Whether the code is about the vapour system itself.
    pub const fn is_vapor_system(self) -> bool {
        matches!(
            self,
            Self::VaporSystem
                | Self::VerySmallLeak
                | Self::SmallLeak
                | Self::LargeLeak
                | Self::LooseCap
                | Self::PurgeFlow
                | Self::PurgeCircuit
                | Self::VentFlow
                | Self::VentCircuit
                | Self::TankPressureSensor
                | Self::LeakDetectionPump
                | Self::CapSensor
        )
    }

    /// Whether a stored code of this family keeps the car from running its leak test (common
    /// practice, no source: what the test measures or needs as a condition must be sound).
    pub const fn keeps_leak_test_from_running(self) -> bool {
        matches!(
            self,
            Self::PurgeCircuit
                | Self::VentCircuit
                | Self::TankPressureSensor
                | Self::LeakDetectionPump
                | Self::FuelLevel
                | Self::ManifoldPressure
                | Self::BarometricPressure
                | Self::AirFlow
                | Self::AirTemperature
                | Self::CoolantTemperature
                | Self::VehicleSpeed
                | Self::Misfire
                | Self::FuelTrim
                | Self::TrimLean
                | Self::TrimRich
        )
    }
}

/// A standard code in our own words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CodeEntry {
    /// The code as written.
    pub code: &'static str,
    /// What it means, in the trade's plain English.
    pub meaning: &'static str,
    /// What it speaks of.
    pub family: CodeFamily,
    /// Faults of this program that the code may come from, the likeliest first; empty where the
    /// code speaks of something else.
    pub points_to: &'static [Fault],
}

/// The entry of a code, if it is one that the vapour system's diagnosis cares about. Maker's own
/// codes have none: [`TroubleCode::is_maker_specific`].
pub fn entry(code: TroubleCode) -> Option<&'static CodeEntry> {
    let text = code.to_string();
    let place = CODES.binary_search_by(|row| row.code.cmp(text.as_str())).ok()?;
    CODES.get(place)
}

#[cfg(test)]
mod tests {
    use super::{CODES, CodeFamily, entry};
    use crate::vehicle::{Fault, TroubleCode};

    fn of(code: &str) -> Option<&'static super::CodeEntry> {
        entry(code.parse().unwrap())
    }

    #[test]
    fn every_row_is_a_standard_code_and_is_found() {
        assert!(CODES.is_sorted_by(|a, b| a.code < b.code));
        for row in CODES {
            let code: TroubleCode = row.code.parse().unwrap();
            assert_eq!(code.to_string(), row.code);
            assert!(!code.is_maker_specific(), "{}", row.code);
            assert_eq!(entry(code), Some(row));
        }
    }

    #[test]
    fn words_are_plain_and_differ() {
        for (place, row) in CODES.iter().enumerate() {
            assert!(!row.meaning.is_empty() && !row.meaning.ends_with('.'), "{}", row.code);
            let again = CODES.iter().skip(place + 1).find(|other| other.meaning == row.meaning);
            assert!(again.is_none(), "{} and {:?}", row.code, again);
        }
    }

    /// Leaks in the order of their size: P0456, P0442, P0455 (SAE J2012, from memory).
    #[test]
    fn leak_codes_are_told_apart_by_size() {
        let family = |code| of(code).map(|row| row.family);
        assert_eq!(family("P0456"), Some(CodeFamily::VerySmallLeak));
        assert_eq!(family("P0442"), Some(CodeFamily::SmallLeak));
        assert_eq!(family("P0455"), Some(CodeFamily::LargeLeak));
    }

    #[test]
    fn codes_point_to_the_part_they_speak_of() {
        let first = |code| of(code).and_then(|row| row.points_to.first().copied());
        assert_eq!(first("P0496"), Some(Fault::PurgeValveLeaking));
        assert_eq!(first("P0497"), Some(Fault::NoPurgeFlow));
        assert_eq!(first("P0446"), Some(Fault::VentPathRestricted));
        assert_eq!(first("P2422"), Some(Fault::VentPathRestricted));
        assert_eq!(first("P0451"), Some(Fault::TankSensorOffset));
        assert_eq!(first("P0457"), Some(Fault::VaporLeak));
        assert_eq!(first("P2413"), None);
    }

    /// P2413 to P2417, P2423 and P2424 lie between the vapour system's numbers and are none of it.
    #[test]
    fn neighbours_in_number_are_not_the_vapour_system() {
        for code in ["P2413", "P2414", "P2415", "P2416", "P2417", "P2423", "P2424"] {
            let row = of(code).unwrap();
            assert_eq!(row.family, CodeFamily::OtherSystem, "{code}");
            assert!(row.points_to.is_empty());
        }
        for code in ["P1442", "P0013", "B1234"] {
            assert_eq!(of(code), None, "{code}");
        }
    }
}
