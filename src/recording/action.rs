use serde::{Deserialize, Serialize};

/// What the person did. Names are those of the recording file's `action` column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    /// Ignition on, engine off.
    KeyOn,
    /// Engine runs.
    EngineStarted,
    /// Engine stopped.
    EngineStopped,
    /// Connector of the purge valve pulled: the valve is shut.
    PurgeUnplugged,
    /// Connector of the purge valve back in.
    PurgePlugged,
    /// Vent closed by request or by hand.
    VentSealed,
    /// Vent open again.
    VentOpened,
    /// Fuel cap off.
    CapOpened,
    /// Fuel cap on.
    CapClosed,
    /// Throttle opened wide.
    ThrottleOpened,
    /// Throttle let go.
    ThrottleReleased,
    /// Tank filled.
    Refuelled,
    /// A part was replaced.
    PartReplaced,
    /// The first reading was taken for atmospheric: the car tells tank pressure only as absolute,
    /// and barometric pressure only to the kilopascal.
    TankZeroed,
}

impl Action {
    /// Every action, in the order of the contract, then our own.
    pub const ALL: [Self; 14] = [
        Self::KeyOn,
        Self::EngineStarted,
        Self::EngineStopped,
        Self::PurgeUnplugged,
        Self::PurgePlugged,
        Self::VentSealed,
        Self::VentOpened,
        Self::CapOpened,
        Self::CapClosed,
        Self::ThrottleOpened,
        Self::ThrottleReleased,
        Self::Refuelled,
        Self::PartReplaced,
        Self::TankZeroed,
    ];

    /// The action's stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::KeyOn => "key_on",
            Self::EngineStarted => "engine_started",
            Self::EngineStopped => "engine_stopped",
            Self::PurgeUnplugged => "purge_unplugged",
            Self::PurgePlugged => "purge_plugged",
            Self::VentSealed => "vent_sealed",
            Self::VentOpened => "vent_opened",
            Self::CapOpened => "cap_opened",
            Self::CapClosed => "cap_closed",
            Self::ThrottleOpened => "throttle_opened",
            Self::ThrottleReleased => "throttle_released",
            Self::Refuelled => "refuelled",
            Self::PartReplaced => "part_replaced",
            Self::TankZeroed => "tank_zeroed",
        }
    }

    /// The action with this stable name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|action| action.name() == name)
    }
}
