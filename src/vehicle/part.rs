use serde::{Deserialize, Serialize};

use super::Fault;

/// A part that people buy against a fault of the vapour system.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// The valve between canister and manifold.
    PurgeValve,
    /// The valve that lets the canister breathe.
    VentValve,
    /// The sensor of the tank's pressure.
    TankSensor,
    /// The cap: what a leak to the outside makes people buy first (common practice, no source).
    FuelCap,
}

impl Part {
    /// Every part.
    pub const ALL: [Self; 4] = [Self::PurgeValve, Self::VentValve, Self::TankSensor, Self::FuelCap];

    /// The part that answers a fault.
    pub const fn of(fault: Fault) -> Self {
        match fault {
            Fault::PurgeValveLeaking | Fault::NoPurgeFlow => Self::PurgeValve,
            Fault::VentPathRestricted => Self::VentValve,
            Fault::TankSensorOffset | Fault::TankSensorSlow | Fault::TankSensorStuck => {
                Self::TankSensor
            }
            Fault::VaporLeak => Self::FuelCap,
        }
    }

    /// The part with this stable name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|part| part.name() == name)
    }

    /// The part's stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::PurgeValve => "purge_valve",
            Self::VentValve => "vent_valve",
            Self::TankSensor => "tank_sensor",
            Self::FuelCap => "fuel_cap",
        }
    }
}
