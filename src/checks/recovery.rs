//! How fast the pressure returns after something lets go of it.

use crate::units::Estimate;

/// Time constants tried, s: evenly spaced in their logarithm from 0.03 to 60.
const GRID: usize = 61;
const FASTEST: f64 = 0.03;
const SLOWEST: f64 = 60.0;
/// Half the drop of twice the log likelihood that bounds one parameter with 95 %
/// (chi-square with one degree of freedom, 3.841).
pub(super) const BOUND: f64 = 3.841_458_820_694_124 / 2.0;
/// The same for an upper bound alone (chi-square's 90 % point, 2.706: one side of 95 %).
const UPPER_BOUND: f64 = 2.705_543_454_095_404 / 2.0;

/// Sum of squares, in units of the noise variance, that a return must explain beyond a flat line: three
/// parameters found among some hundred starts and time constants do not reach it by chance (chi-square
/// with three degrees of freedom, one in 10,000 after 100 tries: 27).
const LEAST_GAIN: f64 = 27.0;

/// Steps of the reading that a return must rise by.
const LEAST_STEPS: f64 = 2.0;

/// 95 % reach below and above, in the logarithm, of what one exponential misses of a canister, a tank line
/// and a sensor in a row: the quicker of two lags looks like a later start, so that both together are
/// rather longer than what is fitted. And above, where readings are too far apart to give a lower bound: what
/// they hide is then more than what the model misses.
const MODEL_LOG: Reach = Reach { below: 0.205, above: 0.265, above_alone: 0.13 };
/// The same for a vent that opens on a deep vacuum: at first its flow grows with the root of the
/// pressure only.
const MODEL_LOG_VENTED: Reach = Reach { below: 0.6, above: 0.6, above_alone: 0.5 };
/// 95 % reaches of a model's error, in the logarithm.
#[derive(Clone, Copy)]
struct Reach {
    below: f64,
    above: f64,
    above_alone: f64,
}

/// Noise above this share of a step tells the level between two readings (the error of a mean of
/// rounded readings falls with their number from half a step of noise on; Widrow and Kollár 2008,
/// *Quantization Noise*, from memory).
const DITHERS: f64 = 0.5;
/// Readings this far apart no longer share the error of the model, s; those close together count
/// half.
const APART: f64 = 0.4;

/// The time constant at a place on the grid.
fn time_constant(index: usize) -> f64 {
    FASTEST * (SLOWEST / FASTEST).powf(index as f64 / (GRID - 1) as f64)
}

/// One return of the pressure: a profile of the log likelihood over the time constant, everything
/// else fitted.
#[derive(Clone, Debug)]
pub(super) struct Recovery {
    /// Log likelihood at each time constant of the grid, relative to the best; neighbouring readings,
    /// which share the model's error, count less.
    profile: Vec<f64>,
    /// When the return began, s.
    pub(super) start: f64,
    /// Pressure before, Pa.
    pub(super) before: f64,
    /// Pressure it returns to, Pa.
    pub(super) after: f64,
    /// Standard deviation of the residuals, Pa.
    pub(super) residual: f64,
    /// First and last reading used, s.
    pub(super) window: (f64, f64),
}

