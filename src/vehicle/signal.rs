use serde::{Deserialize, Serialize};

/// One measured quantity over time. Names and units are those of the recording file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Signal {
    /// Tank pressure over ambient; negative is vacuum.
    #[serde(rename = "tank_pressure_pa")]
    TankPressure,
    /// Output of the tank pressure sensor.
    #[serde(rename = "tank_sensor_v")]
    TankSensor,
    /// Intake manifold pressure, absolute.
    #[serde(rename = "manifold_pressure_kpa")]
    ManifoldPressure,
    /// Barometric pressure.
    #[serde(rename = "barometric_pressure_kpa")]
    BarometricPressure,
    /// Throttle position.
    #[serde(rename = "throttle_percent")]
    Throttle,
    /// Commanded evaporative purge; 0 is shut.
    #[serde(rename = "purge_command_percent")]
    PurgeCommand,
    /// Commanded vent valve; 0 is open.
    #[serde(rename = "vent_command_percent")]
    VentCommand,
    /// Engine speed.
    #[serde(rename = "engine_speed_rpm")]
    EngineSpeed,
    /// Vehicle speed.
    #[serde(rename = "vehicle_speed_kmh")]
    VehicleSpeed,
    /// Calculated engine load.
    #[serde(rename = "engine_load_percent")]
    EngineLoad,
    /// Coolant temperature.
    #[serde(rename = "coolant_c")]
    Coolant,
    /// Intake air temperature.
    #[serde(rename = "intake_air_c")]
    IntakeAir,
    /// Ambient air temperature.
    #[serde(rename = "ambient_air_c")]
    AmbientAir,
    /// Fuel level.
    #[serde(rename = "fuel_level_percent")]
    FuelLevel,
    /// Short-term fuel trim, bank 1; positive adds fuel.
    #[serde(rename = "short_trim_1_percent")]
    ShortTrim1,
    /// Long-term fuel trim, bank 1.
    #[serde(rename = "long_trim_1_percent")]
    LongTrim1,
    /// Short-term fuel trim, bank 2.
    #[serde(rename = "short_trim_2_percent")]
    ShortTrim2,
    /// Long-term fuel trim, bank 2.
    #[serde(rename = "long_trim_2_percent")]
    LongTrim2,
    /// Control-module supply voltage.
    #[serde(rename = "supply_v")]
    Supply,
}

impl Signal {
    /// Every signal, in the order of the recording file's columns.
    pub const ALL: [Self; 19] = [
        Self::TankPressure,
        Self::TankSensor,
        Self::ManifoldPressure,
        Self::BarometricPressure,
        Self::Throttle,
        Self::PurgeCommand,
        Self::VentCommand,
        Self::EngineSpeed,
        Self::VehicleSpeed,
        Self::EngineLoad,
        Self::Coolant,
        Self::IntakeAir,
        Self::AmbientAir,
        Self::FuelLevel,
        Self::ShortTrim1,
        Self::LongTrim1,
        Self::ShortTrim2,
        Self::LongTrim2,
        Self::Supply,
    ];

    /// The signal's stable name, which is also its column in a recording file.
    pub const fn name(self) -> &'static str {
        match self {
            Self::TankPressure => "tank_pressure_pa",
            Self::TankSensor => "tank_sensor_v",
            Self::ManifoldPressure => "manifold_pressure_kpa",
            Self::BarometricPressure => "barometric_pressure_kpa",
            Self::Throttle => "throttle_percent",
            Self::PurgeCommand => "purge_command_percent",
            Self::VentCommand => "vent_command_percent",
            Self::EngineSpeed => "engine_speed_rpm",
            Self::VehicleSpeed => "vehicle_speed_kmh",
            Self::EngineLoad => "engine_load_percent",
            Self::Coolant => "coolant_c",
            Self::IntakeAir => "intake_air_c",
            Self::AmbientAir => "ambient_air_c",
            Self::FuelLevel => "fuel_level_percent",
            Self::ShortTrim1 => "short_trim_1_percent",
            Self::LongTrim1 => "long_trim_1_percent",
            Self::ShortTrim2 => "short_trim_2_percent",
            Self::LongTrim2 => "long_trim_2_percent",
            Self::Supply => "supply_v",
        }
    }

    /// The unit of the signal's values, as a symbol.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::TankPressure => "Pa",
            Self::TankSensor | Self::Supply => "V",
            Self::ManifoldPressure | Self::BarometricPressure => "kPa",
            Self::EngineSpeed => "rpm",
            Self::VehicleSpeed => "km/h",
            Self::Coolant | Self::IntakeAir | Self::AmbientAir => "°C",
            Self::Throttle
            | Self::PurgeCommand
            | Self::VentCommand
            | Self::EngineLoad
            | Self::FuelLevel
            | Self::ShortTrim1
            | Self::LongTrim1
            | Self::ShortTrim2
            | Self::LongTrim2 => "%",
        }
    }

    /// The signal with this stable name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|signal| signal.name() == name)
    }
}
