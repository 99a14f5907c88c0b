//! Linear least squares with covariance, by orthogonal factors; a straight line; Theil and Sen's
//! robust slope.
//!
//! A column of ones must be given where an intercept is wanted: nothing is added silently.

use super::linear_algebra::Qr;
use super::{Bounded, all_finite, count, descriptive, distribution};

/// A fitted linear model.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// One coefficient per column, in the columns' order.
    pub coefficients: Vec<f64>,
    /// Covariance of the coefficients, already multiplied by the residual variance.
    pub covariance: Vec<Vec<f64>>,
    /// Square root of the (weighted) residual sum of squares over the degrees of freedom.
    pub residual_sd: f64,
    /// (Weighted) residual sum of squares.
    pub residual_sum_of_squares: f64,
    /// Observations less coefficients.
    pub degrees_of_freedom: f64,
}

impl Fit {
    /// Standard error of coefficient `index`; NaN for an index without a coefficient.
    pub fn standard_error(&self, index: usize) -> f64 {
        self.covariance.get(index).and_then(|row| row.get(index)).map_or(f64::NAN, |v| v.sqrt())
    }

    /// Coefficient `index` with its 95 % bounds under Student's t.
    pub fn bounds(&self, index: usize) -> Bounded {
        let value = self.coefficients.get(index).copied().unwrap_or(f64::NAN);
        let t = distribution::student_quantile(0.975, self.degrees_of_freedom);
        Bounded::symmetric(value, t * self.standard_error(index))
    }

    /// The model's value at one row of the columns.
    pub fn predict(&self, row: &[f64]) -> f64 {
        self.coefficients.iter().zip(row).map(|(b, x)| b * x).sum()
    }

    /// Standard error of the linear combination `row` of the coefficients.
    pub fn standard_error_of(&self, row: &[f64]) -> f64 {
        let variance: f64 = self
            .covariance
            .iter()
            .zip(row)
            .map(|(line, a)| a * line.iter().zip(row).map(|(c, b)| c * b).sum::<f64>())
            .sum();
        variance.max(0.0).sqrt()
    }
}

/// Ordinary least squares of `y` on `columns`. `None` if lengths differ, a value is not finite,
/// there are no more rows than columns, or the columns depend on each other.
pub fn ordinary(columns: &[&[f64]], y: &[f64]) -> Option<Fit> {
    weighted(columns, y, None)
}

/// Least squares with weights proportional to 1/variance (known up to one factor, which the
/// residuals give). A zero weight leaves a row out of the fit and of the degrees of freedom.
pub fn weighted(columns: &[&[f64]], y: &[f64], weights: Option<&[f64]>) -> Option<Fit> {
    let rows = y.len();
    let p = columns.len();
    if p == 0 || columns.iter().any(|column| column.len() != rows || !all_finite(column)) {
        return None;
    }
    if !all_finite(y) {
        return None;
    }
    let roots = match weights {
        None => None,
        Some(weights) => {
            let usable = weights.iter().all(|weight| *weight >= 0.0 && weight.is_finite());
            if weights.len() != rows || !usable {
                return None;
            }
            Some(weights.iter().map(|weight| weight.sqrt()).collect::<Vec<f64>>())
        }
    };
    let used = roots.as_ref().map_or(rows, |roots| roots.iter().filter(|r| **r > 0.0).count());
    if used <= p {
        return None;
    }
    let mut data = Vec::with_capacity(rows * p);
    let mut target = y.to_vec();
    match &roots {
        None => columns.iter().for_each(|column| data.extend_from_slice(column)),
        Some(roots) => {
            for column in columns {
                data.extend(column.iter().zip(roots).map(|(x, root)| x * root));
            }
            target.iter_mut().zip(roots).for_each(|(value, root)| *value *= root);
        }
    }
    solve(&Qr::new(rows, data)?, target, count(used - p))
}

/// Solves an already factored system; the heart of every linear fit here.
pub(super) fn solve(factors: &Qr, mut target: Vec<f64>, degrees_of_freedom: f64) -> Option<Fit> {
    factors.rotate(&mut target);
    let p = factors.columns();
    let coefficients = factors.solve(&target);
    let residual_sum_of_squares: f64 = target[p..].iter().map(|value| value * value).sum();
    let variance = residual_sum_of_squares / degrees_of_freedom;
    let mut covariance = factors.inverse_gram();
    covariance.iter_mut().flatten().for_each(|value| *value *= variance);
    let finite = all_finite(&coefficients) && covariance.iter().all(|row| all_finite(row));
    (finite && variance.is_finite()).then_some(Fit {
        coefficients,
        covariance,
        residual_sd: variance.sqrt(),
        residual_sum_of_squares,
        degrees_of_freedom,
    })
}

