//! The curve of a recovery, and the least-squares step for what enters it linearly.

use super::super::{count, descriptive};

/// The linear unknowns and the weighted sum of squares they leave.
#[derive(Clone, Copy, Debug)]
pub(super) struct Linear {
    pub(super) level: f64,
    pub(super) amplitude: f64,
    pub(super) drift: f64,
    pub(super) cost: f64,
}

pub(super) struct Shape<'a> {
    times: &'a [f64],
    event: f64,
    sensor_lag: f64,
    with_drift: bool,
    /// Middle and half width of the times: the drift's regressor runs from −1 to 1.
    middle: f64,
    half: f64,
}

impl<'a> Shape<'a> {
    pub(super) fn new(times: &'a [f64], event: f64, sensor_lag: f64, with_drift: bool) -> Self {
        let first = times.first().copied().unwrap_or(event);
        let last = times.last().copied().unwrap_or(event);
        let half = ((last - first) / 2.0).max(f64::MIN_POSITIVE);
        Self { times, event, sensor_lag, with_drift, middle: f64::midpoint(first, last), half }
    }

    /// What is left of the amplitude `elapsed` seconds after the fall began: the exponential after
    /// the sensor's lag, two poles in a row.
    fn remaining(&self, elapsed: f64, time_constant: f64) -> f64 {
        if elapsed <= 0.0 {
            return 1.0;
        }
        let (own, sensor) = (time_constant, self.sensor_lag);
        if sensor <= 0.0 {
            return (-elapsed / own).exp();
        }
        if (own - sensor).abs() < 1e-6 * sensor {
            return (1.0 + elapsed / sensor) * (-elapsed / sensor).exp();
        }
        (own * (-elapsed / own).exp() - sensor * (-elapsed / sensor).exp()) / (own - sensor)
    }

    /// Level, amplitude and drift that fit best under a given time constant and delay.
    pub(super) fn solve(
        &self,
        values: &[f64],
        roots: &[f64],
        time_constant: f64,
        delay: f64,
    ) -> Option<Linear> {
        let start = self.event + delay;
        let offset = values[0];
        // Normal equations suffice: the regressors 1, shape and scaled time are all of size one.
        let mut gram = [[0.0_f64; 3]; 3];
        let mut right = [0.0_f64; 3];
        let rows = self.times.iter().zip(values).zip(roots);
        let row_of = |time: f64| {
            let drift = if self.with_drift { (time - self.middle) / self.half } else { 0.0 };
            [1.0, self.remaining(time - start, time_constant), drift]
        };
        let mut shape = Vec::with_capacity(values.len());
        for ((time, value), root) in rows.clone() {
            let weight = root * root;
            let row = row_of(*time);
            shape.push(row[1]);
            for i in 0..3 {
                for j in 0..=i {
                    gram[i][j] += weight * row[i] * row[j];
                }
                right[i] += weight * row[i] * (value - offset);
            }
        }
        if !self.with_drift {
            gram[2][2] = 1.0;
        }
        let b = solve_three(gram, right)?;
        let mut cost = 0.0;
        for (((time, value), root), shape) in rows.zip(&shape) {
            let drift = (time - self.middle) / self.half;
            let rest = value - offset - b[0] - b[1] * shape - b[2] * drift;
            cost += (root * rest).powi(2);
        }
        let drift = b[2] / self.half;
        let level = offset + b[0] + drift * (self.event - self.middle);
        cost.is_finite().then_some(Linear { level, amplitude: b[1], drift, cost })
    }

    /// Weighted residuals of a whole model.
    pub(super) fn residuals(
        &self,
        values: &[f64],
        roots: &[f64],
        linear: &Linear,
        time_constant: f64,
        delay: f64,
        out: &mut [f64],
    ) {
        let start = self.event + delay;
        let rows = self.times.iter().zip(values).zip(roots);
        for (slot, ((time, value), root)) in out.iter_mut().zip(rows) {
            let model = linear.level
                + linear.amplitude * self.remaining(time - start, time_constant)
                + linear.drift * (time - self.event);
            *slot = root * (value - model);
        }
    }

    /// Slope of the model at every sample, per s.
    pub(super) fn slopes(&self, linear: &Linear, time_constant: f64, delay: f64) -> Vec<f64> {
        let start = self.event + delay;
        let step = (time_constant / 100.0).max(1e-6);
        self.times
            .iter()
            .map(|time| {
                let fall = self.remaining(time + step - start, time_constant)
                    - self.remaining(time - step - start, time_constant);
                linear.amplitude * fall / (2.0 * step) + linear.drift
            })
            .collect()
    }

    /// Weighted squares about a level and drift alone, without any recovery.
    pub(super) fn cost_without(&self, values: &[f64], roots: &[f64]) -> f64 {
        let weights: Vec<f64> = roots.iter().map(|root| root * root).collect();
        let ones = vec![1.0; values.len()];
        let columns: &[&[f64]] = if self.with_drift { &[&ones, self.times] } else { &[&ones] };
        super::super::regression::weighted(columns, values, Some(&weights)).map_or_else(
            || descriptive::variance(values).unwrap_or(0.0) * count(values.len()),
            |fit| fit.residual_sum_of_squares,
        )
    }
}

/// Solves a symmetric 3 × 3 system given by its lower triangle (Cholesky).
fn solve_three(gram: [[f64; 3]; 3], right: [f64; 3]) -> Option<[f64; 3]> {
    let mut lower = [[0.0_f64; 3]; 3];
    for i in 0..3 {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let rest = gram[i][j] - known;
            if i == j {
                if !(rest > 1e-12 * gram[i][i]) || !(rest > 0.0) {
                    return None;
                }
                lower[i][i] = rest.sqrt();
            } else {
                lower[i][j] = rest / lower[j][j];
            }
        }
    }
    let mut forward = [0.0_f64; 3];
    for i in 0..3 {
        let known: f64 = (0..i).map(|k| lower[i][k] * forward[k]).sum();
        forward[i] = (right[i] - known) / lower[i][i];
    }
    let mut b = [0.0_f64; 3];
    for i in (0..3).rev() {
        let known: f64 = (i + 1..3).map(|k| lower[k][i] * b[k]).sum();
        b[i] = (forward[i] - known) / lower[i][i];
    }
    Some(b)
}
