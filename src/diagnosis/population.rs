//! What cars of each hypothesis may be like: draws of the quantities behind the measures.
//!
//! The distributions come from physics and trade ranges, not from the virtual car: orifice sizes,
//! vent resistances and vapour volumes as handbooks and common practice give them. Each draw is one
//! possible car, so that everything that hangs together in a car (a large valve pulls deeper *and*
//! leaks more for the same share) hangs together in the odds.

use std::sync::OnceLock;

use super::Hypothesis;
use crate::units::Estimate;
use crate::vehicle::Fault;

/// Draws for each hypothesis.
pub(super) const DRAWS: usize = 6_000;

/// One possible car.
#[derive(Clone, Copy, Debug)]
pub(super) struct Car {
    /// Reading error of the sensor, Pa.
    pub(super) offset: f64,
    /// What a blocked vent leaves in the tank at rest, Pa.
    pub(super) trapped: f64,
    /// Tank pressure at full purge and choked flow, Pa; zero or negative.
    pub(super) purge: f64,
    /// Tank pressure made by the shut valve at choked flow, Pa; zero or negative.
    pub(super) shut: f64,
    /// Flow through the shut valve as a share of what full purge and the leak draw together.
    pub(super) share: f64,
    /// Time constant of the return after unplugging, s.
    pub(super) recovery: f64,
    /// The same of the vent path alone for one litre of vapour space, s/L.
    pub(super) vent: f64,
    /// Where this car's vapour space stands among all, in standard deviations of its logarithm.
    pub(super) space: f64,
    /// Its vapour space, L.
    pub(super) volume: f64,
    /// The sensor's own time constant, s.
    pub(super) lag: f64,
    /// Hole to the outside, mm.
    pub(super) hole: f64,
    /// Whether the reading moves at all.
    pub(super) moves: bool,
    /// Whether a stuck reading wanders by itself like a live one, instead of standing or flickering.
    pub(super) wanders: bool,
    /// Whether purge flows.
    pub(super) flows: bool,
    /// What full purge and a leaking valve draw together, L/min.
    pub(super) drawn: f64,
    /// Trim excursion after a fill-up, per cent.
    pub(super) rich: f64,
}

impl Car {
    /// Whether anything pulls on the tank: purge, or a leaking valve.
    pub(super) fn is_pulled(&self) -> bool {
        self.flows || self.shut < -10.0
    }

    /// Whether the reading lives as a working instrument's does, whatever it follows.
    pub(super) fn lives(&self) -> bool {
        self.moves || self.wanders
    }
}

/// The draws of every hypothesis, in the order of [`Hypothesis::all`]. Made once: they are the same
/// in every run.
pub(super) fn cars() -> &'static [(Hypothesis, Vec<Car>)] {
    static CARS: OnceLock<Vec<(Hypothesis, Vec<Car>)>> = OnceLock::new();
    CARS.get_or_init(|| {
        Hypothesis::all()
            .map(|hypothesis| {
                let faults = match hypothesis {
                    Hypothesis::None => Vec::new(),
                    Hypothesis::Fault(fault) => vec![fault],
                };
                let draws = (1..=DRAWS).map(|index| car(&faults, &Point::new(index))).collect();
                (hypothesis, draws)
            })
            .collect()
    })
}

/// Draws for each pair of faults.
const PAIR_DRAWS: usize = 1_500;

/// The draws of cars that have two faults at once. Made once for each pair.
pub(super) fn pair(first: Fault, second: Fault) -> &'static [Car] {
    const KINDS: usize = Fault::ALL.len();
    static PAIRS: [OnceLock<Vec<Car>>; KINDS * KINDS] = [const { OnceLock::new() }; KINDS * KINDS];
    let place = |fault| Fault::ALL.iter().position(|known| *known == fault).unwrap_or(0);
    PAIRS[place(first) * KINDS + place(second)].get_or_init(|| {
        (1..=PAIR_DRAWS).map(|index| car(&[first, second], &Point::new(index))).collect()
    })
}

/// Vapour space of a car of which nothing else is known: median, L, and spread of its logarithm.
const SPACE: f64 = 27.0;
const SPACE_SPREAD: f64 = 0.42;
/// The draws of a hypothesis once the fuel level tells the vapour space, L.
pub(super) fn with_space(cars: &[Car], known: Estimate) -> Vec<Car> {
    let spread = known.log_standard_error();
    cars.iter()
        .map(|car| {
            let volume = known.value * (spread * car.space).exp();
            Car { recovery: car.vent * volume + car.lag, volume, ..*car }
        })
        .collect()
}

/// How often a stuck sensor wanders as a live one does (common practice, no source).
const WANDERING: f64 = 0.12;
/// What warm fuel adds to a sealed tank, or cooling fuel takes from it, Pa/s (1 to 2 kPa per kelvin,
/// AP-42 ch. 7).
const GIVEN_OFF: f64 = 3.0;
/// Resistance of a vent path that makers allow, Pa/(L/min): about 1 kPa at 60 L/min.
const ALLOWED: f64 = 16.0;
/// Standard atmospheric pressure, Pa.
const ATMOSPHERE: f64 = 101_325.0;

