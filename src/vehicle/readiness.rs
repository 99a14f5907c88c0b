use serde::{Deserialize, Serialize};

use super::DecodeError;

/// One of the car's own monitors.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Monitor {
    /// Misfire, runs all the time.
    Misfire,
    /// Fuel system, runs all the time.
    FuelSystem,
    /// Electrical checks of components, run all the time.
    Components,
    /// Catalyst.
    Catalyst,
    /// Heated catalyst.
    HeatedCatalyst,
    /// Evaporative system.
    Evaporative,
    /// Secondary air.
    SecondaryAir,
    /// Gasoline particulate filter (earlier: air conditioning).
    GasolineParticulateFilter,
    /// Oxygen sensors.
    OxygenSensor,
    /// Heaters of the oxygen sensors.
    OxygenSensorHeater,
    /// Exhaust gas recirculation or variable valve timing.
    ExhaustGasRecirculation,
    /// Hydrocarbon catalyst of a compression-ignition engine.
    HydrocarbonCatalyst,
    /// Nitrogen oxide catalyst.
    NitrogenOxideCatalyst,
    /// Boost pressure.
    BoostPressure,
    /// Exhaust gas sensor.
    ExhaustGasSensor,
    /// Particulate filter of a compression-ignition engine.
    ParticulateFilter,
}

impl Monitor {
    /// Every one.
    pub const ALL: [Self; 16] = [
        Self::Misfire,
        Self::FuelSystem,
        Self::Components,
        Self::Catalyst,
        Self::HeatedCatalyst,
        Self::Evaporative,
        Self::SecondaryAir,
        Self::GasolineParticulateFilter,
        Self::OxygenSensor,
        Self::OxygenSensorHeater,
        Self::ExhaustGasRecirculation,
        Self::HydrocarbonCatalyst,
        Self::NitrogenOxideCatalyst,
        Self::BoostPressure,
        Self::ExhaustGasSensor,
        Self::ParticulateFilter,
    ];
}

/// How the engine ignites, which decides what the other bits mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Ignition {
    /// By spark.
    Spark,
    /// By compression.
    Compression,
}

/// One monitor that the car has.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct MonitorReadiness {
    /// Which.
    pub monitor: Monitor,
    /// Whether it has run to completion: since codes were cleared (parameter 01) or in this
    /// driving cycle (parameter 41).
    pub complete: bool,
}

/// What parameters 01 and 41 say: warning lamp, number of codes, and which monitors have run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Readiness {
    /// Warning lamp commanded on. Always off in parameter 41.
    pub lamp: bool,
    /// Number of emission codes that are stored. Always zero in parameter 41.
    pub codes: u8,
    /// How the engine ignites.
    pub ignition: Ignition,
    /// Monitors that the car has, in the standard's order.
    pub monitors: Vec<MonitorReadiness>,
}

impl Readiness {
    /// From the data of parameter 01 or 41 (SAE J1979, layout from memory of the standard). A set
    /// bit of the last byte means that a monitor is not complete.
    pub fn from_data(data: &[u8]) -> Result<Self, DecodeError> {
        let [a, b, c, d] = match data {
            [a, b, c, d] => [*a, *b, *c, *d],
            _ if data.len() < 4 => {
                return Err(DecodeError::TooShort { service: 0x01, needed: 4, found: data.len() });
            }
            _ => {
                return Err(DecodeError::TooLong { service: 0x01, expected: 4, found: data.len() });
            }
        };
        let (ignition, others) = if b & 0x08 == 0 {
            (Ignition::Spark, SPARK_MONITORS)
        } else {
            (Ignition::Compression, COMPRESSION_MONITORS)
        };
        let continuous = CONTINUOUS_MONITORS
            .iter()
            .filter(|(bit, _)| b & bit != 0)
            .map(|(bit, monitor)| (*monitor, b & bit.wrapping_shl(4) == 0));
        let others = others
            .iter()
            .filter(|(bit, _)| c & bit != 0)
            .map(|(bit, monitor)| (*monitor, d & bit == 0));
        let monitors = continuous
            .chain(others)
            .map(|(monitor, complete)| MonitorReadiness { monitor, complete })
            .collect();
        Ok(Self { lamp: a & 0x80 != 0, codes: a & 0x7F, ignition, monitors })
    }

    /// Whether a monitor is complete; `None` if the car has none such.
    pub fn complete(&self, monitor: Monitor) -> Option<bool> {
        self.monitors.iter().find(|row| row.monitor == monitor).map(|row| row.complete)
    }

