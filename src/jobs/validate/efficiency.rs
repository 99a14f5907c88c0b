//! How close the estimators come to the Cramér–Rao bound: the least spread that any unbiased
//! estimator can have on the same samples with the same noise (Rao 1945, Bull. Calcutta Math. Soc.
//! 37:81; Cramér 1946, *Mathematical Methods of Statistics*, §32.3).
//!
//! The same visit is written many times with new noise by the plain circuit of one time constant, so
//! that the bound can be worked out exactly. For the leak, the offset, a straight drift, the purge gain
//! and what engine speed does to the sensor's supply are unknown too, the last one within the few
//! pascal that a regulated supply allows (its prior enters the bound as van Trees 1968, *Detection,
//! Estimation, and Modulation Theory*, §2.4, has it). For the time constant, both levels and the start
//! of each return are unknown.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use serde::Serialize;

use crate::analysis::orifice_flow::psi;
use crate::analysis::regression::cramer_rao_bound;
use crate::checks;
use crate::evidence::{Check, MeasureName};
use crate::recording::{Action, Recording};
use crate::units::Instant;
use crate::vehicle::Signal;

/// Spread of an estimator beside the least possible one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Efficiency {
    /// Repetitions that gave a number.
    pub repetitions: u32,
    /// Root mean square error of the estimate: Pa for the leak, a share for the time constant.
    pub spread: f64,
    /// The Cramér–Rao bound in the same unit.
    pub bound: f64,
    /// Spread over bound.
    pub ratio: f64,
}

/// Times the visit is written anew.
const REPETITIONS: u64 = 200;
/// The visit: pressures in Pa at choked flow, times in s.
const OFFSET: f64 = 35.0;
const LEAK: f64 = -60.0;
const PURGE: f64 = -900.0;
const COMMAND: f64 = 0.4;
const TIME_CONSTANT: f64 = 0.6;
const NOISE: f64 = 6.0;
const STEP: f64 = 1.0;
/// What a regulated supply may do to the reading once the engine runs, Pa, and with its speed, Pa per
/// 1,000 rpm: as believed by the estimator.
const RUNNING_EFFECT: f64 = 4.0;
const SUPPLY_EFFECT: f64 = 2.0;
const INTERVAL: f64 = 0.1;
const END: f64 = 140.0;
/// Engine on, purge on, and the cycles with the connector off.
const ENGINE: f64 = 20.0;
const PURGE_ON: f64 = 45.0;
const UNPLUGGED: [(f64, f64); 4] = [(70.0, 78.0), (84.0, 92.0), (98.0, 106.0), (112.0, END)];
const OPENINGS: [(f64, f64); 3] = [(119.0, 121.0), (126.0, 128.0), (133.0, 135.0)];

/// Leak and time constant, each held against its bound.
pub(super) fn measure(seed: u64) -> (Efficiency, Efficiency) {
    let (mut leak, mut time) = (Vec::new(), Vec::new());
    let (mut leak_bounds, mut time_bounds) = (Vec::new(), Vec::new());
    for repetition in 0..REPETITIONS {
        // Polled anew every time: where the samples fall beside an edge of the manifold pressure shifts an
        // estimate, and that belongs to its spread.
        let own = seed.wrapping_mul(1_009).wrapping_add(repetition);
        let design = Design::new(own);
        leak_bounds.push(design.leak_bound());
        time_bounds.push(design.time_bound());
        let recording = design.record(own);
        let findings = checks::examine(&recording);
        if let Some(found) =
            findings.measure(Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut)
        {
            leak.push(found.value - LEAK);
        }
        if let Some(found) = findings.measure(Check::UnplugRecovery, MeasureName::RecoveryTime) {
            time.push((found.value / TIME_CONSTANT).ln());
        }
    }
    (
        efficiency(&leak, root_mean_square(&leak_bounds)),
        efficiency(&time, root_mean_square(&time_bounds)),
    )
}

fn efficiency(errors: &[f64], bound: f64) -> Efficiency {
    let spread = root_mean_square(errors);
    Efficiency {
        repetitions: u32::try_from(errors.len()).unwrap_or(u32::MAX),
        spread,
        bound,
        ratio: spread / bound,
    }
}

fn root_mean_square(values: &[f64]) -> f64 {
    let count = values.len().max(1) as f64;
    (values.iter().map(|value| value * value).sum::<f64>() / count).sqrt()
}

/// The clean visit at the polled times.
struct Design {
    times: Vec<f64>,
    /// What leak and purge of one pascal each would make of the pressure.
    leak: Vec<f64>,
    purge: Vec<f64>,
}

impl Design {
    fn new(seed: u64) -> Self {
        let mut random = ChaCha8Rng::seed_from_u64(seed ^ 0xC4A3);
        let mut times = Vec::new();
        let mut time = 0.05;
        while time < END {
            times.push(time);
            time += INTERVAL * random.random_range(0.8..1.2);
        }
        // First-order answer of the tank, integrated in steps of a millisecond.
        let (mut leak, mut purge) = (Vec::new(), Vec::new());
        let (mut leak_now, mut purge_now) = (0.0, 0.0);
        let mut next = 0;
        for tick in 0.. {
            let now = f64::from(tick) * 0.001;
            while next < times.len() && times[next] <= now {
                leak.push(leak_now);
                purge.push(purge_now);
                next += 1;
            }
            if next == times.len() {
                break;
            }
            let flow = psi(manifold(now) / 101.3);
            leak_now += 0.001 / TIME_CONSTANT * (flow - leak_now);
            purge_now += 0.001 / TIME_CONSTANT * (flow * command(now) - purge_now);
        }
        Self { times, leak, purge }
    }

