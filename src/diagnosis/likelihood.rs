//! How probable a measure is for a possible car.
//!
//! Every model here is wrong by some per cent, and a recording can hold what no model foresees.
//! So each density is widened by a stated model error and has a broad second component: no single
//! number can condemn a part by more than that component allows.

use super::population::Car;
use super::sealed::{Hold, given_back, sealed_depth, sealed_flow, sealed_movement, vent_time};
use crate::analysis::distribution::normal_probability;
use crate::evidence::{Check, MeasureName};
use crate::units::Estimate;

/// Share of the broad component, and how much broader it is.
const SURPRISE: f64 = 0.001;
const BROADER: f64 = 6.0;

/// Model errors. A share of the predicted value and a floor in the measure's unit.
const PURGE_MODEL: f64 = 0.25;
const SHUT_MODEL: f64 = 0.12;
const SHUT_FLOOR: f64 = 1.5;
const TIME_MODEL: f64 = 0.1;
const OFFSET_MODEL: f64 = 0.04;
const OFFSET_FLOOR: f64 = 8.0;
const PULL_MODEL: f64 = 0.3;
const PULL_FLOOR: f64 = 1.5;
const HOLE_MODEL: f64 = 0.05;
const HOLE_FLOOR: f64 = 0.03;

/// How far an undisturbed tank's reading wanders in a visit: median, Pa, and spread of its
/// logarithm. Fuel warms, the wind moves, the noise adds (common practice, no source).
const WANDER: f64 = 12.0;
const WANDER_SPREAD: f64 = 1.0;
/// The step believed where a reading that never changed shows none, Pa: ten bits over some 7 kPa
/// (common practice, no source).
pub(super) const USUAL_STEP: f64 = 7.0;
/// A tank whose hole is certainly smaller kept its vacuum, mm.
pub(super) const TIGHT: f64 = 0.6;
/// A stuck sensor may let a hundredth through, or flicker: movement up to this is likely for it, Pa, and
/// beyond it is not.
pub(super) const STUCK_MOVES: f64 = 35.0;
const FARTHER: f64 = 2.5;
/// What full purge may seem to pull on a sensor that sticks and yet gives way a little, Pa.
const STUCK_PULLED: f64 = 35.0;
/// Probabilities of a stuck sensor's movement: none, one step, two, up to the above, up to some times
/// it, more.
const STUCK: [f64; 6] = [0.36, 0.25, 0.065, 0.265, 0.055, 0.005];
/// The same of a live one on which purge pulls far beyond the step.
const PULLED: [f64; 6] = [5e-4, 3e-4, 2e-4, 0.03, 0.1, 0.869];

/// Noise of this many steps spreads readings over four of them and more: an instrument that lives. A
/// stuck one mostly stands or flickers (common practice, no source).
const NOISY: f64 = 0.8;

/// Share of changing readings, %, up to which a reading counts as standing still.
pub(super) const STILL: f64 = 1.5;
/// Noise of a live sensor on a car: median, Pa, and spread of its logarithm; and the share of a step below
/// which it changes hardly any reading. (The first common practice, no source; the second from the
/// normal law: at an eighth of a step one reading in fifty crosses an edge, wherever it lies.)
const USUAL_NOISE: f64 = 3.0;
const NOISE_SPREAD: f64 = 0.8;
const UNSEEN: f64 = 0.12;
/// Noise up to this share of a step stays between two readings; it changes more than so many of them,
/// %, only where the level lies beside the edge of a step, which it seldom does. (The normal law: five
/// deviations to the next edge but one; beside it, where one in five crosses.)
const WITHIN: f64 = 0.2;
const OFTEN: f64 = 20.0;
const BESIDE_AN_EDGE: f64 = 0.25;
/// How often a stuck sensor's reading stands still instead of flickering or wandering.
const STUCK_STANDS: f64 = 0.5;

/// Probability that the readings of a still tank stand, or that they do not.
fn still_readings(fact: &Fact, car: &Car) -> f64 {
    let step = if fact.step > 0.0 { fact.step } else { USUAL_STEP };
    let stands = if car.lives() {
        normal_probability((UNSEEN * step / USUAL_NOISE).ln() / NOISE_SPREAD).clamp(0.01, 0.8)
    } else {
        STUCK_STANDS
    };
    if fact.estimate.value <= STILL {
        return stands;
    }
    if fact.moved > 1.01 * step {
        return 1.0 - stands;
    }
    // Between two readings, and never a third: so small a noise seldom lies just beside an edge.
    let (within, often) = if car.lives() {
        (normal_probability((WITHIN * step / USUAL_NOISE).ln() / NOISE_SPREAD), BESIDE_AN_EDGE)
    } else {
        (1.0, 0.5)
    };
    (1.0 - stands) * within * if fact.estimate.value > OFTEN { often } else { 1.0 - often }
}

/// Probability of the class of movement that was seen.
fn movement(fact: &Fact, car: &Car) -> f64 {
    let step = if fact.step > 0.0 { fact.step } else { USUAL_STEP };
    let most = STUCK_MOVES.max(4.0 * step);
    let moved = fact.estimate.value;
    let class = if moved <= 0.01 * step {
        0
    } else if moved <= 1.01 * step {
        1
    } else if moved <= 2.01 * step {
        2
    } else if moved <= most {
        3
    } else if moved <= FARTHER * most {
        4
    } else {
        5
    };
    if !car.lives() {
        return STUCK[class];
    }
    if car.moves && 0.15 * car.purge.abs() > 3.0 * step.max(5.0) {
        return PULLED[class];
    }
    let below = |reach: f64| normal_probability((reach / WANDER).ln() / WANDER_SPREAD);
    // A wander within half a step may cross no edge. What noise does is weighed by itself.
    let (none, one, two) = (0.5 * below(0.5 * step), below(step), below(2.0 * step));
    let (some, farther) = (below(most), below(FARTHER * most));
    [none, one - none, two - one, some - two, farther - some, 1.0 - farther][class].max(1e-3)
}

