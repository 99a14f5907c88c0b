use serde::{Deserialize, Serialize};

use super::{Check, Measure, MeasureName, Observation, Outcome};
use crate::units::{Estimate, Instant};
use crate::vehicle::Signal;

/// Why a check ended as it did. Sentences for these stand in the wording layer.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// The reading at rest lies within the sensor's usual tolerance of atmospheric.
    ReadsAtmospheric,
    /// The reading at rest lies outside it.
    ReadsOffAtmospheric,
    /// The reading never moved although the tank must have.
    NeverMoves,
    /// The tank stays still while the valve is shut.
    StaysStill,
    /// The tank moves while the valve is shut.
    MovesWhileShut,
    /// Purge pulls the tank as expected.
    FollowsPurge,
    /// Purge was commanded and the tank felt nothing.
    NoAnswerToPurge,
    /// Purge pulls the tank far lower than a free vent path allows.
    PulledTooLow,
    /// The tank returns to atmospheric at once.
    ReturnsAtOnce,
    /// The tank returns slowly.
    ReturnsSlowly,
    /// The tank does not return to where it rests.
    ReturnsPartly,
    /// Manifold and tank have nothing to do with each other.
    DoesNotFollow,
    /// The tank follows the throttle with the valve unplugged.
    FollowsThrottle,
    /// The sealed system holds.
    Holds,
    /// The sealed system loses its vacuum.
    LosesVacuum,
    /// The sealed vacuum grows with the valve shut.
    PullsWhileSealed,
    /// No vacuum could be built with the vent sealed.
    BuildsNoVacuum,
    /// No more fuel vapour than usual after the fill-up.
    NoRichSpell,
    /// The engine ran rich after the fill-up with the purge shut.
    RichSpell,
    /// Before and after agree within the stated limit of still.
    ProvenStill,
    /// After the repair the system still moves.
    StillMoves,
    /// Too few samples of a signal.
    TooFewSamples(Signal),
    /// A signal the check needs is missing.
    SignalMissing(Signal),
    /// The detection limit is worse than a leak that matters.
    LimitTooCoarse,
    /// Purge was never commanded.
    PurgeNeverCommanded,
    /// The throttle was never opened far enough.
    ThrottleNotOpened,
    /// Vacuum before unplugging was too small to time its return.
    TooLittleVacuum,
    /// Polling is too slow to time the return.
    PollingTooSlow,
    /// The vehicle moved during the check.
    VehicleMoved,
    /// The pressure drifted too much for a bound that helps.
    DriftTooLarge,
    /// The two visits cannot be compared.
    NothingToCompare,
    /// The number lies between sound and faulty.
    BetweenLimits,
    /// The car tells no zero: its first reading was taken for atmospheric.
    ZeroTaken,
}

/// What a check found.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CheckResult {
    /// Which check.
    pub check: Check,
    /// How it ended.
    pub outcome: Outcome,
    /// Why.
    pub reason: Reason,
    /// The numbers.
    pub measures: Vec<Measure>,
    /// First and last moment of the samples that show it.
    pub window: (Instant, Instant),
}

impl CheckResult {
    /// The estimate of this name, if the check made one.
    pub fn measure(&self, name: MeasureName) -> Option<Estimate> {
        self.measures.iter().find(|measure| measure.name == name).map(|measure| measure.estimate)
    }
}

/// Something about the recording that weakens what can be said.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Warning {
    /// Values of this signal repeat as if an adapter served them twice.
    StaleValues(Signal),
    /// The signal is missing; another stood in for it, at a loss.
    StoodIn {
        /// The missing one.
        missing: Signal,
        /// The one used.
        used: Signal,
    },
    /// The pressure step is coarse against the effect looked for.
    CoarseStep,
    /// The vehicle was driven during the recording; those parts were left out.
    Driven,
    /// Barometric pressure changed during the recording.
    AltitudeChanged,
    /// The reading moves with the supply voltage.
    FollowsSupply,
    /// The pressure drifts, as with warming fuel.
    Drift,
    /// A gap in the recording longer than a check can bridge.
    Gap,
    /// The model does not explain the recording; no part is named on it.
    PoorFit,
}

/// Everything that was found in one visit.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Findings {
    /// Results of the checks the recording allowed, in the order of [`Check::ALL`].
    pub checks: Vec<CheckResult>,
    /// Trouble codes as written.
    pub codes: Vec<String>,
    /// What the person observed.
    pub observations: Vec<Observation>,
    /// What weakens the numbers.
    pub warnings: Vec<Warning>,
    /// Room for vapour above the fuel as the fuel level tells it, L.
    #[serde(default)]
    pub vapour_space: Option<Estimate>,
}

impl Findings {
    /// The result of a check, if it was made.
    pub fn check(&self, check: Check) -> Option<&CheckResult> {
        self.checks.iter().find(|result| result.check == check)
    }

    /// One measure of one check.
    pub fn measure(&self, check: Check, name: MeasureName) -> Option<Estimate> {
        self.check(check)?.measure(name)
    }
}
