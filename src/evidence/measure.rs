use serde::{Deserialize, Serialize};

use crate::units::Estimate;

macro_rules! measures {
    ($($(#[$doc:meta])* $variant:ident, $name:literal, $unit:literal;)*) => {
        /// What a measure measures. Each has one unit.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum MeasureName {
            $($(#[$doc])* #[serde(rename = $name)] $variant,)*
        }

        impl MeasureName {
            /// Every measure.
            pub const ALL: &[Self] = &[$(Self::$variant,)*];

            /// The stable name.
            pub const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name,)* }
            }

            /// The unit's symbol; empty for a pure number.
            pub const fn unit(self) -> &'static str {
                match self { $(Self::$variant => $unit,)* }
            }
        }
    };
}

measures! {
    /// Tank pressure with the system vented and the engine off.
    RestPressure, "rest_pressure", "Pa";
    /// Slow movement of tank pressure with nothing acting on it.
    RestDrift, "rest_drift", "Pa/s";
    /// Standard deviation of one reading at rest.
    Noise, "noise", "Pa";
    /// Smallest change the reading can show.
    Step, "step", "Pa";
    /// Largest movement of tank pressure over the whole recording.
    Movement, "movement", "Pa";
    /// Share of the readings of a still tank that differ from the one before.
    ChangingReadings, "changing_readings", "%";
    /// Manifold less barometric pressure, engine off.
    ManifoldAgainstBarometric, "manifold_against_barometric", "kPa";
    /// Change of tank pressure from rest to idle, purge still shut.
    IdleChange, "idle_change", "Pa";
    /// Tank pressure that the purge valve's flow makes at full purge command and choked flow.
    PurgeVacuum, "purge_vacuum", "Pa";
    /// Purge command below which nothing flows.
    DeadBand, "dead_band", "%";
    /// Time constant with which the pressure follows what purge asks for.
    ResponseTime, "response_time", "s";
    /// From purge command to the tank's answer.
    PurgeDelay, "purge_delay", "s";
    /// Time constant of the tank's return to atmospheric once purge flow stops.
    RecoveryTime, "recovery_time", "s";
    /// Time to nine tenths of that return.
    RecoveryT90, "recovery_t90", "s";
    /// From unplugging to the start of the return.
    RecoveryDelay, "recovery_delay", "s";
    /// What stays of the vacuum after the return, over the pressure at rest.
    ResidualVacuum, "residual_vacuum", "Pa";
    /// Spread of the time constants between the cycles, as a ratio.
    CycleSpread, "cycle_spread", "";
    /// Tank pressure made by flow through the purge valve while it is shut, at choked flow.
    VacuumWithPurgeShut, "vacuum_with_purge_shut", "Pa";
    /// The purge command that would draw the same flow as the shut valve does.
    ShareOfPurge, "share_of_purge", "%";
    /// Hole that would pass the same flow.
    EquivalentHole, "equivalent_hole", "mm";
    /// The same flow.
    LeakFlow, "leak_flow", "L/min";
    /// Smallest flow through the shut valve this recording would have shown with 95 % power.
    DetectionLimit, "detection_limit", "Pa";
    /// The same as a share of purge.
    DetectionLimitShare, "detection_limit_share", "%";
    /// Tank pressure with the cap off.
    CapOffPressure, "cap_off_pressure", "Pa";
    /// Time constant of the fall to it.
    CapOffTime, "cap_off_time", "s";
    /// Flow that full purge would draw, as the fall of the sealed tank's pressure tells it.
    SealedFlow, "sealed_flow", "L/min";
    /// Range of the readings while the vent was sealed.
    SealedMovement, "sealed_movement", "Pa";
    /// How long the vent was sealed, over all holds that are long enough to move a reading.
    SealedTime, "sealed_time", "s";
    /// How far the sealed reading rose above where the hold began.
    SealedRise, "sealed_rise", "Pa";
    /// How much of that time the engine stood, so that nothing but the fuel moved the tank.
    SealedStanding, "sealed_standing", "s";
    /// Time constant of the return once a sealed vent is opened again.
    VentedTime, "vented_time", "s";
    /// Time constant of the vent path alone: the vacuum that purge holds against the open vent, over the
    /// speed at which it draws the sealed tank down. The sensor's lag is not in it.
    VentTime, "vent_time", "s";
    /// Share of a sealed reading's change that it gave back once the vent was open again.
    GivenBack, "given_back", "%";
    /// Decay of the square root of the vacuum with the vent sealed.
    SealedDecay, "sealed_decay", "√Pa/s";
    /// Speed at which the sealed vacuum grows with the valve shut and the engine running; negative where
    /// a leaking valve goes on pulling.
    SealedPull, "sealed_pull", "Pa/s";
    /// Speed at which full purge would draw the sealed tank down.
    SealedDraw, "sealed_draw", "Pa/s";
    /// Flow through the shut valve as a share of full purge: what of a sealed tank's fall stops with the
    /// engine.
    SealedLeak, "sealed_leak", "%";
    /// Hole to the outside that would explain the decay.
    SealedHole, "sealed_hole", "mm";
    /// Smallest hole this hold would have shown.
    SealedHoleLimit, "sealed_hole_limit", "mm";
    /// Lowest pressure reached with the vent sealed.
    SealedVacuum, "sealed_vacuum", "Pa";
    /// Lowest fuel trim after the fill-up, against the time that follows.
    TrimExcursion, "trim_excursion", "%";
    /// Time constant of the trim's return.
    TrimDecay, "trim_decay", "s";
    /// Roughness of engine speed against the time that follows, as a ratio.
    SpeedRoughness, "speed_roughness", "";
    /// Answer of the short-term trim to purge.
    TrimWithPurge, "trim_with_purge", "%";
    /// Change of a measure from before to after the repair.
    ChangeAfterRepair, "change_after_repair", "Pa";
}

/// A number that a check found, with 95 % bounds.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Measure {
    /// What was measured; the unit follows from it.
    pub name: MeasureName,
    /// The number and its bounds.
    pub estimate: Estimate,
}