/// A number to be weighed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fact {
    pub(super) check: Check,
    pub(super) name: MeasureName,
    pub(super) estimate: Estimate,
    /// The reading's step, for what a still sensor hides.
    pub(super) step: f64,
    /// How the tank was sealed.
    pub(super) hold: Hold,
    /// How far the reading of the open tank moved, Pa.
    pub(super) moved: f64,
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
        (_, MeasureName::Movement) => movement(fact, car),
        (_, MeasureName::ChangingReadings) => still_readings(fact, car),
        (_, MeasureName::Noise) => {
            let noisy = estimate.value > NOISY * fact.step;
            match (car.lives(), noisy) {
                (true, true) => 0.45,
                (true, false) => 0.55,
                (false, true) => 0.3,
                (false, false) => 0.7,
            }
        }
        (
            _,
            MeasureName::IdleChange
            | MeasureName::VacuumWithPurgeShut
            | MeasureName::ResidualVacuum,
        ) => near(estimate, car.shut, SHUT_MODEL, SHUT_FLOOR),
        // A stuck sensor lets some hundredths of what pulls on it through, or nothing.
        (_, MeasureName::PurgeVacuum) if !car.moves => {
            0.5 * near(estimate, 0.0, 0.0, 10.0) + 0.5 * near(estimate, 0.0, 0.0, STUCK_PULLED)
        }
        (_, MeasureName::PurgeVacuum) => near(estimate, car.purge, PURGE_MODEL, 10.0),
        (_, MeasureName::TrimWithPurge) => {
            // Vapour makes the mixture richer or leaner by several per cent; a dry canister hardly
            // does. Without flow nothing but hunting is left.
            let within = |own: f64| {
                let spread = estimate.standard_error().hypot(own);
                bell(estimate.value / spread) / spread
            };
            if car.flows { 0.5 * within(6.0) + 0.5 * within(1.0) } else { within(0.4) }
        }
        (_, MeasureName::RecoveryTime | MeasureName::ResponseTime) => {
            if car.moves && (car.flows || car.shut < -10.0) {
                time(estimate, car.recovery)
            } else {
                // Nothing pulls on the tank, so what was timed is chance: flat in the logarithm
                // over the times that can be seen.
                0.05
            }
        }
        (_, MeasureName::SealedFlow) => sealed_flow(fact, car),
        (_, MeasureName::SealedMovement) => sealed_movement(fact, car),
        (_, MeasureName::VentedTime) if car.moves => time(estimate, car.recovery),
        (_, MeasureName::VentedTime) => 0.05,
        (_, MeasureName::VentTime) => vent_time(estimate, car),
        (_, MeasureName::GivenBack) => given_back(estimate, car),
        (_, MeasureName::CapOffTime) => time(estimate, car.lag + 0.15),
        (_, MeasureName::SealedVacuum) => sealed_depth(fact, car),
        (_, MeasureName::SealedPull) if car.moves && car.hole < 0.3 => {
            // What a leak holds against the vent's resistance in the open, it pulls in every time
            // constant of the vent once that is sealed.
            let vent = (car.recovery - car.lag).max(0.02);
            // Under vacuum the fuel gives off vapour, which fills up much of what is pulled.
            let left = [1.0, 0.65, 0.4, 0.22];
            let densities =
                left.map(|left| near(estimate, left * car.shut / vent, PULL_MODEL, PULL_FLOOR));
            densities.iter().sum::<f64>() / 4.0
        }
        (_, MeasureName::SealedPull) => near(estimate, 0.0, PULL_MODEL, PULL_FLOOR),
        (_, MeasureName::SealedHole) => near(estimate, car.hole, HOLE_MODEL, HOLE_FLOOR),
        (_, MeasureName::TrimExcursion) => near(estimate, car.rich, 0.2, 2.0),
        _ => return None,
    })
}

/// Normal density about the prediction, widened by the model error, with the broad component.
fn near(estimate: &Estimate, predicted: f64, share: f64, floor: f64) -> f64 {
    let (below, above) = sides(estimate);
    let model = (share * predicted).hypot(floor);
    let (below, above) = (below.hypot(model), above.hypot(model));
    // Two halves of a normal, joined at the value: bounds of a hole, or of anything else that was
    // found through a logarithm, are far narrower towards zero.
    let own = if predicted < estimate.value { below } else { above };
    mixture((estimate.value - predicted) / own) / (0.5 * (below + above))
}

/// Standard errors below and above the value.
fn sides(estimate: &Estimate) -> (f64, f64) {
    let side = |reach: f64| if reach.is_finite() && reach > 0.0 { reach / 1.96 } else { 0.0 };
    let (below, above) =
        (side(estimate.value - estimate.low), side(estimate.high - estimate.value));
    // A side that is not known is taken as wide as the other.
    let either = below.max(above);
    let known = |side: f64| if side > 0.0 { side } else { either };
    (known(below), known(above))
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

pub(super) fn mixture(z: f64) -> f64 {
    (1.0 - SURPRISE) * bell(z) + SURPRISE / BROADER * bell(z / BROADER)
}

pub(super) fn bell(z: f64) -> f64 {
    (-0.5 * z * z).exp() * 0.398_942_280_401_432_7
}
