use serde::{Deserialize, Serialize};

use crate::recording::Action;

/// What the person is asked to do now. One instruction each.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Step {
    /// Turn the key on, leave the engine off.
    TurnKeyOn,
    /// Leave everything alone, engine off.
    WaitAtRest,
    /// Start the engine.
    StartEngine,
    /// Let it idle and touch nothing.
    WaitAtIdle,
    /// Wait until the car opens the purge valve by itself.
    WaitForPurge,
    /// Let it idle while the purge valve works.
    WatchPurge,
    /// Pull the purge valve's connector.
    UnplugPurge,
    /// Leave it unplugged.
    KeepUnplugged,
    /// Put the connector back.
    PlugPurge,
    /// Leave it plugged in.
    KeepPlugged,
    /// Open the throttle wide for a moment.
    OpenThrottle,
    /// Let go.
    ReleaseThrottle,
    /// Let it settle at idle.
    SettleAtIdle,
    /// Stop the engine, key on.
    StopEngine,
    /// Open the fuel cap.
    OpenCap,
    /// Leave the cap off.
    KeepCapOff,
    /// Close the cap.
    CloseCap,
    /// Seal the vent.
    SealVent,
    /// Let vacuum build.
    BuildVacuum,
    /// Leave everything alone and watch it hold.
    HoldSealed,
    /// Open the vent again.
    OpenVent,
    /// Let it idle before the fill-up, as a measure for afterwards.
    IdleBeforeFillUp,
    /// Fill the tank.
    FillTank,
    /// Let it idle after the fill-up.
    WatchAfterFillUp,
    /// Nothing more to do.
    Done,
}

impl Step {
    /// The action that ends this step when the person does it, where there is one.
    pub const fn awaited(self) -> Option<Action> {
        match self {
            Self::TurnKeyOn => Some(Action::KeyOn),
            Self::StartEngine => Some(Action::EngineStarted),
            Self::StopEngine => Some(Action::EngineStopped),
            Self::UnplugPurge => Some(Action::PurgeUnplugged),
            Self::PlugPurge => Some(Action::PurgePlugged),
            Self::OpenThrottle => Some(Action::ThrottleOpened),
            Self::ReleaseThrottle => Some(Action::ThrottleReleased),
            Self::OpenCap => Some(Action::CapOpened),
            Self::CloseCap => Some(Action::CapClosed),
            Self::SealVent => Some(Action::VentSealed),
            Self::OpenVent => Some(Action::VentOpened),
            Self::FillTank => Some(Action::Refuelled),
            _ => None,
        }
    }

    /// The hazards of this step; `sealed` says whether the vent is sealed as it begins.
    pub const fn cautions(self, sealed: bool) -> &'static [Caution] {
        match self {
            Self::StopEngine if sealed => &[Caution::SealedTank],
            Self::TurnKeyOn | Self::WaitAtRest | Self::StopEngine | Self::Done => &[],
            Self::StartEngine => &[Caution::CarbonMonoxide, Caution::ParkAndChock],
            Self::WaitAtIdle | Self::WaitForPurge | Self::WatchPurge | Self::SettleAtIdle => {
                &[Caution::BeltsAndFan]
            }
            Self::UnplugPurge | Self::KeepUnplugged => {
                &[Caution::BeltsAndFan, Caution::FuelVapour, Caution::SetsCircuitCode]
            }
            Self::PlugPurge | Self::KeepPlugged => &[Caution::BeltsAndFan, Caution::FuelVapour],
            Self::OpenThrottle | Self::ReleaseThrottle => {
                &[Caution::ParkAndChock, Caution::BeltsAndFan]
            }
            Self::OpenCap | Self::KeepCapOff | Self::CloseCap => &[Caution::FuelVapour],
            Self::SealVent | Self::BuildVacuum | Self::HoldSealed | Self::OpenVent => {
                &[Caution::SealedTank, Caution::FuelVapour]
            }
            Self::FillTank => &[Caution::FuelVapour],
            Self::IdleBeforeFillUp | Self::WatchAfterFillUp => {
                &[Caution::CarbonMonoxide, Caution::NotWhileDriving]
            }
        }
    }
}

/// A hazard, shown before the step that has it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// Vapour is heavier than air and lights from a spark.
    FuelVapour,
    /// Belts turn, fans start unasked, parts are hot.
    BeltsAndFan,
    /// The engine runs: outdoors only.
    CarbonMonoxide,
    /// Park, brake on, wheels chocked.
    ParkAndChock,
    /// Unplugging stores a circuit code.
    SetsCircuitCode,
    /// Never pressurise a tank; open the vent as soon as it is asked for.
    SealedTank,
    /// Never read the screen while driving.
    NotWhileDriving,
}
