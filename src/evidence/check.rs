use serde::{Deserialize, Serialize};

/// A guided procedure that yields pass, fail or inconclusive with numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Check {
    /// Key on, engine off: the sensor's zero, noise and step.
    RestZero,
    /// Engine started, purge still shut: does the tank move?
    IdleZero,
    /// Purge commanded: does the tank feel it?
    PurgeResponse,
    /// Valve unplugged and plugged: how fast does the tank come back, and how far?
    UnplugRecovery,
    /// Valve unplugged, throttle opened: does the tank follow?
    ThrottleFollow,
    /// Cap off: the reading with the tank at atmospheric.
    CapOffZero,
    /// The first two minutes after a fill-up.
    AfterFillUp,
    /// Vent sealed: does the tank hold?
    SealedHold,
    /// The same checks after the repair.
    RepairProof,
}

impl Check {
    /// Every check, in the order of the contract.
    pub const ALL: [Self; 9] = [
        Self::RestZero,
        Self::IdleZero,
        Self::PurgeResponse,
        Self::UnplugRecovery,
        Self::ThrottleFollow,
        Self::CapOffZero,
        Self::AfterFillUp,
        Self::SealedHold,
        Self::RepairProof,
    ];

    /// The check's stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::RestZero => "rest_zero",
            Self::IdleZero => "idle_zero",
            Self::PurgeResponse => "purge_response",
            Self::UnplugRecovery => "unplug_recovery",
            Self::ThrottleFollow => "throttle_follow",
            Self::CapOffZero => "cap_off_zero",
            Self::AfterFillUp => "after_fill_up",
            Self::SealedHold => "sealed_hold",
            Self::RepairProof => "repair_proof",
        }
    }

    /// The check with this stable name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|check| check.name() == name)
    }
}

/// How a check ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outcome {
    /// What was measured lies where a sound system lies, and a fault that matters would have shown.
    Pass,
    /// What was measured lies where a sound system cannot lie.
    Fail,
    /// The data cannot say.
    Inconclusive,
}

impl Outcome {
    /// The outcome's stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pass => "pass",
            Self::Fail => "fail",
            Self::Inconclusive => "inconclusive",
        }
    }
}
