//! Linear regression that a few wild samples cannot move: iteratively reweighted least squares with
//! Huber's or Tukey's weights, scale from the median absolute residual.

use super::linear_algebra::Qr;
use super::{count, descriptive, regression};

/// How the weight of a sample falls with its residual.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weighting {
    /// Full up to 1.345 deviations, then falling as 1/residual (Huber 1964): 95 % efficient.
    Huber,
    /// Falling smoothly to nothing at 4.685 deviations (Tukey's biweight): 95 % efficient.
    Biweight,
}

impl Weighting {
    fn weight(self, z: f64) -> f64 {
        match self {
            Self::Huber if z.abs() <= HUBER => 1.0,
            Self::Huber => HUBER / z.abs(),
            Self::Biweight if z.abs() < BIWEIGHT => (1.0 - (z / BIWEIGHT).powi(2)).powi(2),
            Self::Biweight => 0.0,
        }
    }

    /// Derivative of the influence, weight · z.
    fn slope(self, z: f64) -> f64 {
        match self {
            Self::Huber => f64::from(u8::from(z.abs() <= HUBER)),
            Self::Biweight if z.abs() < BIWEIGHT => {
                let share = (z / BIWEIGHT).powi(2);
                (1.0 - share) * (1.0 - 5.0 * share)
            }
            Self::Biweight => 0.0,
        }
    }
}

const HUBER: f64 = 1.345;
const BIWEIGHT: f64 = 4.685;

/// A robust fit.
#[derive(Clone, Debug, PartialEq)]
pub struct RobustFit {
    /// Coefficients with Huber's asymptotic covariance; `residual_sd` is the robust scale.
    pub fit: regression::Fit,
    /// Each sample's final weight, 0 to 1: near 0 for one that does not belong.
    pub weights: Vec<f64>,
}

/// Fits `y` on `columns`. The biweight starts from Huber's fit, so that it cannot settle on the
/// outliers. `None` where ordinary least squares would give none.
pub fn fit(columns: &[&[f64]], y: &[f64], weighting: Weighting) -> Option<RobustFit> {
    let mut coefficients = regression::ordinary(columns, y)?.coefficients;
    if weighting == Weighting::Biweight {
        coefficients = fit(columns, y, Weighting::Huber)?.fit.coefficients;
    }
    let p = columns.len();
    let n = y.len();
    let degrees = count(n - p);
    let mut weights = vec![1.0; n];
    let mut scale = 0.0;
    for _ in 0..50 {
        let residuals = regression::residuals(columns, y, &coefficients);
        scale = scale_of(&residuals)?;
        if scale == 0.0 {
            break;
        }
        for (weight, residual) in weights.iter_mut().zip(&residuals) {
            *weight = weighting.weight(residual / scale);
        }
        let Some(next) = regression::weighted(columns, y, Some(&weights)) else { break };
        let moved = (0..p).any(|k| {
            (next.coefficients[k] - coefficients[k]).abs() > 1e-4 * next.standard_error(k)
        });
        coefficients = next.coefficients;
        if !moved {
            break;
        }
    }
    let residuals = regression::residuals(columns, y, &coefficients);
    let variance = if scale == 0.0 { 0.0 } else { variance(weighting, &residuals, scale, p) };
    let mut covariance = Qr::new(n, columns.concat())?.inverse_gram();
    covariance.iter_mut().flatten().for_each(|value| *value *= variance);
    let squares = residuals.iter().zip(&weights).map(|(r, w)| w * r * r).sum();
    Some(RobustFit {
        fit: regression::Fit {
            coefficients,
            covariance,
            residual_sd: scale,
            residual_sum_of_squares: squares,
            degrees_of_freedom: degrees,
        },
        weights,
    })
}

/// Median absolute residual about zero, as a standard deviation; the plain one where more than half
/// of the residuals vanish.
fn scale_of(residuals: &[f64]) -> Option<f64> {
    let mut sizes: Vec<f64> = residuals.iter().map(|residual| residual.abs()).collect();
    let scale = descriptive::median_in_place(&mut sizes)? * super::distribution::MAD_TO_SD;
    Some(if scale > 0.0 { scale } else { descriptive::standard_deviation(residuals)? })
}

/// K² s² Σψ²/(n − p) / (mean ψ')² (Huber 1973).
fn variance(weighting: Weighting, residuals: &[f64], scale: f64, p: usize) -> f64 {
    let n = count(residuals.len());
    let z = || residuals.iter().map(|residual| residual / scale);
    let influence: f64 = z().map(|z| (weighting.weight(z) * z).powi(2)).sum();
    let slope = z().map(|z| weighting.slope(z)).sum::<f64>() / n;
    let spread = z().map(|z| (weighting.slope(z) - slope).powi(2)).sum::<f64>() / n;
    let correction = 1.0 + count(p) / n * spread / (slope * slope);
    let variance =
        correction * correction * scale * scale * influence / (n - count(p)) / (slope * slope);
    if variance.is_finite() { variance } else { f64::INFINITY }
}
