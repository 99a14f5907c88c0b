//! Lags: cross-correlation, and a first-order lag applied exactly to an unevenly sampled input.

use super::{Bounded, all_finite, count, descriptive, distribution, regression};

/// What the input does between two of its samples.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Between {
    /// It keeps the value of the earlier sample (a command, a switch).
    Held,
    /// It runs in a straight line (a pressure).
    Straight,
}

/// The input after a first-order lag of `time_constant` seconds, at the input's own times, with
/// straight lines between samples and the lag settled at the first value.
pub fn first_order(times: &[f64], values: &[f64], time_constant: f64) -> Vec<f64> {
    first_order_at(times, values, time_constant, Between::Straight, times)
}

/// The input after a first-order lag, at `wanted` times (not decreasing), integrated exactly.
/// Before the first sample the input is taken to have rested at its first value, after the last
/// one it stays. A time constant of zero gives the input itself. Empty or mismatched input gives an
/// empty answer; a value that is not finite is skipped.
pub fn first_order_at(
    times: &[f64],
    values: &[f64],
    time_constant: f64,
    between: Between,
    wanted: &[f64],
) -> Vec<f64> {
    let mut input = times
        .iter()
        .zip(values)
        .filter(|(time, value)| time.is_finite() && value.is_finite())
        .map(|(time, value)| (*time, *value));
    let Some(first) = input.next() else { return Vec::new() };
    let mut filter =
        Filter { time_constant: time_constant.max(0.0), between, from: first, state: first.1 };
    let mut next = input.next();
    wanted
        .iter()
        .map(|&time| {
            while let Some(sample) = next.filter(|sample| sample.0 <= time) {
                filter.advance(sample);
                next = input.next();
            }
            filter.read(time, next)
        })
        .collect()
}

/// The input at `wanted` times without any lag.
pub fn sample_at(times: &[f64], values: &[f64], between: Between, wanted: &[f64]) -> Vec<f64> {
    first_order_at(times, values, 0.0, between, wanted)
}

struct Filter {
    time_constant: f64,
    between: Between,
    /// The last input sample that was taken in.
    from: (f64, f64),
    /// The lagged value at that sample's time.
    state: f64,
}

impl Filter {
    fn advance(&mut self, to: (f64, f64)) {
        self.state = self.at(to.0, Some(to));
        self.from = to;
    }

    fn read(&self, time: f64, next: Option<(f64, f64)>) -> f64 {
        if time <= self.from.0 { self.state } else { self.at(time, next) }
    }

    fn at(&self, time: f64, next: Option<(f64, f64)>) -> f64 {
        let (start, input) = self.from;
        let elapsed = time - start;
        let slope = match (self.between, next) {
            (Between::Straight, Some((end, value))) if end > start => {
                (value - input) / (end - start)
            }
            _ => 0.0,
        };
        // At the very time of the next sample a held input has already changed only for what comes
        // after; the lagged value is continuous, the input itself is not.
        if self.time_constant == 0.0 {
            return match next {
                Some((end, value)) if time >= end => value,
                _ => input + slope * elapsed,
            };
        }
        let decay = (-elapsed / self.time_constant).exp();
        let behind = slope * self.time_constant;
        input + slope * elapsed - behind + (self.state - input + behind) * decay
    }
}

/// Correlation of `x` with `y` shifted: positive lags mean that `y` follows `x`.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossCorrelation {
    /// Lags in samples, from −most to +most.
    pub lags: Vec<isize>,
    /// r(k) = Σ (xᵢ − x̄)(yᵢ₊ₖ − ȳ) / √(SSx SSy).
    pub values: Vec<f64>,
}

impl CrossCorrelation {
    /// The lag with the correlation farthest from zero, and that correlation.
    pub fn strongest(&self) -> Option<(isize, f64)> {
        let pairs = self.lags.iter().copied().zip(self.values.iter().copied());
        pairs.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))
    }
}

/// Cross-correlation up to `most` lags to either side (Box & Jenkins' convention). `None` for
/// constant, mismatched or too short series.
pub fn cross_correlation(x: &[f64], y: &[f64], most: usize) -> Option<CrossCorrelation> {
    let n = x.len();
    if n != y.len() || n <= most || !all_finite(x) || !all_finite(y) {
        return None;
    }
    let centred = |values: &[f64]| -> Option<Vec<f64>> {
        let mean = descriptive::mean(values)?;
        Some(values.iter().map(|value| value - mean).collect())
    };
    let (x, y) = (centred(x)?, centred(y)?);
    let squares = |values: &[f64]| values.iter().map(|value| value * value).sum::<f64>();
    let scale = (squares(&x) * squares(&y)).sqrt();
    if !(scale > 0.0) {
        return None;
    }
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>() / scale;
    let mut lags = Vec::new();
    let mut values = Vec::new();
    for k in (1..=most).rev() {
        lags.push(-isize::try_from(k).ok()?);
        values.push(product(&x[k..], &y));
    }
    for k in 0..=most {
        lags.push(isize::try_from(k).ok()?);
        values.push(product(&x, &y[k..]));
    }
    Some(CrossCorrelation { lags, values })
}

