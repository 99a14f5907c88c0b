//! Recovery of a pressure after an event: a delayed exponential with offset and drift, fitted to
//! the raw, unevenly timed samples.
//!
//! Before `event + delay` the model rests at level + amplitude, after it the amplitude dies away
//! with the time constant; a sensor's own first-order lag and a straight drift may be part of it.
//! The time constant's bounds come from the profile of the likelihood, because they are lopsided:
//! where the sampling cannot see the fall, the answer is an upper bound and no value.

mod shape;

use super::lag;
use super::levenberg_marquardt::{self, Settings};
use super::{Bounded, all_finite, count, descriptive, distribution};
use shape::{Linear, Shape};

/// What is known beside the samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Setting {
    /// Time at which the recovery may begin at the earliest, s.
    pub event: f64,
    /// The longest delay to consider after the event, s; 0 fixes the delay at none.
    pub longest_delay: f64,
    /// The sensor's own first-order lag, s; 0 where it is unknown or part of what is asked.
    pub sensor_lag: f64,
    /// The least standard deviation a reading can claim (noise seen at rest, step/√12).
    pub noise_floor: f64,
    /// Standard deviation of a sample's time, s: half a round trip, a control unit's update.
    pub timing: f64,
    /// Whether a straight drift is part of the model.
    pub drift: bool,
}

/// A time constant, or only its bounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimeConstant {
    /// Best value, s; `None` where the samples are too sparse or too noisy to see one.
    pub value: Option<f64>,
    /// Lower 95 % bound, s; 0 where an immediate fall explains the samples as well.
    pub low: f64,
    /// Upper 95 % bound, s; `+inf` where no fall was seen to end.
    pub high: f64,
}

/// A fitted recovery.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Recovery {
    /// Time from the event to the start of the fall, s; `None` where there are no samples before
    /// the event to tell it from.
    pub delay: Option<Bounded>,
    /// Time constant of the fall.
    pub time_constant: TimeConstant,
    /// Time from the event until 90 % are gone: delay + τ ln 10, s.
    pub ninety_percent: Bounded,
    /// Level towards which the recovery runs, at the event's time (drift taken out).
    pub level: Bounded,
    /// What recovers: the starting value less `level`.
    pub amplitude: Bounded,
    /// Drift, per s; zero with zero bounds where it was left out.
    pub drift: Bounded,
    /// Standard deviation of the residuals.
    pub residual_sd: f64,
    /// Samples that were fitted.
    pub samples: usize,
}

/// Fits a recovery. `None` for mismatched or unordered samples, values that are not finite, or fewer
/// samples than the model needs (six after the event, or three more than unknowns).
pub fn fit(times: &[f64], values: &[f64], setting: &Setting) -> Option<Recovery> {
    let n = times.len();
    let sensible = n == values.len() && all_finite(times) && all_finite(values);
    if !sensible || times.windows(2).any(|pair| pair[1] < pair[0]) || !setting.event.is_finite() {
        return None;
    }
    let before = times.iter().filter(|time| **time <= setting.event).count();
    let search_delay = before >= 2 && setting.longest_delay > 0.0;
    let unknowns = 3 + usize::from(setting.drift) + usize::from(search_delay);
    if n < unknowns + 3 || n - before < 3 {
        return None;
    }
    let mut problem = Problem::new(times, values, setting, search_delay)?;
    let mut best = problem.polish(problem.scan()?)?;
    if setting.timing > 0.0 {
        problem.weigh(&best);
        best = problem.polish(problem.scan()?)?;
    }
    Some(problem.conclude(&best))
}

struct Problem<'a> {
    values: &'a [f64],
    shape: Shape<'a>,
    setting: &'a Setting,
    /// Square roots of the weights.
    roots: Vec<f64>,
    search_delay: bool,
    interval: f64,
    span: f64,
}

/// The best fit so far.
#[derive(Clone, Debug)]
struct Best {
    time_constant: f64,
    delay: f64,
    linear: Linear,
    covariance: Option<Vec<Vec<f64>>>,
}

impl<'a> Problem<'a> {
    fn new(
        times: &'a [f64],
        values: &'a [f64],
        setting: &'a Setting,
        search_delay: bool,
    ) -> Option<Self> {
        let after: Vec<f64> = times.iter().copied().filter(|t| *t >= setting.event).collect();
        let span = after.last()? - after.first()?;
        let interval = lag::median_interval(&after)?.max(span / count(after.len()) / 10.0);
        let shape = Shape::new(times, setting.event, setting.sensor_lag.max(0.0), setting.drift);
        let roots = vec![1.0; times.len()];
        (span > 0.0).then_some(Self { values, shape, setting, roots, search_delay, interval, span })
    }

