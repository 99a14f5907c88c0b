use serde::{Deserialize, Serialize};

use super::{Field, PARAMETERS, Parameter};

macro_rules! quantities {
    ($($variant:ident, $name:literal, $title:literal, $unit:literal;)*) => {
        /// What a number from the car measures. Those that a check uses are also a [`Signal`].
        ///
        /// [`Signal`]: super::Signal
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum Quantity {
            $(#[doc = $title] #[serde(rename = $name)] $variant,)*
        }

        impl Quantity {
            /// Every quantity.
            pub const ALL: &[Self] = &[$(Self::$variant,)*];

            /// The stable name.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// In the trade's plain English.
            pub const fn title(self) -> &'static str {
                match self { $(Self::$variant => $title,)* }
            }

            /// The unit's symbol; empty for counts, bits and pure numbers.
            pub const fn unit(self) -> &'static str {
                match self { $(Self::$variant => $unit,)* }
            }
        }
    };
}

quantities! {
    FuelSystemStatus, "fuel_system_status", "Fuel system status", "";
    EngineLoad, "engine_load_percent", "Engine load", "%";
    Coolant, "coolant_c", "Coolant temperature", "°C";
    ShortTrim, "short_trim_percent", "Short-term fuel trim", "%";
    LongTrim, "long_trim_percent", "Long-term fuel trim", "%";
    ManifoldPressure, "manifold_pressure_kpa", "Manifold pressure, absolute", "kPa";
    EngineSpeed, "engine_speed_rpm", "Engine speed", "rpm";
    VehicleSpeed, "vehicle_speed_kmh", "Vehicle speed", "km/h";
    IntakeAir, "intake_air_c", "Intake air temperature", "°C";
    MassAirFlow, "mass_air_flow_g_s", "Mass air flow", "g/s";
    Throttle, "throttle_percent", "Throttle position", "%";
    OxygenSensorsPresent, "oxygen_sensors_present", "Oxygen sensors fitted, as bits", "";
    OxygenVoltage, "oxygen_v", "Oxygen sensor voltage", "V";
    OxygenTrim, "oxygen_trim_percent", "Short-term trim by oxygen sensor", "%";
    RequirementType, "requirement_type", "Diagnostic requirement the car was built to", "";
    TimeSinceStart, "time_since_start_s", "Time since engine start", "s";
    DistanceWithLamp, "distance_with_lamp_km", "Distance with the warning lamp on", "km";
    EgrCommand, "egr_command_percent", "Commanded exhaust gas recirculation", "%";
    EgrError, "egr_error_percent", "Exhaust gas recirculation error", "%";
    PurgeCommand, "purge_command_percent", "Commanded purge", "%";
    FuelLevel, "fuel_level_percent", "Fuel level", "%";
    WarmUpsSinceClear, "warm_ups_since_clear", "Warm-ups since codes were cleared", "";
    DistanceSinceClear, "distance_since_clear_km", "Distance since codes were cleared", "km";
    TankPressure, "tank_pressure_pa", "Tank pressure over ambient", "Pa";
    BarometricPressure, "barometric_pressure_kpa", "Barometric pressure", "kPa";
    Lambda, "lambda", "Air-fuel ratio over stoichiometric", "";
    OxygenCurrent, "oxygen_current_ma", "Wide-range oxygen sensor current", "mA";
    CatalystTemperature, "catalyst_c", "Catalyst temperature", "°C";
    Supply, "supply_v", "Control-module voltage", "V";
    AbsoluteLoad, "absolute_load_percent", "Absolute load", "%";
    CommandedLambda, "commanded_lambda", "Commanded air-fuel ratio over stoichiometric", "";
    RelativeThrottle, "relative_throttle_percent", "Relative throttle position", "%";
    AmbientAir, "ambient_air_c", "Ambient air temperature", "°C";
    ThrottleB, "throttle_b_percent", "Throttle position, second sensor", "%";
    ThrottleC, "throttle_c_percent", "Throttle position, third sensor", "%";
    AcceleratorPedal, "accelerator_pedal_percent", "Accelerator pedal position", "%";
    ThrottleCommand, "throttle_command_percent", "Commanded throttle", "%";
    TimeWithLamp, "time_with_lamp_min", "Time with the warning lamp on", "min";
    TimeSinceClear, "time_since_clear_min", "Time since codes were cleared", "min";
    MaximumLambda, "maximum_lambda", "Largest lambda this car reports", "";
    MaximumOxygenVoltage, "maximum_oxygen_v", "Largest oxygen sensor voltage this car reports", "V";
    MaximumOxygenCurrent, "maximum_oxygen_ma", "Largest oxygen sensor current this car reports", "mA";
    MaximumManifoldPressure, "maximum_manifold_kpa", "Largest manifold pressure this car reports", "kPa";
    MaximumAirFlow, "maximum_air_flow_g_s", "Largest mass air flow this car reports", "g/s";
    FuelType, "fuel_type", "Fuel", "";
    AlcoholShare, "alcohol_percent", "Alcohol in the fuel", "%";
    TankPressureAbsolute, "tank_pressure_absolute_kpa", "Tank pressure, absolute", "kPa";
    TankPressureWide, "tank_pressure_wide_pa", "Tank pressure over ambient, wide range", "Pa";
    SecondaryShortTrim, "secondary_short_trim_percent", "Short-term trim behind the catalyst", "%";
    SecondaryLongTrim, "secondary_long_trim_percent", "Long-term trim behind the catalyst", "%";
    FuelRate, "fuel_rate_l_h", "Fuel rate", "L/h";
}

