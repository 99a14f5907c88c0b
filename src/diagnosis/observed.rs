//! What a hand-made observation says about each hypothesis.

use super::Hypothesis;
use crate::evidence::Observation;
use crate::vehicle::Fault;

/// Probability that a careful person reports this observation under the hypothesis, against its
/// opposite (common practice, no source). Hands and ears err, so none is below 2 %.
pub(super) fn probability(observation: Observation, hypothesis: Hypothesis) -> f64 {
    let is = |fault| hypothesis == Hypothesis::Fault(fault);
    match observation {
        Observation::PurgeValveClicks => {
            if is(Fault::NoPurgeFlow) {
                0.45
            } else {
                0.95
            }
        }
        Observation::PurgeValveSilent => {
            if is(Fault::NoPurgeFlow) {
                0.55
            } else {
                0.05
            }
        }
        Observation::PurgeValveHoldsVacuum => {
            if is(Fault::PurgeValveLeaking) {
                0.08
            } else {
                0.97
            }
        }
        Observation::PurgeValvePassesAir => {
            if is(Fault::PurgeValveLeaking) {
                0.92
            } else {
                0.03
            }
        }
        Observation::CoilResistanceInRange => {
            if is(Fault::NoPurgeFlow) {
                0.7
            } else {
                0.97
            }
        }
        Observation::CoilResistanceOutOfRange => {
            if is(Fault::NoPurgeFlow) {
                0.3
            } else {
                0.03
            }
        }
        Observation::HoseCracked => {
            if is(Fault::VaporLeak) {
                0.4
            } else if is(Fault::NoPurgeFlow) {
                0.1
            } else {
                0.03
            }
        }
        Observation::CapSealBad => {
            if is(Fault::VaporLeak) {
                0.45
            } else {
                0.08
            }
        }
        Observation::CapSealGood => {
            if is(Fault::VaporLeak) {
                0.55
            } else {
                0.92
            }
        }
        Observation::VentFilterDirty => {
            if is(Fault::VentPathRestricted) {
                0.6
            } else {
                0.1
            }
        }
        Observation::VentFilterClean => {
            if is(Fault::VentPathRestricted) {
                0.4
            } else {
                0.9
            }
        }
        // Windows of manuals are wide, and an offset may stay inside.
        Observation::SensorVoltageInRange => 1.0 - voltage_outside(hypothesis),
        Observation::SensorVoltageOutOfRange => voltage_outside(hypothesis),
    }
}

/// Probability that the sensor's volts at rest lie outside the manual's window.
fn voltage_outside(hypothesis: Hypothesis) -> f64 {
    match hypothesis {
        Hypothesis::Fault(Fault::TankSensorOffset) => 0.6,
        Hypothesis::Fault(Fault::TankSensorStuck) => 0.4,
        _ => 0.04,
    }
}