    /// Monitors that have not run yet.
    pub fn incomplete(&self) -> impl Iterator<Item = Monitor> + '_ {
        self.monitors.iter().filter(|row| !row.complete).map(|row| row.monitor)
    }
}

/// Bits of the second byte: supported in the lower half, not complete four bits higher.
const CONTINUOUS_MONITORS: &[(u8, Monitor)] =
    &[(0x01, Monitor::Misfire), (0x02, Monitor::FuelSystem), (0x04, Monitor::Components)];

/// Bits of the third byte (supported) and the fourth (not complete), spark ignition.
const SPARK_MONITORS: &[(u8, Monitor)] = &[
    (0x01, Monitor::Catalyst),
    (0x02, Monitor::HeatedCatalyst),
    (0x04, Monitor::Evaporative),
    (0x08, Monitor::SecondaryAir),
    (0x10, Monitor::GasolineParticulateFilter),
    (0x20, Monitor::OxygenSensor),
    (0x40, Monitor::OxygenSensorHeater),
    (0x80, Monitor::ExhaustGasRecirculation),
];

/// The same, compression ignition. Bits 04 and 10 are reserved.
const COMPRESSION_MONITORS: &[(u8, Monitor)] = &[
    (0x01, Monitor::HydrocarbonCatalyst),
    (0x02, Monitor::NitrogenOxideCatalyst),
    (0x08, Monitor::BoostPressure),
    (0x20, Monitor::ExhaustGasSensor),
    (0x40, Monitor::ParticulateFilter),
    (0x80, Monitor::ExhaustGasRecirculation),
];

#[cfg(test)]
mod tests {
    use super::{Ignition, Monitor, Readiness};
    use crate::vehicle::{DecodeError, hex_bytes};

    /// SAE J1979 parameter 01 worked by hand: 83 is lamp and three codes; 07 misfire, fuel and
    /// components, all complete; 65 = 0110 0101 catalyst, evaporative, oxygen sensor, heater;
    /// 04 evaporative not complete.
    #[test]
    fn a_set_bit_of_the_last_byte_means_incomplete() {
        let readiness = Readiness::from_data(&hex_bytes("83 07 65 04")).unwrap();
        assert!(readiness.lamp);
        assert_eq!((readiness.codes, readiness.ignition), (3, Ignition::Spark));
        let has: Vec<Monitor> = readiness.monitors.iter().map(|row| row.monitor).collect();
        assert_eq!(
            has,
            [
                Monitor::Misfire,
                Monitor::FuelSystem,
                Monitor::Components,
                Monitor::Catalyst,
                Monitor::Evaporative,
                Monitor::OxygenSensor,
                Monitor::OxygenSensorHeater
            ]
        );
        assert_eq!(readiness.incomplete().collect::<Vec<_>>(), [Monitor::Evaporative]);
        assert_eq!(readiness.complete(Monitor::Evaporative), Some(false));
        assert_eq!(readiness.complete(Monitor::Catalyst), Some(true));
        assert_eq!(readiness.complete(Monitor::SecondaryAir), None);
    }

    #[test]
    fn monitors_that_run_all_the_time_have_their_bits_in_one_byte() {
        let readiness = Readiness::from_data(&hex_bytes("00 27 00 00")).unwrap();
        assert!(!readiness.lamp);
        assert_eq!(readiness.incomplete().collect::<Vec<_>>(), [Monitor::FuelSystem]);
    }

    #[test]
    fn compression_ignition_has_no_evaporative_monitor() {
        let readiness = Readiness::from_data(&hex_bytes("00 0F FF FF")).unwrap();
        assert_eq!(readiness.ignition, Ignition::Compression);
        assert_eq!(readiness.complete(Monitor::Evaporative), None);
        assert_eq!(readiness.complete(Monitor::ParticulateFilter), Some(false));
    }

    #[test]
    fn other_lengths_are_refused_and_any_four_bytes_have_a_meaning() {
        assert!(matches!(Readiness::from_data(&[1, 2, 3]), Err(DecodeError::TooShort { .. })));
        assert!(matches!(Readiness::from_data(&[0; 5]), Err(DecodeError::TooLong { .. })));
        for bits in (0..=u32::MAX).step_by(65_537) {
            let readiness = Readiness::from_data(&bits.to_be_bytes()).unwrap();
            assert!(readiness.monitors.len() <= 11);
        }
    }
}
