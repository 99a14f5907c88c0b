//! How probable a measure is for a possible car.
//!
//! Every model here is wrong by some per cent, and a recording can hold what no model foresees.
//! So each density is widened by a stated model error and has a broad second component: no single
//! number can condemn a part by more than that component allows.

use super::population::Car;
use crate::analysis::distribution::normal_probability;
use crate::evidence::{Check, MeasureName};
use crate::units::Estimate;

/// Share of the broad component, and how much broader it is.
const SURPRISE: f64 = 0.004;
const BROADER: f64 = 6.0;

/// Model errors. A share of the predicted value and a floor in the measure's unit.
const PURGE_MODEL: f64 = 0.25;
const SHUT_MODEL: f64 = 0.12;
const SHUT_FLOOR: f64 = 1.5;
const TIME_MODEL: f64 = 0.22;
const OFFSET_MODEL: f64 = 0.04;
const OFFSET_FLOOR: f64 = 8.0;
const HOLE_MODEL: f64 = 0.12;
const HOLE_FLOOR: f64 = 0.05;

/// Standing within one step through a whole visit: hardly ever on a live sensor with a fine step,
/// now and then with a step of 25 Pa, if nothing pulls on the tank.
fn live_yet_still(step: f64) -> f64 {
    if step <= 0.0 { 0.02 } else { (0.12 * (step / 9.0).powi(4)).clamp(0.002, 0.5) }
}

/// A stuck sensor may let a hundredth through, or flicker: movement up to this is likely for it,
/// Pa, and beyond it is not.
const STUCK_MOVES: f64 = 35.0;
const STUCK_YET_MOVING: f64 = 0.004;

/// A number to be weighed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fact {
    pub(super) check: Check,
    pub(super) name: MeasureName,
    pub(super) estimate: Estimate,
    /// The reading's step, for what a still sensor hides.
    pub(super) step: f64,
    /// Whether the vent was sealed for a while, which moves any tank.
    pub(super) sealed: bool,
}

/// Density of a fact for a car, up to a factor that is the same for all cars. `None` if this kind
/// of measure is not weighed.
pub(super) fn density(fact: &Fact, car: &Car) -> Option<f64> {
    let estimate = &fact.estimate;
    Some(match (fact.check, fact.name) {
        (_, MeasureName::RestPressure) => {
            near(estimate, car.offset + car.trapped, OFFSET_MODEL, OFFSET_FLOOR)
        }
        (_, MeasureName::CapOffPressure) => near(estimate, car.offset, OFFSET_MODEL, OFFSET_FLOOR),
        (_, MeasureName::Movement) => {
            let stands = estimate.value <= 1.01 * fact.step.max(1e-9);
            let hardly = estimate.value <= STUCK_MOVES.max(4.0 * fact.step);
            match (car.moves, stands, hardly) {
                (false, true, _) => 0.5,
                (false, false, true) => 0.5,
                (false, false, false) => STUCK_YET_MOVING,
                (true, true, _) => {
                    // A purge that pulls far beyond the step cannot leave the reading still.
                    let pulls = 0.15 * car.purge.abs() > 3.0 * fact.step.max(5.0);
                    let still = if pulls { 1e-3 } else { live_yet_still(fact.step) };
                    // A sealed tank warms or cools: a live sensor sees it.
                    if fact.sealed { 0.3 * still } else { still }
                }
                (true, false, true) if fact.sealed => 0.06,
                (true, false, true) => 0.4,
                (true, false, false) => 0.6,
            }
        }
        (
            _,
            MeasureName::IdleChange
            | MeasureName::VacuumWithPurgeShut
            | MeasureName::ResidualVacuum,
        ) => near(estimate, car.shut, SHUT_MODEL, SHUT_FLOOR),
        (_, MeasureName::PurgeVacuum) => near(estimate, car.purge, PURGE_MODEL, 10.0),
        (_, MeasureName::TrimWithPurge) => {
            // Vapour makes the mixture richer or leaner by several per cent; a dry canister hardly
            // does. Without flow nothing but hunting is left.
            let within = |own: f64| {
                let spread = estimate.standard_error().hypot(own);
                bell(estimate.value / spread) / spread
            };
            if car.flows { 0.65 * within(6.0) + 0.35 * within(1.0) } else { within(0.4) }
        }
        (_, MeasureName::RecoveryTime) => {
            if car.moves && (car.flows || car.shut < 0.0) {
                time(estimate, car.recovery)
            } else {
                // Nothing pulls on the tank, so what was timed is chance: flat in the logarithm
                // over the times that can be seen.
                0.05
            }
        }
        (_, MeasureName::CapOffTime) => time(estimate, car.lag + 0.15),
        (_, MeasureName::SealedHole) => near(estimate, car.hole, HOLE_MODEL, HOLE_FLOOR),
        (_, MeasureName::TrimExcursion) => near(estimate, car.rich, 0.2, 2.0),
        _ => return None,
    })
}

/// Normal density about the prediction, widened by the model error, with the broad component.
fn near(estimate: &Estimate, predicted: f64, share: f64, floor: f64) -> f64 {
    let own = estimate.standard_error();
    let spread = own.hypot(share * predicted).hypot(floor);
    mixture((estimate.value - predicted) / spread) / spread
}

/// The same for a time constant, in its logarithm; an upper bound alone counts as one.
fn time(estimate: &Estimate, predicted: f64) -> f64 {
    if estimate.low <= 0.0 {
        if !estimate.high.is_finite() {
            return 1.0;
        }
        let below = normal_probability((estimate.high.ln() - predicted.ln()) / TIME_MODEL);
        return SURPRISE + (1.0 - SURPRISE) * below;
    }
    let own = if estimate.high.is_finite() {
        (estimate.high / estimate.low).ln() / (2.0 * 1.96)
    } else {
        1.0
    };
    let spread = own.hypot(TIME_MODEL);
    mixture((estimate.value.ln() - predicted.ln()) / spread) / spread
}

fn mixture(z: f64) -> f64 {
    (1.0 - SURPRISE) * bell(z) + SURPRISE / BROADER * bell(z / BROADER)
}

fn bell(z: f64) -> f64 {
    (-0.5 * z * z).exp() * 0.398_942_280_401_432_7
}
