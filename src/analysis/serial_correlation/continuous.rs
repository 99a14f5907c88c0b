//! Least squares for unevenly timed samples whose errors are a slow random part plus white noise.
//!
//! The slow part is a continuous first-order autoregression: its correlation over `d` seconds is
//! exp(−d/θ). The white part is sensor noise and rounding. Both shares are found by restricted
//! maximum likelihood; a Kalman filter whitens the columns in one pass, so that an evaluation costs
//! O(n p) whatever the spacing (Jones 1980; without the white part it is the Prais–Winsten
//! transformation for uneven spacing).

use super::super::linear_algebra::{Qr, inverse_positive};
use super::super::regression::{self, Fit};
use super::super::{Bounded, all_finite, count, descriptive, distribution};

/// A linear fit under correlated errors.
#[derive(Clone, Debug, PartialEq)]
pub struct CorrelatedFit {
    /// Coefficients and covariance; `residual_sd` is the errors' whole standard deviation.
    pub fit: Fit,
    /// Satterthwaite degrees of freedom for each coefficient's variance: the uncertainty of the
    /// error model is in them.
    pub degrees_of_freedom: Vec<f64>,
    /// Correlation time θ of the slow part, s. Without meaning where `white_share` is near 1.
    pub correlation_time: f64,
    /// Share of the error variance that is white, 0 to 1.
    pub white_share: f64,
    /// How many independent samples a mean over these times would be worth.
    pub effective_size: f64,
}

impl CorrelatedFit {
    /// Coefficient `index` with its 95 % bounds.
    pub fn bounds(&self, index: usize) -> Bounded {
        let value = self.fit.coefficients.get(index).copied().unwrap_or(f64::NAN);
        let degrees = self.degrees_of_freedom.get(index).copied().unwrap_or(f64::NAN);
        let t = distribution::student_quantile(0.975, degrees);
        Bounded::symmetric(value, t * self.fit.standard_error(index))
    }
}

/// Fits `y` on `columns`. `samples` says how many readings stand behind each row (block means);
/// white noise shrinks with them. Take block means first where there are more than a few thousand
/// rows: about sixty passes are made.
///
/// `None` if lengths differ, values are not finite, times decrease, or there are not at least two
/// more rows than columns.
pub fn fit(
    columns: &[&[f64]],
    y: &[f64],
    times: &[f64],
    samples: Option<&[f64]>,
) -> Option<CorrelatedFit> {
    let n = y.len();
    let p = columns.len();
    let fits = columns.iter().all(|column| column.len() == n && all_finite(column));
    if p == 0 || n < p + 2 || !fits || times.len() != n || !all_finite(y) || !all_finite(times) {
        return None;
    }
    let weights_fit =
        samples.is_none_or(|w| w.len() == n && w.iter().all(|v| v.is_finite() && *v > 0.0));
    if times.windows(2).any(|pair| pair[1] < pair[0]) || !weights_fit {
        return None;
    }
    let span = times[n - 1] - times[0];
    let gaps: Vec<f64> = times.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let spacing = descriptive::median(&gaps)?.max(span / count(n) / 10.0);
    if !(spacing > 0.0) {
        return None;
    }
    let problem = Problem { columns, y, gaps: &gaps, samples };
    let white = problem.evaluate(Errors { log_time: spacing.ln(), logit_white: f64::INFINITY })?;
    let (low, high) = ((spacing * 0.3).ln(), (span.max(spacing) * 0.7).ln());
    let best = problem.search(low, high, white);
    Some(problem.conclude(best))
}

/// The error model's two unknowns on scales without ends.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Errors {
    log_time: f64,
    /// ln(s/(1 − s)) of the white share s; +inf for white errors only.
    logit_white: f64,
}

impl Errors {
    fn white_share(self) -> f64 {
        1.0 / (1.0 + (-self.logit_white).exp())
    }
}

/// One evaluation: the fit under one error model, and how well that model explains the data.
#[derive(Clone)]
struct Evaluation {
    errors: Errors,
    fit: Fit,
    /// −2 ln restricted likelihood, up to a constant.
    deviance: f64,
}

struct Problem<'a> {
    columns: &'a [&'a [f64]],
    y: &'a [f64],
    gaps: &'a [f64],
    samples: Option<&'a [f64]>,
}

/// The white share stays within e^±7 of even odds; beyond it nothing changes any more.
const LOGIT_LIMIT: f64 = 7.0;