    fn record(&self, seed: u64) -> Recording {
        let mut random = ChaCha8Rng::seed_from_u64(seed);
        let mut recording = Recording::default();
        recording.push_action(Instant::from_seconds(ENGINE), Action::EngineStarted);
        for (index, &time) in self.times.iter().enumerate() {
            let noise: f64 = random.sample(StandardNormal);
            let clean = OFFSET + LEAK * self.leak[index] + PURGE * self.purge[index];
            let read = ((clean + NOISE * noise) / STEP).round() * STEP;
            let at = Instant::from_seconds(time);
            recording.push(Signal::TankPressure, at, read);
            recording.push(Signal::ManifoldPressure, at, manifold(time).round());
            recording.push(Signal::PurgeCommand, at, 100.0 * asked(time));
            let opened = OPENINGS.iter().any(|(from, to)| time >= *from && time < *to);
            recording.push(Signal::Throttle, at, if opened { 80.0 } else { 15.0 });
            recording.push(Signal::EngineSpeed, at, engine_speed(time));
        }
        for (from, to) in UNPLUGGED {
            recording.push_action(Instant::from_seconds(from), Action::PurgeUnplugged);
            if to < END {
                recording.push_action(Instant::from_seconds(to), Action::PurgePlugged);
            }
        }
        recording
    }

    /// Least standard error of the leak, Pa.
    fn leak_bound(&self) -> f64 {
        let noise = noise();
        // The last rows are the priors on the supply's effects, as one more reading of each.
        let with = |column: &[f64], last: [f64; 2]| [column, &last].concat();
        let running: Vec<f64> =
            self.times.iter().map(|&time| f64::from(u8::from(time >= ENGINE))).collect();
        let ones = vec![1.0; self.times.len()];
        let trend: Vec<f64> = self.times.iter().map(|time| time / END - 0.5).collect();
        let speed: Vec<f64> = self.times.iter().map(|&time| engine_speed(time) / 1_000.0).collect();
        standard_error(&[
            &with(&self.leak, [0.0; 2]),
            &with(&ones, [0.0; 2]),
            &with(&trend, [0.0; 2]),
            &with(&self.purge, [0.0; 2]),
            &with(&running, [noise / RUNNING_EFFECT, 0.0]),
            &with(&speed, [0.0, noise / SUPPLY_EFFECT]),
        ])
    }

    /// Least standard error of the logarithm of the time constant, from the returns alone: each has
    /// its own start and levels.
    fn time_bound(&self) -> f64 {
        let mut information = 0.0;
        for (from, to) in UNPLUGGED {
            let first_opening = OPENINGS.iter().map(|opening| opening.0).find(|at| *at > from);
            let end = to.min(first_opening.unwrap_or(END));
            let times: Vec<f64> = self
                .times
                .iter()
                .copied()
                .filter(|time| *time > from - 3.5 && *time < end)
                .collect();
            let depth = PURGE * COMMAND;
            let decay =
                |time: f64| if time < from { 1.0 } else { (-(time - from) / TIME_CONSTANT).exp() };
            let since = |time: f64| (time - from).max(0.0);
            let in_time: Vec<f64> = times
                .iter()
                .map(|&time| depth * decay(time) * since(time) / TIME_CONSTANT)
                .collect();
            let in_start: Vec<f64> = times
                .iter()
                .map(|&time| if time < from { 0.0 } else { depth * decay(time) / TIME_CONSTANT })
                .collect();
            let in_depth: Vec<f64> = times.iter().map(|&time| decay(time)).collect();
            let ones = vec![1.0; times.len()];
            information += standard_error(&[&in_time, &in_start, &in_depth, &ones]).powi(-2);
        }
        information.sqrt().recip()
    }
}

/// Standard error of the first column's coefficient with the visit's noise and rounding.
fn standard_error(columns: &[&[f64]]) -> f64 {
    cramer_rao_bound(columns, noise()).unwrap_or(f64::INFINITY)
}

/// Noise of one reading, rounding included, Pa.
fn noise() -> f64 {
    NOISE.hypot(STEP / 12.0_f64.sqrt())
}

fn engine_speed(time: f64) -> f64 {
    if time < ENGINE { 0.0 } else { 750.0 }
}

fn manifold(time: f64) -> f64 {
    if time < ENGINE {
        return 101.3;
    }
    if OPENINGS.iter().any(|(from, to)| time >= *from && time < *to) {
        return 92.0;
    }
    34.0
}

/// What the control unit asks for, and what of it flows.
fn asked(time: f64) -> f64 {
    if time >= PURGE_ON { COMMAND } else { 0.0 }
}

fn command(time: f64) -> f64 {
    if UNPLUGGED.iter().any(|(from, to)| time >= *from && time < *to) { 0.0 } else { asked(time) }
}
