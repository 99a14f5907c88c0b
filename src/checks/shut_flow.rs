//! Flow through the purge valve while it is shut: the regression behind `idle_zero` and
//! `throttle_follow`.

use super::fit_curve::Regressed;
use super::scene::{Scene, group_means};
use crate::analysis::{drift_regression, resolution};
use crate::units::Estimate;

/// What a shut valve does to the tank.
#[derive(Clone, Copy, Debug)]
pub(super) struct ShutFlow {
    /// Tank pressure made by the flow at choked flow, Pa; negative if the valve leaks.
    pub(super) effect: Estimate,
    /// Standard error of it, with the step's and the model's share, Pa.
    pub(super) standard_error: f64,
    /// Slow movement with nothing acting, Pa/s.
    pub(super) drift: Estimate,
    /// First and last time used, s.
    pub(super) span: (f64, f64),
}

/// At most this many samples enter the regression; more are averaged in pairs, triples … first.
const MOST: usize = 1_500;
/// Time constants from flow to reading that are tried, as factors of the one expected.
const LAG_FACTORS: [f64; 3] = [1.0, 0.6, 1.6];
/// Standard deviation believed, before looking, of what a running engine does to the reading through
/// the sensor's supply: once by charging the battery, Pa, and with engine speed, Pa per 1,000 rpm. A
/// regulated 5 V supply moves a ratiometric sensor by a millivolt or two (common practice, no
/// source); at 0.5 V/kPa that is below 4 Pa.
const RUNNING_EFFECT: f64 = 4.0;
const SUPPLY_EFFECT: f64 = 2.0;
/// Model error that stays however many samples there are: curvature of the vent path, psi through
/// an uneven throttle. Share of the effect found.
const MODEL_SHARE: f64 = 0.05;
/// The same where there is hardly an effect, Pa.
const MODEL_FLOOR: f64 = 1.4;

/// Regresses the samples at `indices` on the flow seen through a lag of about `lag` seconds.
///
/// `None` if the flow never changed among the samples, or too few are left.
pub(super) fn fit(scene: &Scene, indices: &[usize], lag: f64) -> Option<ShutFlow> {
    regress(scene, indices, lag).map(|it| it.0)
}

/// The same with the columns that it was made of; the flow is the third.
pub(super) fn regress(scene: &Scene, indices: &[usize], lag: f64) -> Option<(ShutFlow, Regressed)> {
    if indices.len() < 12 || scene.flow.times.is_empty() {
        return None;
    }
    let flows = LAG_FACTORS.map(|factor| scene.lagged_flow(lag * factor));
    let thinned = Thinned::new(scene, indices, &flows);
    let contrasts: Vec<f64> = thinned
        .flows
        .iter()
        .map(|flow| {
            let low = flow.iter().copied().fold(f64::MAX, f64::min);
            flow.iter().copied().fold(f64::MIN, f64::max) - low
        })
        .collect();
    if contrasts.iter().any(|contrast| *contrast < 0.15) {
        return None;
    }
    let ones = vec![1.0; thinned.times.len()];
    let (first, last) = (*thinned.times.first()?, *thinned.times.last()?);
    let width = (last - first).max(1.0);
    let trend: Vec<f64> = thinned.times.iter().map(|t| (t - first) / width - 0.5).collect();
    let supply = [RUNNING_EFFECT, SUPPLY_EFFECT].map(|effect| 1.0 / (effect * effect));
    let prior = [0.0, 1e-8, 0.0, supply[0], supply[1]];
    let per_group = (thinned.group as f64).sqrt();
    // An engine that always runs, or never, has no such effect to tell from the level.
    let changes = |values: &[f64]| values.iter().any(|v| (v - values[0]).abs() > 1e-9);
    let used = match (changes(&thinned.running), changes(&thinned.speed)) {
        (_, true) => 5,
        (true, false) => 4,
        (false, false) => 3,
    };
    let sets: Vec<[&[f64]; 5]> = thinned
        .flows
        .iter()
        .map(|flow| [&*ones, &trend, flow, &thinned.running, &thinned.speed])
        .collect();
    let variants: Vec<&[&[f64]]> = sets.iter().map(|set| &set[..used]).collect();
    let best = drift_regression::best_of(
        &thinned.times,
        &thinned.pressure,
        &variants,
        &prior[..used],
        scene.noise_floor() / per_group,
    )?;
    let found = best.fit;
    let contrast = contrasts.get(best.place).copied()?;
    let effect = found.coefficients[2];
    let statistical = found.standard_error(2);
    let rounding = hidden(scene, indices, &flows[best.place], found.noise * per_group) / contrast;
    let model = MODEL_SHARE * effect.abs();
    // Readings that flip between two steps look like a baseline that wanders: one doubt, not two.
    let standard_error = statistical.max(rounding).hypot(model).hypot(MODEL_FLOOR);
    let drift = Estimate::from_standard_error(
        found.coefficients[1] / width,
        found.standard_error(1) / width,
    );
    let columns = variants.get(best.place)?.iter().map(|column| column.to_vec()).collect();
    let (times, data) = (thinned.times.clone(), thinned.pressure.clone());
    let flow = ShutFlow {
        effect: Estimate::from_standard_error(effect, standard_error),
        standard_error,
        drift,
        span: (first, last),
    };
    let (taken_off, believed) = (Vec::new(), 0.0);
    Some((flow, Regressed { times, data, columns, fit: found, taken_off, believed }))
}