    fn shortest(&self) -> f64 {
        self.interval / 50.0
    }

    fn longest(&self) -> f64 {
        5.0 * self.span
    }

    fn linear(&self, time_constant: f64, delay: f64) -> Option<Linear> {
        self.shape.solve(self.values, &self.roots, time_constant, delay)
    }

    fn cost(&self, time_constant: f64, delay: f64) -> f64 {
        self.linear(time_constant, delay).map_or(f64::INFINITY, |linear| linear.cost)
    }

    /// The best point of a coarse grid: nothing can be trapped that starts from here.
    fn scan(&self) -> Option<(f64, f64)> {
        const TIME_CONSTANTS: u32 = 14;
        let delays: u32 = if self.search_delay { 12 } else { 1 };
        let (low, high) = (self.shortest().ln(), self.longest().ln());
        let mut best = (f64::INFINITY, (0.0, 0.0));
        for i in 0..TIME_CONSTANTS {
            let share = f64::from(i) / f64::from(TIME_CONSTANTS - 1);
            let time_constant = (low + share * (high - low)).exp();
            for j in 0..delays {
                let delay = self.setting.longest_delay * f64::from(j) / 12.0;
                let delay = if self.search_delay { delay } else { 0.0 };
                let cost = self.cost(time_constant, delay);
                if cost < best.0 {
                    best = (cost, (time_constant, delay));
                }
            }
        }
        best.0.is_finite().then_some(best.1)
    }

    /// Levenberg–Marquardt over all unknowns at once, for the optimum and the covariance.
    fn polish(&self, (time_constant, delay): (f64, f64)) -> Option<Best> {
        let linear = self.linear(time_constant, delay)?;
        let from_grid = Best { time_constant, delay, linear, covariance: None };
        let mut start = vec![linear.level, linear.amplitude, time_constant.ln()];
        if self.setting.drift {
            start.push(linear.drift);
        }
        if self.search_delay {
            start.push(delay);
        }
        let unpack = |b: &[f64]| {
            let drift = if self.setting.drift { b[3] } else { 0.0 };
            let delay = if self.search_delay { b[b.len() - 1] } else { 0.0 };
            (Linear { level: b[0], amplitude: b[1], drift, cost: 0.0 }, b[2].exp(), delay)
        };
        let (low, high) = (self.shortest().ln(), self.longest().ln());
        let residual = |b: &[f64], out: &mut [f64]| {
            let (linear, time_constant, delay) = unpack(b);
            let allowed = (low..=high).contains(&b[2])
                && (0.0..=self.setting.longest_delay.max(0.0)).contains(&delay);
            if !allowed {
                out.fill(f64::NAN);
                return;
            }
            self.shape.residuals(self.values, &self.roots, &linear, time_constant, delay, out);
        };
        let settings = Settings { tolerance: 1e-10, most_iterations: 60 };
        let solution = levenberg_marquardt::minimise(residual, self.values.len(), &start, settings);
        let Some(solution) = solution else { return Some(from_grid) };
        let (mut linear, time_constant, delay) = unpack(&solution.parameters);
        linear.cost = solution.residual_sum_of_squares;
        if linear.cost > from_grid.linear.cost * (1.0 + 1e-9) {
            return Some(from_grid);
        }
        Some(Best { time_constant, delay, linear, covariance: solution.covariance })
    }

    /// A sample on the slope is worth less where its time is uncertain.
    fn weigh(&mut self, best: &Best) {
        let variance = self.variance(best);
        let slopes = self.shape.slopes(&best.linear, best.time_constant, best.delay);
        for (root, slope) in self.roots.iter_mut().zip(slopes) {
            let from_timing = (slope * self.setting.timing).powi(2);
            *root = (variance / (variance + from_timing)).sqrt();
        }
    }

    fn degrees(&self) -> f64 {
        let unknowns = 3 + usize::from(self.setting.drift) + usize::from(self.search_delay);
        count(self.values.len() - unknowns)
    }

    /// Variance of a reading: what the residuals show, but no less than the sensor allows.
    fn variance(&self, best: &Best) -> f64 {
        let seen = best.linear.cost / self.degrees();
        seen.max(self.setting.noise_floor.powi(2)).max(f64::MIN_POSITIVE)
    }