/// Fits `after + (before - after) · exp(-(t - start)/tau)`, flat before `start`, to raw unevenly
/// timed samples; `start` is looked for between `earliest` and `latest`.
///
/// `None` with too few samples on either side, or if the pressure did not rise by four times the
/// noise and by two steps of the reading: one step up and down is what rounding does to any level.
pub(super) fn fit(
    times: &[f64],
    pressure: &[f64],
    earliest: f64,
    latest: f64,
    noise: f64,
    step: f64,
) -> Option<Recovery> {
    let before_count = times.iter().filter(|t| **t < latest).count();
    if times.len() < 6 || before_count < 2 || times.len() - before_count < 3 {
        return None;
    }
    // Starts: 24 places and two refinements, to a tenth of their distance.
    let places = 24;
    let starts: Vec<f64> = (0..=places)
        .map(|k| earliest + (latest - earliest) * f64::from(k) / f64::from(places))
        .collect();
    let mut best: Vec<(f64, Fit)> = Vec::with_capacity(GRID);
    let weights = weights(pressure, noise, step);
    let weight: f64 = weights.iter().sum();
    let mut sums = Sums::new(times, pressure, &weights, earliest);
    for index in 0..GRID {
        sums.take(time_constant(index));
        let mut found: Option<(f64, Fit)> = None;
        let try_start = |start: f64, found: &mut Option<(f64, Fit)>| {
            if let Some(fit) = sums.linear(start)
                && found.as_ref().is_none_or(|(_, known)| fit.square < known.square)
            {
                *found = Some((start, fit));
            }
        };
        starts.iter().for_each(|start| try_start(*start, &mut found));
        let width = (latest - earliest) / f64::from(places);
        for offsets in [[-0.66, -0.33, 0.33, 0.66], [-0.2, -0.1, 0.1, 0.2]] {
            let Some((centre, _)) = found else { break };
            for offset in offsets {
                try_start((centre + offset * width).clamp(earliest, latest), &mut found);
            }
        }
        best.push(found?);
    }
    let (peak, _) = best.iter().enumerate().min_by(|a, b| a.1.1.square.total_cmp(&b.1.1.square))?;
    let (start, fit) = best[peak];
    let freedom = (weight - 4.0).max(1.0);
    let variance = (fit.square / freedom).max(noise * noise);
    // A rise that lies beyond the last reading is extrapolated, not seen; and one that a flat line
    // explains as well is noise.
    let seen = times.last().map_or(0.0, |last| 1.0 - (-(last - start) / time_constant(peak)).exp());
    let flat = about_mean(pressure, &weights) - fit.square;
    if (fit.after - fit.before) * seen < (4.0 * noise).max(LEAST_STEPS * step)
        || flat < LEAST_GAIN * variance
    {
        return None;
    }
    let apart = (times.last().copied().unwrap_or(0.0) - times.first().copied().unwrap_or(0.0))
        / (times.len() as f64 - 1.0);
    let counted = (0.5 * apart / APART).clamp(0.0, 0.5) + 0.5;
    let profile = best
        .iter()
        .map(|(_, other)| counted * (fit.square - other.square) / (2.0 * variance))
        .collect();
    Some(Recovery {
        profile,
        start,
        before: fit.before,
        after: fit.after,
        residual: variance.sqrt(),
        window: (times[0], times[times.len() - 1]),
    })
}

/// The time constant that all returns share, with profile-likelihood bounds. A lower bound of zero
/// says that the sampling cannot see it: it is below the upper bound, and that is all.
pub(super) fn combined(recoveries: &[Recovery]) -> Option<Estimate> {
    bounded(recoveries, MODEL_LOG)
}

/// The same for returns that began when a sealed vent was opened.
pub(super) fn vented(recoveries: &[Recovery]) -> Option<Estimate> {
    bounded(recoveries, MODEL_LOG_VENTED)
}

fn bounded(recoveries: &[Recovery], model: Reach) -> Option<Estimate> {
    if recoveries.is_empty() {
        return None;
    }
    let sum: Vec<f64> =
        (0..GRID).map(|index| recoveries.iter().map(|r| r.profile[index]).sum()).collect();
    let (peak, &top) = sum.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    // Returns that differ by more than their own bounds allow are so much less worth, each of them
    // (Birge 1932, Phys. Rev. 40:207, for profiles): a cycle may hold something that nobody said.
    let apart: f64 = recoveries
        .iter()
        .map(|one| {
            one.profile.iter().copied().fold(f64::NEG_INFINITY, f64::max) - one.profile[peak]
        })
        .sum();
    let birge = (2.0 * apart / (recoveries.len() as f64 - 1.0).max(1.0)).max(1.0);
    let below = |index: usize| (sum[index] - top) / birge;
    let crossing = |from: usize, to: usize, bound: f64| {
        let (a, b) = (below(from), below(to));
        let share = if (a - b).abs() < 1e-12 { 0.0 } else { (a + bound) / (a - b) };
        let (x, y) = (time_constant(from).ln(), time_constant(to).ln());
        (x + (y - x) * share.clamp(0.0, 1.0)).exp()
    };
    let low =
        (0..=peak).rev().find(|&i| below(i) < -BOUND).map_or(0.0, |i| crossing(i + 1, i, BOUND));
    // Where sampling cannot see a lower bound, the whole of the five in a hundred lies above the other.
    let (bound, above) =
        if low > 0.0 { (BOUND, model.above) } else { (UPPER_BOUND, model.above_alone) };
    let high = (peak..GRID)
        .find(|&i| below(i) < -bound)
        .map_or(f64::INFINITY, |i| crossing(i - 1, i, bound));
    let value = refined_peak(&sum, peak);
    // Between grid places the profile is not known better than their distance, and two lags in a
    // row are no single exponential: a floor in the logarithm under the bounds.
    let reach = |bound: f64, model: f64| (value / bound).ln().abs().hypot(model);
    let low = if low > 0.0 { value * (-reach(low, model.below)).exp() } else { 0.0 };
    let high = if high.is_finite() { value * reach(high, above).exp() } else { high };
    Some(Estimate { value, low, high })
}

