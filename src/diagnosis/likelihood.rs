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
const USUAL_STEP: f64 = 7.0;
/// A stuck sensor may let a hundredth through, or flicker: movement up to this is likely for it, Pa, and
/// beyond it is not.
const STUCK_MOVES: f64 = 35.0;
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

/// A vacuum in the sealed tank that only purge, or a leaking valve, can build, Pa.
pub(super) const DEEP: f64 = 500.0;

/// Probability that purge into the sealed tank built a deep vacuum, or that it did not. The vent may
/// not have been as tight as the person believed.
fn sealed_depth(fact: &Fact, car: &Car) -> f64 {
    let deep = if !car.moves {
        0.002
    } else if car.flows || car.shut < -10.0 {
        if car.hole > 2.0 { 0.6 } else { 0.95 }
    } else if car.purge < -10.0 {
        0.3
    } else {
        0.01
    };
    if fact.estimate.value < -DEEP { deep } else { 1.0 - deep }
}

/// Spread, in the logarithm, of what a sealed tank shows of the purge flow.
const DRAWN_SPREAD: f64 = 0.56;
/// Flows below this are not told from none, L/min.
const NO_FLOW: f64 = 0.3;
/// How often a vent is not as tight as the person believes, so that the tank draws in what is purged.
const NOT_SEALED: f64 = 0.08;

/// Density, in the logarithm, of the flow that a sealed tank showed.
fn sealed_flow(estimate: &Estimate, car: &Car) -> f64 {
    let seen = estimate.value.max(NO_FLOW).ln();
    // Wherever a vent that is not tight leaves it: anything from nothing to a hundred litres.
    let anything = 1.0 / (100.0 / NO_FLOW).ln();
    if !car.moves {
        return match estimate.value {
            flow if flow < 4.0 * NO_FLOW => 0.45,
            flow if flow < 80.0 * NO_FLOW => 0.08,
            _ => 0.005,
        };
    }
    // A hole lets in what a millimetre passes: some five litres a minute at a kilopascal.
    let own = (DRAWN_SPREAD).hypot(if car.hole > 0.6 { 0.7 } else { 0.0 });
    let expected = car.drawn.max(NO_FLOW).ln();
    (1.0 - NOT_SEALED) * bell((seen - expected) / own) / own + NOT_SEALED * anything
}

/// A stuck sensor that wanders does so whether the vent is sealed or not: its range sealed may be this
/// many times the one in the open.
const AS_MUCH: f64 = 1.6;
/// How long one hold takes, s.
const HOLD: f64 = 60.0;

/// Probability of the class of movement of a sealed tank: up to one step, two, a few more, beyond.
/// A kelvin is worth one or two kilopascals there (AP-42 ch. 7), so that a live reading seldom stands;
/// how often is common practice, no source.
fn sealed_movement(fact: &Fact, car: &Car) -> f64 {
    let step = if fact.step > 0.0 { fact.step } else { USUAL_STEP };
    let moved = fact.estimate.value;
    let class = if moved <= 1.01 * step {
        0
    } else if moved <= 2.01 * step {
        1
    } else if moved <= (2.0 * STUCK_MOVES + 1.5 * step).max(AS_MUCH * fact.moved) {
        2
    } else {
        3
    };
    let probabilities = if car.wanders {
        // Sealed or not: the range is what it was.
        [0.05, 0.1, 0.75, 0.1]
    } else if !car.moves {
        [0.5, 0.12, 0.3, 0.08]
    } else if car.flows || car.shut < -10.0 {
        [0.01, 0.01, 0.08, 0.9]
    } else {
        // Each further hold is another chance to move, though the fuel is the same.
        let still = (HOLD / fact.sealed.max(HOLD)).sqrt();
        let (none, some) = (0.06 * still, 0.33 * still);
        [none, none, some, 1.0 - 2.0 * none - some]
    };
    probabilities[class]
}

/// What a straight vent and valve, and a sensor that lags, miss of the vent's time constant: standard
/// deviation in the logarithm, and how much more where a hole lets air past the vent.
const VENT_MODEL: f64 = 0.22;
const PAST_THE_VENT: f64 = 0.7;
/// How much of a sensor's lag seems to be the vent's: a draw-down lasts some eight seconds, and its slope
/// is seen whole once the lag is over.
const ROUNDED: f64 = 0.1;

/// Probability density of what a sealed draw-down said of the vent path alone.
fn vent_time(estimate: &Estimate, car: &Car) -> f64 {
    if !(car.moves && (car.flows || car.shut < -10.0)) {
        return 0.05;
    }
    // A sensor that lags reads the beginning of the slope rounded, and the purge that made it too late.
    let vent = (car.recovery - car.lag).max(0.02) + ROUNDED * car.lag;
    let own = (estimate.high / estimate.low).ln() / (2.0 * 1.96);
    let hole = if car.hole > 0.6 { PAST_THE_VENT } else { 0.0 };
    let spread = own.hypot(VENT_MODEL).hypot(hole);
    mixture((estimate.value.ln() - vent.ln()) / spread) / spread
}

/// How closely a live reading gives back what it moved while sealed, as a share; and how a stuck one
/// that wanders by itself does: it tends back to its mean in its own time (common practice, no source).
const GIVES_BACK: f64 = 0.2;
const TENDS_BACK: (f64, f64) = (0.4, 0.5);
/// How often either does something else.
const OTHERWISE: f64 = 0.1;

/// Density of the share given back once the vent was open.
fn given_back(estimate: &Estimate, car: &Car) -> f64 {
    let share = estimate.value / 100.0;
    let own = estimate.standard_error() / 100.0;
    let (at, spread) = if car.moves { (1.0, GIVES_BACK) } else { TENDS_BACK };
    let spread = spread.hypot(own);
    (1.0 - OTHERWISE) * bell((share - at) / spread) / spread
        + OTHERWISE * bell((share - 0.5) / 2.0) / 2.0
}

/// A number to be weighed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Fact {
    pub(super) check: Check,
    pub(super) name: MeasureName,
    pub(super) estimate: Estimate,
    /// The reading's step, for what a still sensor hides.
    pub(super) step: f64,
    /// How long the tank was sealed in all, s.
    pub(super) sealed: f64,
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
        (_, MeasureName::SealedFlow) => sealed_flow(estimate, car),
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

fn mixture(z: f64) -> f64 {
    (1.0 - SURPRISE) * bell(z) + SURPRISE / BROADER * bell(z / BROADER)
}

fn bell(z: f64) -> f64 {
    (-0.5 * z * z).exp() * 0.398_942_280_401_432_7
}