    fn conclude(&self, best: &Best) -> Recovery {
        let mut residuals = vec![0.0; self.values.len()];
        let Best { time_constant, delay, linear, covariance } = best;
        self.shape.residuals(
            self.values,
            &self.roots,
            linear,
            *time_constant,
            *delay,
            &mut residuals,
        );
        // Residuals that remember carry less information than their number says.
        let memory = descriptive::lag_one_autocorrelation(&residuals).unwrap_or(0.0);
        let inflation = if memory > 0.0 { (1.0 + memory) / (1.0 - memory.min(0.9)) } else { 1.0 };
        let variance = self.variance(best) * inflation;
        let degrees = self.degrees();
        let t = distribution::student_quantile(0.975, degrees);
        let widening = (variance * degrees / linear.cost.max(f64::MIN_POSITIVE)).sqrt();
        let half = |index: usize| -> f64 {
            let entry = covariance.as_ref().and_then(|c| c.get(index)?.get(index));
            entry.map_or(f64::INFINITY, |v| t * v.sqrt() * widening)
        };
        let amplitude = Bounded::symmetric(linear.amplitude, half(1));
        let drift = if self.setting.drift {
            Bounded::symmetric(linear.drift, half(3))
        } else {
            Bounded { value: 0.0, low: 0.0, high: 0.0 }
        };
        let delay_bounds = self.search_delay.then(|| {
            let index = 3 + usize::from(self.setting.drift);
            let half = half(index).hypot(t * self.setting.timing);
            let half = if half.is_finite() { half } else { self.interval };
            let bounds = Bounded::symmetric(*delay, half);
            Bounded { low: bounds.low.max(0.0), high: bounds.high, ..bounds }
        });
        let threshold = linear.cost + t * t * variance;
        let constant = self.profile(best, threshold);
        Recovery {
            delay: delay_bounds,
            time_constant: constant,
            ninety_percent: self.ninety_percent(best, constant, widening * t),
            level: Bounded::symmetric(linear.level, half(0)),
            amplitude,
            drift,
            residual_sd: (linear.cost / degrees).sqrt(),
            samples: self.values.len(),
        }
    }

    /// Bounds of the time constant: where the best achievable cost rises above `threshold`.
    fn profile(&self, best: &Best, threshold: f64) -> TimeConstant {
        let reach = (2.0 * self.interval).max(2.0 * best.time_constant);
        let (from, to) = (
            (best.delay - reach).max(0.0),
            (best.delay + reach).min(self.setting.longest_delay.max(0.0)),
        );
        let least = |log_time: f64| -> f64 {
            let time_constant = log_time.exp();
            if !self.search_delay {
                return self.cost(time_constant, 0.0);
            }
            let delay = lag::golden(|delay| self.cost(time_constant, delay), from, to);
            self.cost(time_constant, delay).min(self.cost(time_constant, best.delay))
        };
        let outside = |log_time: f64| least(log_time) > threshold;
        let centre = best.time_constant.ln();
        let (shortest, longest) = (self.shortest().ln(), self.longest().ln());
        // A model without any recovery may do as well: then nothing is known of its time.
        if self.shape.cost_without(self.values, &self.roots) <= threshold {
            return TimeConstant { value: None, low: 0.0, high: f64::INFINITY };
        }
        let low = if outside(shortest) {
            Some(lag::bisect(outside, centre, shortest).exp())
        } else {
            None
        };
        let high = if outside(longest) {
            lag::bisect(outside, centre, longest).exp()
        } else {
            f64::INFINITY
        };
        TimeConstant {
            value: low.is_some().then_some(best.time_constant),
            low: low.unwrap_or(0.0),
            high,
        }
    }

    fn ninety_percent(&self, best: &Best, constant: TimeConstant, factor: f64) -> Bounded {
        let ln_10 = std::f64::consts::LN_10;
        let value = best.delay + best.time_constant * ln_10;
        if constant.value.is_none() {
            let high = best.delay + self.interval + constant.high * ln_10;
            return Bounded { value: value.min(high), low: 0.0, high };
        }
        let delay_index = 3 + usize::from(self.setting.drift);
        let variance = best.covariance.as_ref().map(|c| {
            let by_log = best.time_constant * ln_10;
            let own = by_log * by_log * c[2][2];
            if self.search_delay {
                own + c[delay_index][delay_index] + 2.0 * by_log * c[2][delay_index]
            } else {
                own
            }
        });
        let half = variance.map_or(f64::INFINITY, |v| v.max(0.0).sqrt() * factor);
        let bounds = Bounded::symmetric(value, half.hypot(1.96 * self.setting.timing));
        Bounded { low: bounds.low.max(0.0), ..bounds }
    }
}