/// Largest over smallest time constant of single returns.
pub(super) fn spread(recoveries: &[Recovery]) -> f64 {
    let best = recoveries.iter().filter_map(|recovery| {
        let profile = &recovery.profile;
        let (peak, _) = profile.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
        Some(refined_peak(profile, peak))
    });
    let (low, high) =
        best.fold((f64::MAX, f64::MIN), |(low, high), tau| (low.min(tau), high.max(tau)));
    if high > 0.0 { high / low } else { 1.0 }
}

/// The top of the parabola through the grid's best place and its neighbours.
fn refined_peak(profile: &[f64], peak: usize) -> f64 {
    if peak == 0 || peak + 1 >= profile.len() {
        return time_constant(peak);
    }
    let (a, b, c) = (profile[peak - 1], profile[peak], profile[peak + 1]);
    let bend = a - 2.0 * b + c;
    let offset = if bend < 0.0 { (0.5 * (a - c) / bend).clamp(-0.5, 0.5) } else { 0.0 };
    let step = (SLOWEST / FASTEST).ln() / (GRID - 1) as f64;
    (time_constant(peak).ln() + offset * step).exp()
}

/// Readings of one value in a row share one rounding, where noise is too small to carry them over the
/// edges of a step: together they count as one.
fn weights(pressure: &[f64], noise: f64, step: f64) -> Vec<f64> {
    if noise > DITHERS * step {
        return vec![1.0; pressure.len()];
    }
    pressure
        .chunk_by(|a, b| (a - b).abs() < 0.5 * step)
        .flat_map(|run| std::iter::repeat_n(1.0 / run.len() as f64, run.len()))
        .collect()
}

/// Sum of squares about the mean.
fn about_mean(values: &[f64], weights: &[f64]) -> f64 {
    let total: f64 = weights.iter().sum();
    let mean =
        values.iter().zip(weights).map(|(value, weight)| value * weight).sum::<f64>() / total;
    let square = |(value, weight): (&f64, &f64)| weight * (value - mean) * (value - mean);
    values.iter().zip(weights).map(square).sum()
}

#[derive(Clone, Copy)]
struct Fit {
    square: f64,
    before: f64,
    after: f64,
}

/// Sums over the samples before any place and from it on, so that one start after another costs no
/// walk through them: the decay from a start is the decay from the reference times a factor.
struct Sums<'a> {
    times: &'a [f64],
    pressure: &'a [f64],
    weights: &'a [f64],
    reference: f64,
    time_constant: f64,
    /// Sums of the weights and of the weighed pressures before each place, and of all their squares.
    before: Vec<[f64; 2]>,
    squares: f64,
    /// Sums of the decay, its square, and its product with the pressure from each place on.
    from: Vec<[f64; 3]>,
}

impl<'a> Sums<'a> {
    fn new(times: &'a [f64], pressure: &'a [f64], weights: &'a [f64], reference: f64) -> Self {
        let mut before = vec![[0.0; 2]];
        let mut sums = [0.0; 2];
        for (value, weight) in pressure.iter().zip(weights) {
            sums[0] += weight;
            sums[1] += weight * value;
            before.push(sums);
        }
        let squares = pressure.iter().zip(weights).map(|(p, weight)| weight * p * p).sum();
        let from = vec![[0.0; 3]; times.len() + 1];
        Self { times, pressure, weights, reference, time_constant: 1.0, before, squares, from }
    }

    /// Makes the sums for a time constant.
    fn take(&mut self, time_constant: f64) {
        self.time_constant = time_constant;
        let mut sums = [0.0; 3];
        for index in (0..self.times.len()).rev() {
            let since = self.times[index] - self.reference;
            if since >= 0.0 {
                let decay = (-since / time_constant).exp();
                let weighed = self.weights[index] * decay;
                sums[0] += weighed;
                sums[1] += weighed * decay;
                sums[2] += weighed * self.pressure[index];
            }
            self.from[index] = sums;
        }
    }

