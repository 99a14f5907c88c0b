//! How probable a measure is for a possible car.
//!
//! Every model here is wrong by some per cent, and a recording can hold what no model foresees.
//! So each density is widened by a stated model error and has a broad second component: no single
//! number can condemn a part by more than that component allows.

use super::model_errors::model_error;
use super::population::Car;
use super::sealed::{
    DEEP, Hold, given_back, sealed_depth, sealed_flow, sealed_leak, sealed_movement, vent_time,
};
use crate::analysis::distribution::normal_probability;
use crate::evidence::{Check, MeasureName};
use crate::units::Estimate;

/// Share of the broad component, and how much broader it is.
const SURPRISE: f64 = 0.001;
const BROADER: f64 = 6.0;

/// Model errors. A share of the predicted value, where the stored table (`model_errors`) shows no more, and a
/// floor in the measure's unit.
const PURGE_MODEL: f64 = 0.15;
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
/// The step believed where a reading that never changed shows none, Pa: ten bits over some 7 kPa, or, as
/// often, eight (common practice, no source).
const USUAL_STEP: f64 = 7.0;
const COARSE_STEP: f64 = 28.0;
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

/// Probability that the readings of a still tank stand, or that they do not: of a car whose sensor lives,
/// and of one whose sensor does not.
fn still_readings(fact: &Fact) -> (f64, f64) {
    let step = fact.step_or_usual();
    let seen = |stands: f64, within: f64, often: f64| {
        if fact.estimate.value <= STILL {
            stands
        } else if fact.moved > 1.01 * step {
            1.0 - stands
        } else {
            // Between two readings, and never a third: so small a noise seldom lies just beside an edge.
            let often = if fact.estimate.value > OFTEN { often } else { 1.0 - often };
            (1.0 - stands) * within * often
        }
    };
    let within = normal_probability((WITHIN * step / USUAL_NOISE).ln() / NOISE_SPREAD);
    (seen(noise_unseen(step), within, BESIDE_AN_EDGE), seen(STUCK_STANDS, 1.0, 0.5))
}

/// Probability that an undisturbed live reading wanders less than half a step of this size, Pa, and so may
/// cross no edge.
fn wanders_unseen(step: f64) -> f64 {
    0.5 * normal_probability((0.5 * step / WANDER).ln() / WANDER_SPREAD)
}

/// Probability that the noise of a live sensor changes hardly a reading of this step, Pa.
fn noise_unseen(step: f64) -> f64 {
    normal_probability((UNSEEN * step / USUAL_NOISE).ln() / NOISE_SPREAD).clamp(0.01, 0.8)
}

/// Probability that no reading of the visit differed from another. How coarse the steps are is then not
/// known: a live sensor with coarse steps looks like this far more often than one with fine ones.
fn never_changed(fact: &Fact) -> impl Fn(&Car) -> f64 {
    let live = |step: f64| wanders_unseen(step) * noise_unseen(step);
    // No step is larger than a reading that is not zero.
    let level = fact.level.abs();
    let largest = if level > 0.1 { level } else { f64::INFINITY };
    let undisturbed = 0.5 * live(USUAL_STEP.min(largest)) + 0.5 * live(COARSE_STEP.min(largest));
    move |car| {
        if !car.lives() {
            STUCK[0]
        } else if car.moves && 0.15 * car.purge.abs() > 3.0 * COARSE_STEP {
            PULLED[0]
        } else {
            undisturbed
        }
    }
}

/// Probability of the class of movement that was seen.
fn movement(fact: &Fact) -> impl Fn(&Car) -> f64 {
    let step = fact.step_or_usual();
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
    let below = |reach: f64| normal_probability((reach / WANDER).ln() / WANDER_SPREAD);
    // A wander within half a step may cross no edge. What noise does is weighed by itself.
    let (none, one, two) = (wanders_unseen(step), below(step), below(2.0 * step));
    let (some, farther) = (below(most), below(FARTHER * most));
    let undisturbed =
        [none, one - none, two - one, some - two, farther - some, 1.0 - farther][class].max(1e-3);
    let pulled_beyond = 3.0 * step.max(5.0);
    move |car| {
        if !car.lives() {
            STUCK[class]
        } else if car.moves && 0.15 * car.purge.abs() > pulled_beyond {
            PULLED[class]
        } else {
            undisturbed
        }
    }
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
    /// How far the reading of the open tank moved, and where it stood at rest, Pa.
    pub(super) moved: f64,
    pub(super) level: f64,
}