impl Problem<'_> {
    fn evaluate(&self, errors: Errors) -> Option<Evaluation> {
        let n = self.y.len();
        let p = self.columns.len();
        let mut data = Vec::with_capacity(n * p);
        self.columns.iter().for_each(|column| data.extend_from_slice(column));
        let mut target = self.y.to_vec();
        let log_variance = self.whiten(errors, &mut data, &mut target);
        let degrees = count(n - p);
        let factors = Qr::new(n, data)?;
        let log_information = factors.log_determinant_of_gram();
        let fit = regression::solve(&factors, target, degrees)?;
        let variance = (fit.residual_sum_of_squares / degrees).max(f64::MIN_POSITIVE);
        let deviance = degrees * variance.ln() + log_variance + log_information;
        deviance.is_finite().then_some(Evaluation { errors, fit, deviance })
    }

    /// Divides out the correlation, for errors of total variance one; returns ln det V.
    fn whiten(&self, errors: Errors, data: &mut [f64], target: &mut [f64]) -> f64 {
        let n = target.len();
        let white = errors.white_share();
        let slow = 1.0 - white;
        let time = errors.log_time.exp();
        let mut gains = Vec::with_capacity(n);
        let mut log_variance = 0.0;
        let mut spread = slow;
        let (mut last_gap, mut last_decay) = (f64::NAN, 0.0);
        for i in 0..n {
            let noise = self.samples.map_or(white, |samples| white / samples[i]);
            let total = (spread + noise).max(1e-12);
            let gain = spread / total;
            let gap = self.gaps.get(i).copied().unwrap_or(0.0);
            if gap != last_gap {
                (last_gap, last_decay) = (gap, (-gap / time).exp());
            }
            gains.push((gain, last_decay, 1.0 / total.sqrt()));
            log_variance += total.ln();
            spread = last_decay * last_decay * spread * (1.0 - gain)
                + (1.0 - last_decay * last_decay) * slow;
        }
        for series in data.chunks_mut(n).chain(std::iter::once(target)) {
            let mut expected = 0.0;
            for (value, (gain, decay, scale)) in series.iter_mut().zip(&gains) {
                let surprise = *value - expected;
                expected = decay * (expected + gain * surprise);
                *value = surprise * scale;
            }
        }
        log_variance
    }

    /// A coarse grid, then a compass search from its best point.
    fn search(&self, low: f64, high: f64, white: Evaluation) -> Evaluation {
        const TIMES: u32 = 7;
        let mut best = white;
        for i in 0..TIMES {
            let log_time = low + (high - low) * f64::from(i) / f64::from(TIMES - 1);
            for logit_white in [-LOGIT_LIMIT, -1.0, 1.5] {
                self.improve(&mut best, Errors { log_time, logit_white });
            }
        }
        if best.errors.logit_white.is_infinite() {
            return best;
        }
        let (mut time_step, mut white_step) = ((high - low) / 12.0, 1.2);
        while time_step > 0.04 {
            let from = best.errors;
            let mut moved = false;
            for (a, b) in [(1.0, 0.0), (-1.0, 0.0), (0.0, 1.0), (0.0, -1.0)] {
                let errors = Errors {
                    log_time: (from.log_time + a * time_step).clamp(low, high),
                    logit_white: (from.logit_white + b * white_step)
                        .clamp(-LOGIT_LIMIT, LOGIT_LIMIT),
                };
                moved |= errors != from && self.improve(&mut best, errors);
            }
            if !moved {
                time_step *= 0.4;
                white_step *= 0.4;
            }
        }
        best
    }

    fn improve(&self, best: &mut Evaluation, errors: Errors) -> bool {
        match self.evaluate(errors) {
            Some(candidate) if candidate.deviance < best.deviance - 1e-9 => {
                *best = candidate;
                true
            }
            _ => false,
        }
    }

    /// Degrees of freedom by Satterthwaite's rule from the curvature of the likelihood, with a wide
    /// prior on both unknowns so that an undetermined one does no harm.
    fn conclude(&self, best: Evaluation) -> CorrelatedFit {
        let p = self.columns.len();
        let residual_degrees = best.fit.degrees_of_freedom;
        let mut degrees = vec![residual_degrees; p];
        if best.errors.logit_white.is_finite() {
            let steps = [0.25, 0.5];
            let at = |a: f64, b: f64| {
                self.evaluate(Errors {
                    log_time: best.errors.log_time + a * steps[0],
                    logit_white: best.errors.logit_white + b * steps[1],
                })
            };
            let around = [at(1.0, 0.0), at(-1.0, 0.0), at(0.0, 1.0), at(0.0, -1.0), at(1.0, 1.0)];
            if let [Some(ap), Some(am), Some(bp), Some(bm), Some(both)] = &around {
                let centre = best.deviance;
                // Half the curvature of the deviance is the information.
                let mut aa =
                    (ap.deviance - 2.0 * centre + am.deviance) / (2.0 * steps[0] * steps[0]);
                let mut bb =
                    (bp.deviance - 2.0 * centre + bm.deviance) / (2.0 * steps[1] * steps[1]);
                let ab = (both.deviance - ap.deviance - bp.deviance + centre)
                    / (2.0 * steps[0] * steps[1]);
                aa = aa.max(0.0) + PRIOR_INFORMATION;
                bb = bb.max(0.0) + PRIOR_INFORMATION;
                let ab = ab.clamp(-0.95 * (aa * bb).sqrt(), 0.95 * (aa * bb).sqrt());
                if let Some(spread) = inverse_positive(&[vec![aa, ab], vec![ab, bb]]) {
                    for (k, degrees) in degrees.iter_mut().enumerate() {
                        let log_of = |e: &Evaluation| e.fit.covariance[k][k].ln();
                        let slope = [
                            (log_of(ap) - log_of(am)) / (2.0 * steps[0]),
                            (log_of(bp) - log_of(bm)) / (2.0 * steps[1]),
                        ];
                        let from_model: f64 = (0..2)
                            .flat_map(|i| (0..2).map(move |j| (i, j)))
                            .map(|(i, j)| slope[i] * spread[i][j] * slope[j])
                            .sum();
                        *degrees = 2.0 / (2.0 / residual_degrees + from_model.max(0.0));
                        *degrees = degrees.clamp(1.0, residual_degrees);
                    }
                }
            }
        }
        let effective_size = self.effective_size(best.errors).min(count(self.y.len()));
        CorrelatedFit {
            degrees_of_freedom: degrees,
            correlation_time: best.errors.log_time.exp(),
            white_share: best.errors.white_share(),
            effective_size,
            fit: best.fit,
        }
    }

    /// 1'V⁻¹1 for errors of total variance one.
    fn effective_size(&self, errors: Errors) -> f64 {
        let mut ones = vec![1.0; self.y.len()];
        self.whiten(errors, &mut [], &mut ones);
        ones.iter().map(|value| value * value).sum()
    }
}

/// A prior standard deviation of 2 on each log scale.
const PRIOR_INFORMATION: f64 = 0.25;
