use super::person::Act;
use crate::units::{Instant, Litre, LitrePerMinute, Millimetre, Pascal, Percent};
use crate::vehicle::Fault;

/// What is really the matter with a virtual car: for holding a verdict against it, never for
/// making one.
#[derive(Clone, Debug, PartialEq)]
pub struct Truth {
    /// The fault; `None` is a sound car, also after the repair.
    pub fault: Option<Fault>,
    /// A fault of another part beside it.
    pub second: Option<Fault>,
    /// How bad, 0 to 1; 0 for a sound car.
    pub severity: f64,
    /// Flow through the shut purge valve as a share of its full flow.
    pub leak_share: Percent,
    /// Flow through the shut purge valve with the manifold choked.
    pub leak_flow: LitrePerMinute,
    /// Flow through the purge valve fully open with the manifold choked.
    pub full_purge_flow: LitrePerMinute,
    /// Change of tank pressure that full purge would make if the vent went on resisting as it does at the
    /// usual command, two fifths of it; negative.
    pub purge_vacuum: Pascal,
    /// Change of tank pressure that the leak makes at idle, settled, vent open; negative.
    pub leak_pressure: Pascal,
    /// How many times the pressure loss of a sound vent path this one has.
    pub vent_factor: f64,
    /// Pressure lost in the vent path at 50 L/min.
    pub vent_loss: Pascal,
    /// Time constant of the recovery for small pressures: vent's laminar resistance times the
    /// tank's isothermal capacity, s.
    pub recovery_seconds: f64,
    /// Constant error of the tank pressure sensor.
    pub sensor_offset: Pascal,
    /// Time constant of the tank pressure sensor, s.
    pub sensor_lag_seconds: f64,
    /// Whether the sensor is stuck.
    pub sensor_is_stuck: bool,
    /// Resolution of the tank pressure sensor.
    pub sensor_step: Pascal,
    /// Noise of one reading, standard deviation.
    pub sensor_noise: Pascal,
    /// Equivalent hole to the outside; zero without the fault.
    pub hole: Millimetre,
    /// Vapour space now.
    pub vapour_space: Litre,
    /// Fuel level now.
    pub fuel_level: Percent,
    /// Tank pressure now, over ambient.
    pub tank_pressure: Pascal,
    /// Everything that the person did, with the time at which it really happened.
    pub acts: Vec<(Instant, Act)>,
}