impl Fact {
    /// The reading's step, or the usual one where it showed none, Pa.
    pub(super) fn step_or_usual(&self) -> f64 {
        if self.step > 0.0 { self.step } else { USUAL_STEP }
    }
}

/// How probable a fact is for a car, up to a factor that is the same for all cars.
pub(super) type Density<'a> = Box<dyn Fn(&Car) -> f64 + 'a>;

/// The density of a fact over possible cars; what is the same for all of them is computed once. `None` if
/// this kind of measure is not weighed.
pub(super) fn density(fact: &Fact) -> Option<Density<'_>> {
    let estimate = &fact.estimate;
    Some(match (fact.check, fact.name) {
        (_, MeasureName::RestPressure) => {
            let near = Near::new(estimate, OFFSET_MODEL, OFFSET_FLOOR);
            Box::new(move |car| near.at(car.offset + car.trapped))
        }
        (_, MeasureName::CapOffPressure) => {
            let near = Near::new(estimate, OFFSET_MODEL, OFFSET_FLOOR);
            Box::new(move |car| near.at(car.offset))
        }
        (_, MeasureName::Movement) if fact.step <= 0.0 && estimate.value <= 0.0 => {
            Box::new(never_changed(fact))
        }
        (_, MeasureName::Movement) => Box::new(movement(fact)),
        (_, MeasureName::ChangingReadings) => {
            let (live, stuck) = still_readings(fact);
            Box::new(move |car| if car.lives() { live } else { stuck })
        }
        (_, MeasureName::Noise) => {
            let noisy = estimate.value > NOISY * fact.step;
            let (live, stuck) = if noisy { (0.45, 0.3) } else { (0.55, 0.7) };
            Box::new(move |car| if car.lives() { live } else { stuck })
        }
        (
            _,
            MeasureName::IdleChange
            | MeasureName::VacuumWithPurgeShut
            | MeasureName::ResidualVacuum,
        ) => {
            let near = Near::new(estimate, model_error(fact.name, SHUT_MODEL), SHUT_FLOOR);
            Box::new(move |car| near.at(car.shut))
        }
        (_, MeasureName::PurgeVacuum) => {
            let near = Near::new(estimate, model_error(fact.name, PURGE_MODEL), 10.0);
            // A stuck sensor lets some hundredths of what pulls on it through, or nothing.
            let nothing = |floor: f64| Near::new(estimate, 0.0, floor).at(0.0);
            let stuck = 0.5 * nothing(10.0) + 0.5 * nothing(STUCK_PULLED);
            Box::new(move |car| if car.moves { near.at(car.purge) } else { stuck })
        }
        (_, MeasureName::TrimWithPurge) => {
            // Vapour makes the mixture richer or leaner by several per cent; a dry canister hardly
            // does. Without flow nothing but hunting is left.
            let within = |own: f64| {
                let spread = estimate.standard_error().hypot(own);
                bell(estimate.value / spread) / spread
            };
            let (flows, none) = (0.5 * within(6.0) + 0.5 * within(1.0), within(0.4));
            Box::new(move |car| if car.flows { flows } else { none })
        }
        (_, MeasureName::RecoveryTime | MeasureName::ResponseTime) => {
            let time = Time::new(estimate);
            // Where nothing pulls on the tank, what was timed is chance: flat in the logarithm over the
            // times that can be seen.
            Box::new(
                move |car| {
                    if car.moves && car.is_pulled() { time.at(car.recovery) } else { CHANCE }
                },
            )
        }
        (_, MeasureName::SealedFlow) => Box::new(sealed_flow(fact)),
        (_, MeasureName::SealedMovement) => Box::new(sealed_movement(fact)),
        (_, MeasureName::VentedTime) => {
            let time = Time::new(estimate);
            Box::new(move |car| if car.moves { time.at(car.recovery) } else { CHANCE })
        }
        (_, MeasureName::VentTime) => Box::new(vent_time(estimate)),
        (_, MeasureName::GivenBack) => {
            let (standing, wandering) = given_back(estimate);
            Box::new(move |car| if car.wanders { wandering } else { standing })
        }
        (_, MeasureName::CapOffTime) => {
            let time = Time::new(estimate);
            // What neither purge nor a shut vent moved has no time to come back in.
            let timed = |car: &Car| car.moves && (car.is_pulled() || car.trapped.abs() > 20.0);
            Box::new(move |car| if timed(car) { time.at(car.lag + 0.15) } else { CHANCE })
        }
        (_, MeasureName::SealedVacuum) => {
            let deep = estimate.value < -DEEP;
            Box::new(move |car| sealed_depth(deep, car))
        }
        (_, MeasureName::SealedPull) => {
            let near = Near::new(estimate, PULL_MODEL, PULL_FLOOR);
            let nothing = near.at(0.0);
            Box::new(move |car| {
                if !car.moves || car.hole >= 0.3 {
                    return nothing;
                }
                // What a leak holds against the vent's resistance in the open, it pulls in every time
                // constant of the vent once that is sealed.
                let vent = (car.recovery - car.lag).max(0.02);
                // Under vacuum the fuel gives off vapour, which fills up much of what is pulled.
                let left = [1.0, 0.65, 0.4, 0.22];
                left.iter().map(|left| near.at(left * car.shut / vent)).sum::<f64>() / 4.0
            })
        }
        (_, MeasureName::SealedLeak) => Box::new(sealed_leak(fact)),
        (_, MeasureName::SealedHole) => {
            let near = Near::new(estimate, model_error(fact.name, HOLE_MODEL), HOLE_FLOOR);
            Box::new(move |car| near.at(car.hole))
        }
        (_, MeasureName::TrimExcursion) => {
            let near = Near::new(estimate, 0.2, 2.0);
            Box::new(move |car| near.at(car.rich))
        }
        _ => return None,
    })
}