/// A level whose readings are not all but this share the same stands near the border of two steps, and
/// is known by so much of a step.
const SAME: f64 = 0.85;
const NEAR_THE_BORDER: f64 = 0.12;
/// The difference of two even errors is a triangle, whose 95 % lie nearer than a normal's.
const TRIANGLE: f64 = 0.776 / (1.96 * std::f64::consts::SQRT_2 * 0.288_675);

/// What rounding hides of the difference between the level at little flow and the one at much, Pa.
fn hidden(scene: &Scene, indices: &[usize], flow: &[f64], noise: f64) -> f64 {
    let usual = rounding_error(scene.noise.min(noise), scene.step);
    let flows = || indices.iter().map(|&i| flow[i]);
    let middle = 0.5 * (flows().fold(f64::MAX, f64::min) + flows().fold(f64::MIN, f64::max));
    let of_level = |high: bool| {
        let mut readings: Vec<f64> = indices
            .iter()
            .filter(|&&i| (flow[i] > middle) == high)
            .map(|&i| scene.pressure[i])
            .collect();
        readings.sort_by(f64::total_cmp);
        let alike = |a: &f64, b: &f64| b - a < 0.5 * scene.step.max(1e-9);
        let most = readings.chunk_by(alike).map(<[f64]>::len).max().unwrap_or(0);
        if (most as f64) < SAME * readings.len() as f64 {
            usual.min(NEAR_THE_BORDER * scene.step)
        } else {
            usual
        }
    };
    TRIANGLE * of_level(false).hypot(of_level(true))
}

/// What rounding to a step hides of a level, given the noise seen after rounding, Pa.
pub(super) fn rounding_error(noise: f64, step: f64) -> f64 {
    resolution::rounding_error_of_mean(resolution::noise_before_rounding(noise, step), step)
}

/// Samples averaged in groups of neighbours so that a long recording costs no more than a short.
struct Thinned {
    group: usize,
    times: Vec<f64>,
    pressure: Vec<f64>,
    flows: Vec<Vec<f64>>,
    running: Vec<f64>,
    speed: Vec<f64>,
}

impl Thinned {
    fn new(scene: &Scene, indices: &[usize], flows: &[Vec<f64>]) -> Self {
        let group = indices.len().div_ceil(MOST);
        let mean = |values: &[f64]| group_means(values, indices, group);
        let running: Vec<f64> =
            scene.running.iter().map(|runs| f64::from(u8::from(*runs))).collect();
        Self {
            group,
            times: mean(&scene.times),
            pressure: mean(&scene.pressure),
            flows: flows.iter().map(|flow| mean(flow)).collect(),
            running: mean(&running),
            speed: mean(&scene.speed),
        }
    }
}
