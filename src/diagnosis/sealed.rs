//! How probable it is for a possible car what the sealed tank showed.

use super::likelihood::{CHANCE, Fact, Near, STUCK_MOVES, bell, mixture};
use super::model_errors::model_error;
use super::population::Car;
use crate::evidence::MeasureName;
use crate::units::Estimate;

/// All holds of a visit: seconds sealed, those of them with the engine off, the farthest rise of the
/// reading, Pa.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Hold {
    pub(super) seconds: f64,
    pub(super) standing: f64,
    pub(super) rise: f64,
    /// Whether a vacuum was kept: then the vent was tight.
    pub(super) kept: bool,
    /// Standard error, as a share, of how fast full purge drew the tank down.
    pub(super) draw_error: f64,
    /// Vapour space that a flow was reckoned with, L.
    pub(super) litres: f64,
}

/// A vacuum in the sealed tank that only purge, or a leaking valve, can build, Pa.
pub(super) const DEEP: f64 = 500.0;

/// Probability that purge into the sealed tank built a deep vacuum, or that it did not. The vent may
/// not have been as tight as the person believed.
pub(super) fn sealed_depth(deep: bool, car: &Car) -> f64 {
    let probability = if !car.moves {
        0.002
    } else if car.is_pulled() {
        if car.hole > 2.0 { 0.6 } else { 0.95 }
    } else if car.purge < -10.0 {
        0.3
    } else {
        0.01
    };
    if deep { probability } else { 1.0 - probability }
}

/// A hole of this size shows in what purge does to a sealed tank, mm, and how much more it spreads the
/// flow seen there: a millimetre passes some five litres a minute at a kilopascal.
const HOLED: f64 = 0.6;
const THROUGH_THE_HOLE: f64 = 0.7;
/// Spread, in the logarithm, of the flow that the quickest fall of a sealed tank shows.
const DRAWN_SPREAD: f64 = 0.5;
/// The same of a draw-down that was timed: gas that is drawn off quickly cools, fuel under vacuum gives off
/// vapour, the valve's curve is no straight line (common practice, no source).
const TIMED_SPREAD: f64 = 0.25;
/// How long a timed draw-down lasts at least, s: a sensor that lags rounds a quick one off.
const DRAW_DOWN: f64 = 1.5;
/// Vapour space that checks reckon with where the car does not tell its fuel level, L.
pub(super) const USUAL_SPACE: f64 = 38.0;
/// Flows below this are not told from none, L/min.
const NO_FLOW: f64 = 0.3;
/// How often a vent is not as tight as the person believes, so that the tank draws in what is purged.
const NOT_SEALED: f64 = 0.08;
/// The same where the sealed tank then kept its vacuum.
const NOT_SEALED_YET_KEPT: f64 = 0.01;

/// How much slower, in the logarithm, a draw-down seems through a sensor of this time constant, s, and how far
/// that is from certain: a long draw-down is seen as it was.
fn rounded_off(lag: f64) -> (f64, f64) {
    let quick = (1.0 + lag / DRAW_DOWN).ln();
    (quick, 0.5 * quick)
}

/// Density, in the logarithm, of the flow that a sealed tank showed.
pub(super) fn sealed_flow(fact: &Fact) -> impl Fn(&Car) -> f64 {
    let flow = fact.estimate.value;
    let seen = flow.max(NO_FLOW).ln();
    // Wherever a vent that is not tight leaves it: anything from nothing to a hundred litres.
    let anything = 1.0 / (100.0 / NO_FLOW).ln();
    let stuck = match flow {
        flow if flow < 4.0 * NO_FLOW => 0.45,
        flow if flow < 80.0 * NO_FLOW => 0.08,
        _ => 0.005,
    };
    let loose = if fact.hold.kept { NOT_SEALED_YET_KEPT } else { NOT_SEALED };
    let timed = fact.hold.draw_error > 0.0;
    let timed_spread = model_error(fact.name, TIMED_SPREAD).hypot(fact.hold.draw_error);
    let spread = if timed { timed_spread } else { DRAWN_SPREAD };
    let litres = fact.hold.litres;
    move |car| {
        if !car.moves {
            return stuck;
        }
        let holed = if car.hole > HOLED { THROUGH_THE_HOLE } else { 0.0 };
        // The same fall in a larger space is a larger flow, and a lag hides part of it.
        let (rounded, lagging) = if timed { rounded_off(car.lag) } else { (0.0, 0.0) };
        let own = (spread * spread + holed * holed + lagging * lagging).sqrt();
        let shown = car.drawn * (-rounded).exp();
        let expected = (shown * litres / car.volume).max(NO_FLOW).ln();
        (1.0 - loose) * bell((seen - expected) / own) / own + loose * anything
    }
}

/// A stuck sensor that wanders does so whether the vent is sealed or not: its range sealed may be this
/// many times the one in the open.
const AS_MUCH: f64 = 1.6;
/// How long one hold takes, s.
const HOLD: f64 = 60.0;