/// Density of a time that nothing made, in its logarithm.
pub(super) const CHANCE: f64 = 0.05;

/// Normal density about a prediction, widened by the model error, with the broad component. Two halves
/// of a normal, joined at the value: bounds of a hole, or of anything else that was found through a
/// logarithm, are far narrower towards zero.
pub(super) struct Near {
    value: f64,
    /// Variances below and above the value.
    below: f64,
    above: f64,
    /// Model error: share of the prediction, and variance of the floor.
    share: f64,
    floor: f64,
}

impl Near {
    pub(super) fn new(estimate: &Estimate, share: f64, floor: f64) -> Self {
        let (below, above) = sides(estimate);
        let square = |side: f64| side * side;
        Self {
            value: estimate.value,
            below: square(below),
            above: square(above),
            share,
            floor: square(floor),
        }
    }

    pub(super) fn at(&self, predicted: f64) -> f64 {
        let model = self.share * self.share * predicted * predicted + self.floor;
        let (below, above) = ((self.below + model).sqrt(), (self.above + model).sqrt());
        let own = if predicted < self.value { below } else { above };
        mixture((self.value - predicted) / own) / (0.5 * (below + above))
    }
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
enum Time {
    Anything,
    Below(f64),
    About { log: f64, spread: f64 },
}

impl Time {
    fn new(estimate: &Estimate) -> Self {
        if estimate.low > 0.0 {
            let own = if estimate.high.is_finite() { estimate.log_standard_error() } else { 1.0 };
            let model = model_error(MeasureName::RecoveryTime, TIME_MODEL);
            Self::About { log: estimate.value.ln(), spread: own.hypot(model) }
        } else if estimate.high.is_finite() {
            Self::Below(estimate.high.ln())
        } else {
            Self::Anything
        }
    }

    fn at(&self, predicted: f64) -> f64 {
        match self {
            Self::Anything => 1.0,
            Self::Below(log) => {
                let below = normal_probability((log - predicted.ln()) / TIME_MODEL);
                SURPRISE + (1.0 - SURPRISE) * below
            }
            Self::About { log, spread } => mixture((log - predicted.ln()) / spread) / spread,
        }
    }
}

pub(super) fn mixture(z: f64) -> f64 {
    let square = z * z;
    // Near the value the broad component is a straight line in the square, to 1e-7; far off the narrow
    // one is nothing, to 1e-17. Either spares an exponential in the innermost loop.
    let broad = if square < 2.0 {
        PEAK * (1.0 - 0.5 * square / (BROADER * BROADER))
    } else {
        bell(z / BROADER)
    };
    let narrow = if square < 80.0 { bell(z) } else { 0.0 };
    (1.0 - SURPRISE) * narrow + SURPRISE / BROADER * broad
}

/// Density of the standard normal at zero, 1/√(2π).
const PEAK: f64 = 0.398_942_280_401_432_7;

pub(super) fn bell(z: f64) -> f64 {
    (-0.5 * z * z).exp() * PEAK
}