    /// Least squares of the two levels for a given start, not before the reference.
    fn linear(&self, start: f64) -> Option<Fit> {
        // pressure = after + (before - after) · w, w = 1 up to the start, decaying after it.
        let place = self.times.partition_point(|time| *time <= start);
        let factor = ((start - self.reference) / self.time_constant).exp();
        let [decay, decay_squared, decay_pressure] = self.from[place];
        let [count, pressure] = self.before[place];
        let [n, p1] = self.before[self.times.len()];
        let w1 = count + factor * decay;
        let w2 = count + factor * factor * decay_squared;
        let wp = pressure + factor * decay_pressure;
        let determinant = n * w2 - w1 * w1;
        if determinant.is_nan() || determinant < 1e-9 * n * n {
            return None;
        }
        let drop = (n * wp - w1 * p1) / determinant;
        let after = (p1 - drop * w1) / n;
        let square = (self.squares - after * p1 - drop * wp).max(0.0);
        Some(Fit { square, before: after + drop, after })
    }
}

#[cfg(test)]
mod tests {
    use super::{combined, fit, spread};

    fn samples(interval: f64, tau: f64, noise: f64, seed: u64) -> (Vec<f64>, Vec<f64>) {
        let mut state = seed * 7919 + 1;
        let mut times = Vec::new();
        let mut values = Vec::new();
        let mut time = 0.0;
        while time < 12.0 {
            // Park and Miller's minimal standard generator (CACM 31:1192, 1988).
            state = state * 16807 % 2_147_483_647;
            let u = state as f64 / 2_147_483_647.0;
            state = state * 16807 % 2_147_483_647;
            let v = state as f64 / 2_147_483_647.0;
            let z = (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos();
            let clean = if time < 4.1 { -500.0 } else { -500.0 * (-(time - 4.1) / tau).exp() };
            times.push(time);
            values.push(clean + noise * z);
            time += interval * (0.8 + 0.4 * u);
        }
        (times, values)
    }

    #[test]
    fn time_constant_is_found_within_its_bounds() {
        for (interval, tau) in [(0.05, 0.47), (0.1, 0.47), (0.1, 3.0), (0.25, 1.2)] {
            let found: Vec<_> = (0..3)
                .filter_map(|seed| {
                    let (times, values) = samples(interval, tau, 5.0, seed);
                    fit(&times, &values, 2.5, 6.0, 5.0, 0.0)
                })
                .collect();
            let estimate = combined(&found).unwrap();
            assert!(estimate.low < tau && tau < estimate.high, "{tau}: {estimate:?}");
            assert!((estimate.value / tau - 1.0).abs() < 0.15, "{tau}: {estimate:?}");
            assert!(spread(&found) < 1.3);
        }
    }

    /// Cycles that disagree by far more than their bounds: somebody did something else meanwhile, and
    /// the bounds hold both.
    #[test]
    fn cycles_that_disagree_have_wide_bounds() {
        let one = |tau: f64, seed| {
            let (times, values) = samples(0.1, tau, 5.0, seed);
            fit(&times, &values, 2.5, 6.0, 5.0, 0.0).unwrap()
        };
        let alike = combined(&[one(1.0, 1), one(1.0, 2)]).unwrap();
        let apart = combined(&[one(0.5, 1), one(2.0, 2)]).unwrap();
        let width = |it: &crate::units::Estimate| it.high / it.low;
        assert!(width(&apart) > 2.0 * width(&alike), "{alike:?} {apart:?}");
    }

    /// One reading a second cannot time half a second: only an upper bound comes out.
    #[test]
    fn slow_polling_gives_an_upper_bound_only() {
        let (times, values) = samples(1.0, 0.15, 5.0, 3);
        let estimate = combined(&[fit(&times, &values, 2.5, 6.0, 5.0, 0.0).unwrap()]).unwrap();
        assert_eq!(estimate.low, 0.0);
        assert!(estimate.high < 1.5, "{estimate:?}");
    }

    #[test]
    fn a_pressure_that_does_not_rise_is_no_recovery() {
        let times: Vec<f64> = (0..40).map(|i| f64::from(i) * 0.2).collect();
        let flat: Vec<f64> =
            times.iter().map(|t| if (t * 5.0) as i32 % 2 == 0 { 1.0 } else { -1.0 }).collect();
        assert!(fit(&times, &flat, 2.0, 5.0, 1.0, 0.0).is_none());
    }
}