impl Quantity {
    /// The quantity with this stable name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|quantity| quantity.name() == name)
    }

    /// Smallest change that the standard's parameter for it shows, which says how many decimals
    /// mean something.
    pub fn resolution(self) -> f64 {
        PARAMETERS
            .iter()
            .flat_map(Parameter::fields)
            .find(|field| field.quantity == self)
            .map_or(1.0, Field::resolution)
    }

    /// The words for a code number of a quantity that is a choice from a list, such as fuel type.
    /// `None` if the quantity is no such list or the number is not on it.
    pub fn choice(self, number: u8) -> Option<&'static str> {
        let list: &[(u8, &str)] = match self {
            Self::FuelSystemStatus => &FUEL_SYSTEM_STATUS,
            Self::RequirementType => &REQUIREMENT_TYPE,
            Self::FuelType => &FUEL_TYPE,
            _ => return None,
        };
        list.iter().find(|(known, _)| *known == number).map(|(_, words)| *words)
    }
}

/// SAE J1979 service 01 parameter 03, from memory of the standard. One bit at most is set.
const FUEL_SYSTEM_STATUS: [(u8, &str); 6] = [
    (0x00, "not reported"),
    (0x01, "open loop, not warm yet"),
    (0x02, "closed loop"),
    (0x04, "open loop because of load or overrun"),
    (0x08, "open loop because of a fault"),
    (0x10, "closed loop with a fault"),
];

/// SAE J1979 service 01 parameter 1C, from memory of the standard.
const REQUIREMENT_TYPE: [(u8, &str); 10] = [
    (0x01, "California OBD II"),
    (0x02, "federal OBD"),
    (0x03, "federal OBD and California OBD II"),
    (0x04, "OBD I"),
    (0x05, "no OBD"),
    (0x06, "European OBD"),
    (0x07, "European OBD and California OBD II"),
    (0x08, "European and federal OBD"),
    (0x09, "European, federal and California OBD"),
    (0x0A, "Japanese OBD"),
];

/// SAE J1979 service 01 parameter 51, from memory of the standard; only what a vapour system can
/// belong to and its neighbours.
const FUEL_TYPE: [(u8, &str); 9] = [
    (0x00, "not reported"),
    (0x01, "gasoline"),
    (0x02, "methanol"),
    (0x03, "ethanol"),
    (0x04, "diesel"),
    (0x05, "liquefied petroleum gas"),
    (0x06, "compressed natural gas"),
    (0x07, "propane"),
    (0x08, "electric"),
];

#[cfg(test)]
mod tests {
    use super::Quantity;
    use crate::vehicle::{PARAMETERS, Parameter};

    #[test]
    fn names_are_unique() {
        for quantity in Quantity::ALL {
            assert_eq!(Quantity::from_name(quantity.name()), Some(*quantity));
        }
    }

    #[test]
    fn every_quantity_comes_from_a_parameter() {
        for quantity in Quantity::ALL {
            let given = |row: &Parameter| row.fields().iter().any(|f| f.quantity == *quantity);
            assert!(PARAMETERS.iter().any(given), "{quantity:?}");
        }
        assert_eq!(Quantity::TankPressure.resolution(), 0.25);
    }

    #[test]
    fn choices_have_words_and_numbers_off_the_list_have_none() {
        assert_eq!(Quantity::FuelSystemStatus.choice(0x02), Some("closed loop"));
        assert_eq!(Quantity::FuelSystemStatus.choice(0x03), None);
        assert_eq!(Quantity::FuelType.choice(0x01), Some("gasoline"));
        assert_eq!(Quantity::EngineSpeed.choice(0x01), None);
    }
}