/// Least standard error that any unbiased estimator of the first column's coefficient can have, the
/// other columns' coefficients being unknown too and the noise normal with deviation `noise`: the
/// Cramér–Rao bound. `None` if the columns do not determine it.
pub fn cramer_rao_bound(columns: &[&[f64]], noise: f64) -> Option<f64> {
    let rows = columns.first()?.len();
    let factors = Qr::new(rows, columns.concat())?;
    Some(noise * factors.inverse_gram().first()?.first()?.max(0.0).sqrt())
}

/// What the fit leaves: `y` less the model.
pub fn residuals(columns: &[&[f64]], y: &[f64], coefficients: &[f64]) -> Vec<f64> {
    let mut rest = y.to_vec();
    for (column, coefficient) in columns.iter().zip(coefficients) {
        rest.iter_mut().zip(*column).for_each(|(value, x)| *value -= coefficient * x);
    }
    rest
}

/// Intercept and slope of a straight line, in that order of coefficients. The intercept is the
/// value at x = 0.
pub fn line(x: &[f64], y: &[f64]) -> Option<Fit> {
    let ones = vec![1.0; x.len()];
    ordinary(&[&ones, x], y)
}

/// Share of the variance about the mean that a fit explains; `None` for a constant `y`.
pub fn r_squared(y: &[f64], residual_sum_of_squares: f64) -> Option<f64> {
    let total = descriptive::variance(y)? * (count(y.len()) - 1.0);
    (total > 0.0).then(|| 1.0 - residual_sum_of_squares / total)
}

/// More points than this are first reduced to block medians: the pairs grow with the square.
const MOST_POINTS_FOR_PAIRS: usize = 600;

/// The median of the slopes between all pairs of points, with Sen's distribution-free 95 % bounds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RobustLine {
    /// Slope, y per x.
    pub slope: Bounded,
    /// median(y) − slope · median(x).
    pub intercept: f64,
}

/// Theil (1950) and Sen (1968), with ties handled as in Sen's variance. Pairs of equal x are left
/// out. `None` if fewer than two different x remain.
pub fn theil_sen(x: &[f64], y: &[f64]) -> Option<RobustLine> {
    if x.len() != y.len() || x.len() < 2 || !all_finite(x) || !all_finite(y) {
        return None;
    }
    let size = x.len().div_ceil(MOST_POINTS_FOR_PAIRS);
    let reduce = |values: &[f64]| -> Vec<f64> {
        values.chunks(size).filter_map(descriptive::median).collect()
    };
    let (x, y) = (reduce(x), reduce(y));
    let n = x.len();
    let mut slopes = Vec::with_capacity(n * (n - 1) / 2);
    for i in 0..n {
        for j in 0..i {
            let run = x[i] - x[j];
            if run != 0.0 {
                slopes.push((y[i] - y[j]) / run);
            }
        }
    }
    if slopes.is_empty() || !all_finite(&slopes) {
        return None;
    }
    slopes.sort_unstable_by(f64::total_cmp);
    let slope = descriptive::median(&slopes)?;
    let pairs = count(slopes.len());
    let sd = ((kendall_ties(n) - tie_sum(&x) - tie_sum(&y)) / 18.0).max(0.0).sqrt();
    let z = distribution::normal_quantile(0.975);
    let at = |rank: f64| -> f64 {
        let index = rank.clamp(0.0, pairs - 1.0) as usize;
        slopes[index]
    };
    // Ranks as Sen gives them, rounded to the nearest pair (as the published check values do).
    let high = at((0.5 * (pairs + z * sd)).round_ties_even().min(pairs - 1.0));
    let low = at((0.5 * (pairs - z * sd)).round_ties_even() - 1.0);
    let intercept = descriptive::median(&y)? - slope * descriptive::median(&x)?;
    Some(RobustLine { slope: Bounded { value: slope, low, high }, intercept })
}

fn kendall_ties(n: usize) -> f64 {
    let n = count(n);
    n * (n - 1.0) * (2.0 * n + 5.0)
}

/// Sum of k (k − 1) (2k + 5) over groups of k equal values.
fn tie_sum(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    sorted.chunk_by(|a, b| a == b).map(|group| kendall_ties(group.len())).sum()
}