fn car(faults: &[Fault], point: &Point) -> Car {
    // Vent path: makers allow about 1 kPa at 60 L/min, so that a sound one stays near or below it, and
    // many flow far more freely. Purge: 2 to 4 mm orifice, 26 to 105 L/min choked. Vapour space: 10
    // to 50 L. (Common practice, no source; orifice flow as in the handbook.)
    let vent = point.normal(0);
    let mut resistance = ALLOWED * (if vent > 0.0 { 0.28 } else { 0.9 } * vent).exp();
    // Vents are sized for the purge they serve: where one resists more, less is drawn through it.
    let flow = 45.0 * (0.47 * point.normal(1) - 0.15 * vent.max(0.0)).exp();
    let space = point.normal(2);
    let volume = SPACE * (SPACE_SPREAD * space).exp();
    let mut lag = 0.15 * (0.5 * point.normal(3)).exp();
    let mut offset = 70.0 * point.normal(4);
    let mut trapped = 0.0;
    // A sound tank passes at most what 0.27 mm pass, the allowance of 40 CFR 1066.985: three deviations.
    let mut hole = (0.09 * point.normal(5)).abs();
    // Even a sound valve seeps, by less than a five-hundredth of its flow (common practice, no source):
    // nothing on a free vent, tens of pascals on a shut one.
    let mut share = 0.001 * point.normal(10).abs();
    let (mut moves, mut wanders, mut passes) = (true, false, 1.0);
    let mut rich = 2.0 * point.normal(6);
    for (number, fault) in faults.iter().enumerate() {
        // Each fault has two coordinates of its own.
        let (own, other) = (7 + 2 * number, 6 + 2 * number);
        match fault {
            Fault::PurgeValveLeaking => {
                // A valve that lights the lamp leaks by some per cent of its full flow: median 8 %, two
                // thirds between 2.7 and 24 % (common practice, no source).
                share = (0.08 * (1.1 * point.normal(own)).exp()).clamp(0.003, 1.0);
                rich -= 30.0 * share.sqrt() * point.uniform(other);
            }
            // Shut or blocked, or all but: up to a tenth still passes.
            Fault::NoPurgeFlow => passes = 0.1 * point.uniform(own).powi(3),
            Fault::VentPathRestricted => {
                // What is called restricted resists more than makers allow: a vent that was free beyond
                // need has farther to go.
                resistance = resistance.max(ALLOWED) * point.log_uniform(own, 2.5, 50.0);
                trapped = point.normal(other);
            }
            Fault::TankSensorOffset => {
                let size = point.log_uniform(own, 230.0, 4_000.0);
                offset = if point.uniform(other) < 0.5 { -size } else { size };
            }
            Fault::TankSensorSlow => lag = point.log_uniform(own, 1.2, 12.0),
            Fault::TankSensorStuck => {
                moves = false;
                wanders = point.uniform(11) < WANDERING;
                if point.uniform(other) < 0.6 {
                    offset = 8_000.0 * (point.uniform(own) - 0.5);
                }
            }
            Fault::VaporLeak => hole = point.log_uniform(own, 0.4, 5.0),
        }
    }
    // A deep vacuum slows the purge itself; the gain is measured at part of the command, where that is
    // little.
    let pulled = |passes: f64| {
        let pull = resistance * flow * passes;
        if moves { -pull / (1.0 + pull / 40_000.0) } else { 0.0 }
    };
    let purge = pulled(passes);
    let flows = passes >= 1.0;
    // A return from little vacuum meets less resistance than full purge: part of it is turbulent.
    let vent = resistance * 60.0 / ATMOSPHERE * 0.9 * (0.25 * point.normal(11)).exp();
    let recovery = vent * volume + lag;
    // What the fuel gives off has to leave through the vent: its rate, sealed, times the time constant.
    let trapped = GIVEN_OFF * trapped * vent * volume;
    let shut = share * pulled(1.0);
    let drawn = flow * (passes + share);
    Car {
        offset,
        trapped,
        purge,
        shut,
        share: share / (passes + share).max(1e-6),
        drawn,
        recovery,
        vent,
        space,
        volume,
        lag,
        hole,
        moves,
        wanders,
        flows,
        rich,
    }
}

/// A point of a low-discrepancy sequence (Halton 1960, Numer. Math. 2:84): even coverage with few
/// draws, and the same in every run.
struct Point {
    coordinates: [f64; 12],
}

const BASES: [usize; 12] = [2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37];

impl Point {
    fn new(index: usize) -> Self {
        // The first hundred points of large bases run along lines: leave them out.
        Self { coordinates: BASES.map(|base| radical_inverse(index + 100, base)) }
    }

    fn uniform(&self, dimension: usize) -> f64 {
        self.coordinates.get(dimension).copied().unwrap_or(0.5)
    }

    fn log_uniform(&self, dimension: usize, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.uniform(dimension))
    }

    fn normal(&self, dimension: usize) -> f64 {
        crate::analysis::distribution::normal_quantile(
            self.uniform(dimension).clamp(1e-6, 1.0 - 1e-6),
        )
    }
}

fn radical_inverse(mut index: usize, base: usize) -> f64 {
    let mut result = 0.0;
    let mut place = 1.0 / base as f64;
    while index > 0 {
        result += (index % base) as f64 * place;
        index /= base;
        place /= base as f64;
    }
    result
}