/// The time constant that explains best how `y` follows an input.
#[derive(Clone, Debug, PartialEq)]
pub struct LagProfile {
    /// Time constant, s, with bounds by profile likelihood; the low bound is 0 where a lag cannot
    /// be told from none, the high one `+inf` where the candidates end before the data object.
    pub time_constant: Bounded,
    /// The fit at that time constant; its first coefficient is the gain.
    pub fit: regression::Fit,
}

/// Tries each of `candidates` (seconds, increasing): lags the input to `y`'s times, regresses `y` on
/// it and on the `other` columns, and refines the best. `effective_share` is the share of the
/// samples that are independent (1 for white errors): it widens the bounds.
pub fn profile_time_constant(
    input: (&[f64], &[f64]),
    between: Between,
    y: (&[f64], &[f64]),
    other: &[&[f64]],
    candidates: &[f64],
    effective_share: f64,
) -> Option<LagProfile> {
    let (times, values) = y;
    let fit_at = |time_constant: f64| -> Option<regression::Fit> {
        let lagged = first_order_at(input.0, input.1, time_constant, between, times);
        let mut columns: Vec<&[f64]> = vec![&lagged];
        columns.extend_from_slice(other);
        regression::ordinary(&columns, values)
    };
    let cost = |time_constant: f64| {
        fit_at(time_constant).map_or(f64::INFINITY, |fit| fit.residual_sum_of_squares)
    };
    let costs: Vec<f64> = candidates.iter().map(|candidate| cost(*candidate)).collect();
    let best = (0..costs.len()).min_by(|a, b| costs[*a].total_cmp(&costs[*b]))?;
    let low = candidates[best.saturating_sub(1)];
    let high = candidates[(best + 1).min(candidates.len() - 1)];
    let refined = golden(cost, low, high);
    let best_time = if cost(refined) < costs[best] { refined } else { candidates[best] };
    let fit = fit_at(best_time)?;
    let degrees = (fit.degrees_of_freedom - 1.0).max(1.0);
    let independent = (degrees * effective_share.clamp(0.0, 1.0)).max(1.0);
    let threshold = fit.residual_sum_of_squares
        * (1.0 + distribution::f_quantile(0.95, 1.0, independent) / independent);
    let edge = |outward: &mut dyn Iterator<Item = f64>, open: f64| -> f64 {
        let mut inside = best_time;
        for candidate in outward {
            if cost(candidate) > threshold {
                return bisect(|time| cost(time) > threshold, inside, candidate);
            }
            inside = candidate;
        }
        open
    };
    let low_edge = edge(&mut candidates.iter().rev().copied().filter(|c| *c < best_time), 0.0);
    let high_edge = edge(&mut candidates.iter().copied().filter(|c| *c > best_time), f64::INFINITY);
    let time_constant = Bounded { value: best_time, low: low_edge, high: high_edge };
    Some(LagProfile { time_constant, fit })
}

/// Golden-section search for a minimum between `low` and `high`, to a thousandth of the interval.
pub(super) fn golden(cost: impl Fn(f64) -> f64, mut low: f64, mut high: f64) -> f64 {
    let share = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut a, mut b) = (high - share * (high - low), low + share * (high - low));
    let (mut cost_a, mut cost_b) = (cost(a), cost(b));
    for _ in 0..15 {
        if cost_a <= cost_b {
            (high, b, cost_b) = (b, a, cost_a);
            a = high - share * (high - low);
            cost_a = cost(a);
        } else {
            (low, a, cost_a) = (a, b, cost_b);
            b = low + share * (high - low);
            cost_b = cost(b);
        }
    }
    if cost_a <= cost_b { a } else { b }
}

/// Where a condition turns true between `inside` (false) and `outside` (true).
pub(super) fn bisect(condition: impl Fn(f64) -> bool, mut inside: f64, mut outside: f64) -> f64 {
    for _ in 0..12 {
        let middle = 0.5 * (inside + outside);
        if condition(middle) {
            outside = middle;
        } else {
            inside = middle;
        }
    }
    0.5 * (inside + outside)
}

/// Fisher's 95 % bounds of a correlation from `n` (effective) pairs; needs more than three.
pub fn correlation_bounds(r: f64, n: f64) -> Option<Bounded> {
    if !(n > 3.0) || !(r.abs() < 1.0) {
        return None;
    }
    let half = distribution::normal_quantile(0.975) / (n - 3.0).sqrt();
    Some(Bounded { value: r, low: (r.atanh() - half).tanh(), high: (r.atanh() + half).tanh() })
}

/// Pearson's correlation; `None` for constant or mismatched series.
pub fn correlation(x: &[f64], y: &[f64]) -> Option<f64> {
    cross_correlation(x, y, 0)?.values.first().copied()
}

/// Median gap between neighbouring times, s.
pub fn median_interval(times: &[f64]) -> Option<f64> {
    let gaps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    descriptive::median(&gaps)
}

/// Samples per second over the whole series.
pub fn mean_rate(times: &[f64]) -> Option<f64> {
    let (first, last) = (times.first()?, times.last()?);
    let span = last - first;
    (span > 0.0).then(|| count(times.len() - 1) / span)
}
