use serde::{Deserialize, Serialize};

use super::Part;

/// What can be wrong with the vapour system, as far as this program tells faults apart.
///
/// It stands in this layer because the virtual car has these faults and the diagnosis names them,
/// and neither may know the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Fault {
    /// The purge valve flows while it should be shut.
    PurgeValveLeaking,
    /// No vapour flows when purge is commanded: valve stuck shut, or its line blocked.
    NoPurgeFlow,
    /// The way to the outside (vent valve, filter, canister bed) is restricted.
    VentPathRestricted,
    /// The tank pressure sensor reads wrong by a constant.
    TankSensorOffset,
    /// The tank pressure sensor follows late.
    TankSensorSlow,
    /// The tank pressure sensor does not follow at all.
    TankSensorStuck,
    /// Cap, hose, canister or tank leaks to the outside.
    VaporLeak,
}

impl Fault {
    /// Every fault, in the order of the contract.
    pub const ALL: [Self; 7] = [
        Self::PurgeValveLeaking,
        Self::NoPurgeFlow,
        Self::VentPathRestricted,
        Self::TankSensorOffset,
        Self::TankSensorSlow,
        Self::TankSensorStuck,
        Self::VaporLeak,
    ];

    /// Whether both are faults of one part, so that naming either replaces the right one. No purge flow
    /// may come from a blocked line as well as from the valve: it is not the same as a leaking one.
    pub fn same_part(self, other: Self) -> bool {
        let part = Part::of(self);
        self == other || (part == Part::of(other) && part != Part::PurgeValve)
    }

    /// The fault's stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::PurgeValveLeaking => "purge_valve_leaking",
            Self::NoPurgeFlow => "no_purge_flow",
            Self::VentPathRestricted => "vent_path_restricted",
            Self::TankSensorOffset => "tank_sensor_offset",
            Self::TankSensorSlow => "tank_sensor_slow",
            Self::TankSensorStuck => "tank_sensor_stuck",
            Self::VaporLeak => "vapor_leak",
        }
    }

    /// The fault with this stable name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|fault| fault.name() == name)
    }
}