/// Probability of the class of movement of a sealed tank: up to one step, two, a few more, beyond.
/// A kelvin is worth one or two kilopascals there (AP-42 ch. 7), so that a live reading seldom stands;
/// how often is common practice, no source.
pub(super) fn sealed_movement(fact: &Fact) -> impl Fn(&Car) -> f64 {
    let step = fact.step_or_usual();
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
    // Which way it went, where it went anywhere.
    let rose = fact.hold.rise > RISES.max(2.01 * step);
    let seen = |classes: [f64; 4], rises: f64| {
        let way = match (class, rose) {
            (0 | 1, _) => 1.0,
            (_, true) => rises,
            (_, false) => 1.0 - rises,
        };
        classes[class] * way
    };
    // Sealed or not: the range is what it was.
    let wandering = seen([0.05, 0.1, 0.75, 0.1], 0.5);
    // Only what purge pulls is deep enough for a reading that lets some hundredths through.
    let stuck = seen([0.5, 0.12, 0.3, 0.08], 0.1);
    let pulled = seen([0.01, 0.01, 0.08, 0.9], 0.25);
    // Each further hold is another chance to move, though the fuel is the same.
    let still = (HOLD / fact.hold.seconds.max(HOLD)).sqrt();
    // With the engine off nothing cancels what the fuel does.
    let alone = if fact.hold.standing > HOLD { ALONE } else { 1.0 };
    let (none, some) = (0.06 * still * alone, 0.33 * still * alone.sqrt());
    // Fuel gives off vapour into a tank on which nothing pulls but what a sound valve seeps.
    let fuel_alone = seen([none, none, some, 1.0 - 2.0 * none - some], 0.6);
    move |car| {
        if car.wanders {
            wandering
        } else if !car.moves {
            stuck
        } else if car.is_pulled() {
            pulled
        } else {
            fuel_alone
        }
    }
}

/// A hold with the engine off leaves a live reading standing this many times less often, and a rise of the
/// reading counts from this on, Pa (common practice, no source).
const ALONE: f64 = 0.2;
const RISES: f64 = 50.0;

/// What a straight vent and valve, and a sensor that lags, miss of the vent's time constant: standard
/// deviation in the logarithm, and how much more where a hole lets air past the vent.
const VENT_MODEL: f64 = 0.22;
const PAST_THE_VENT: f64 = 0.7;
/// How much of that rounding shows in the vent's time, whose draw-downs last longer than the least.
const SEEN_SLOWER: f64 = 0.6;
/// Share of a sensor's time constant by which purge seems to have begun late.
const SLOWER: f64 = 0.1;
/// Probability density of what a sealed draw-down said of the vent path alone.
pub(super) fn vent_time(estimate: &Estimate) -> impl Fn(&Car) -> f64 {
    let log = estimate.value.ln();
    let spread =
        estimate.log_standard_error().hypot(model_error(MeasureName::VentTime, VENT_MODEL));
    let holed = spread.hypot(PAST_THE_VENT);
    move |car| {
        if !(car.moves && car.is_pulled()) {
            return CHANCE;
        }
        let vent = (car.recovery - car.lag).max(0.02) + SLOWER * car.lag;
        let (rounded, lagging) = rounded_off(car.lag);
        let spread = if car.hole > HOLED { holed } else { spread }.hypot(lagging);
        mixture((log - vent.ln() - SEEN_SLOWER * rounded) / spread) / spread
    }
}

/// How closely a live reading gives back what it moved while sealed, as a share; and how a stuck one
/// that wanders by itself does: it tends back to its mean in its own time (common practice, no source).
const GIVES_BACK: f64 = 0.2;
const TENDS_BACK: (f64, f64) = (0.4, 0.5);
/// How often either does something else.
const OTHERWISE: f64 = 0.1;

/// Density of the share given back once the vent was open: of a reading that lives, or that sticks and
/// gives back what it lets through, and of one that wanders.
pub(super) fn given_back(estimate: &Estimate) -> (f64, f64) {
    let share = estimate.value / 100.0;
    let own = estimate.standard_error() / 100.0;
    let of = |at: f64, spread: f64| {
        let spread = spread.hypot(own);
        (1.0 - OTHERWISE) * bell((share - at) / spread) / spread
            + OTHERWISE * bell((share - 0.5) / 2.0) / 2.0
    };
    (of(1.0, GIVES_BACK), of(TENDS_BACK.0, TENDS_BACK.1))
}

/// What is missed of a leak's share by comparing a quick fall with a slow one, as a share of it (the gas
/// cools, 1.05 to 1.35 for the exponent), and what else may change with the engine's stop, per cent of full
/// purge (common practice, no source).
const LEAK_MODEL: f64 = 0.2;
const LEAK_FLOOR: f64 = 0.03;

/// Density of the share of full purge that a sealed tank showed to flow through the shut valve, per cent.
/// Its scale is known to a share of itself: what makes ten of a hundred out of eight makes nothing out of
/// nothing.
pub(super) fn sealed_leak(fact: &Fact) -> impl Fn(&Car) -> f64 {
    let estimate = &fact.estimate;
    let scale = model_error(fact.name, LEAK_MODEL).hypot(fact.hold.draw_error);
    let total = estimate.standard_error();
    let own = (total.powi(2) - (scale * estimate.value).powi(2)).max((0.15 * total).powi(2)).sqrt();
    let read = Estimate::from_standard_error(estimate.value, own);
    let near = Near::new(&read, scale, LEAK_FLOOR);
    let nothing = near.at(0.0);
    move |car| if car.moves { near.at(100.0 * car.share) } else { nothing }
}
