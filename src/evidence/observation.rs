use serde::{Deserialize, Serialize};

/// What the person saw, heard or measured by hand. Counts as evidence.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Observation {
    /// The purge valve clicks when commanded.
    PurgeValveClicks,
    /// The purge valve does not click when commanded.
    PurgeValveSilent,
    /// Off the car, the unpowered purge valve holds hand-pump vacuum.
    PurgeValveHoldsVacuum,
    /// Off the car, the unpowered purge valve lets air through.
    PurgeValvePassesAir,
    /// The purge valve's coil resistance lies within the manual's window.
    CoilResistanceInRange,
    /// The purge valve's coil resistance lies outside the manual's window.
    CoilResistanceOutOfRange,
    /// A vapour hose is cracked, off or kinked open.
    HoseCracked,
    /// The cap's seal is torn, dirty or dry.
    CapSealBad,
    /// The cap's seal is sound.
    CapSealGood,
    /// Mud, webs or dust in the vent filter.
    VentFilterDirty,
    /// The vent filter is clean and passes air.
    VentFilterClean,
    /// At rest the tank sensor's own volts lie within the manual's window.
    SensorVoltageInRange,
    /// At rest the tank sensor's own volts lie outside the manual's window.
    SensorVoltageOutOfRange,
}

impl Observation {
    /// Every observation.
    pub const ALL: [Self; 13] = [
        Self::PurgeValveClicks,
        Self::PurgeValveSilent,
        Self::PurgeValveHoldsVacuum,
        Self::PurgeValvePassesAir,
        Self::CoilResistanceInRange,
        Self::CoilResistanceOutOfRange,
        Self::HoseCracked,
        Self::CapSealBad,
        Self::CapSealGood,
        Self::VentFilterDirty,
        Self::VentFilterClean,
        Self::SensorVoltageInRange,
        Self::SensorVoltageOutOfRange,
    ];

    /// The observation that says the opposite, which this one replaces.
    pub const fn opposite(self) -> Option<Self> {
        match self {
            Self::PurgeValveClicks => Some(Self::PurgeValveSilent),
            Self::PurgeValveSilent => Some(Self::PurgeValveClicks),
            Self::PurgeValveHoldsVacuum => Some(Self::PurgeValvePassesAir),
            Self::PurgeValvePassesAir => Some(Self::PurgeValveHoldsVacuum),
            Self::CoilResistanceInRange => Some(Self::CoilResistanceOutOfRange),
            Self::CoilResistanceOutOfRange => Some(Self::CoilResistanceInRange),
            Self::CapSealBad => Some(Self::CapSealGood),
            Self::CapSealGood => Some(Self::CapSealBad),
            Self::VentFilterDirty => Some(Self::VentFilterClean),
            Self::VentFilterClean => Some(Self::VentFilterDirty),
            Self::SensorVoltageInRange => Some(Self::SensorVoltageOutOfRange),
            Self::SensorVoltageOutOfRange => Some(Self::SensorVoltageInRange),
            Self::HoseCracked => None,
        }
    }
}
