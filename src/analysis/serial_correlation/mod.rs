//! Errors that remember: how many samples they are worth, and covariances that say so.

mod continuous;

pub use continuous::{CorrelatedFit, fit};

use super::linear_algebra::{self, Qr};
use super::{all_finite, count, descriptive, distribution};

/// Effective number of independent samples behind the mean of `n` samples of an AR(1) series with
/// lag-one correlation `r` (Bartlett 1935): n (1 − r)/(1 + r), at most `n` and at least 1.
pub fn effective_size(n: usize, r: f64) -> f64 {
    effective_pairs(n, r, 1.0)
}

/// Effective number of pairs behind a correlation of two AR(1) series (Bartlett 1935; Bretherton
/// et al. 1999): n (1 − r₁ r₂)/(1 + r₁ r₂), at most `n` and at least 1.
pub fn effective_pairs(n: usize, r1: f64, r2: f64) -> f64 {
    let product = r1 * r2;
    let n = count(n);
    if product.is_nan() || product <= -1.0 {
        return n;
    }
    (n * (1.0 - product) / (1.0 + product)).clamp(1.0_f64.min(n), n)
}

/// Effective number of pairs from the sample autocorrelations of both series up to n/5 (Pyper &
/// Peterman 1998), with the triangular taper that Bretherton's two-sided sum implies; at most `n`.
/// `None` for constant or too short series.
pub fn effective_pairs_of(x: &[f64], y: &[f64]) -> Option<f64> {
    let n = x.len();
    let most = n / 5;
    if n != y.len() || most == 0 {
        return None;
    }
    let (of_x, of_y) =
        (descriptive::autocorrelation(x, most)?, descriptive::autocorrelation(y, most)?);
    let total = count(n);
    let sum: f64 = (1..=most).map(|lag| (total - count(lag)) / total * of_x[lag] * of_y[lag]).sum();
    let inverse = (1.0 + 2.0 * sum) / total;
    Some(if inverse > 1.0 / total { (1.0 / inverse).max(1.0) } else { total })
}

/// Durbin and Watson's statistic: near 2 without correlation at lag one, near 0 with a strong
/// positive one. `None` where all residuals are zero.
pub fn durbin_watson(residuals: &[f64]) -> Option<f64> {
    let total: f64 = residuals.iter().map(|value| value * value).sum();
    let steps: f64 = residuals.windows(2).map(|pair| (pair[1] - pair[0]).powi(2)).sum();
    (total > 0.0 && residuals.len() > 1).then(|| steps / total).filter(|value| value.is_finite())
}

/// Ljung and Box's portmanteau statistic over lags 1 to `lags`, with its probability when there is
/// no correlation.
pub fn ljung_box(values: &[f64], lags: usize) -> Option<(f64, f64)> {
    let correlations = descriptive::autocorrelation(values, lags)?;
    let n = count(values.len());
    let sum: f64 = (1..=lags).map(|lag| correlations[lag].powi(2) / (n - count(lag))).sum();
    let statistic = n * (n + 2.0) * sum;
    Some((statistic, distribution::chi_squared_survival(statistic, count(lags))))
}

/// Bartlett-kernel bandwidth in samples by Andrews' (1991) AR(1) rule, 1.1447 (α n)^(1/3) with
/// α = 4r²/((1 − r)² (1 + r)²); never below Newey and West's 4 (n/100)^(2/9) + 1 and never beyond
/// a third of the series. A bandwidth of L + 1 samples is the kernel with L lags.
pub fn automatic_bandwidth(residuals: &[f64]) -> f64 {
    let n = count(residuals.len());
    let r = descriptive::lag_one_autocorrelation(residuals).unwrap_or(0.0).clamp(-0.97, 0.97);
    let alpha = 4.0 * r * r / ((1.0 - r).powi(2) * (1.0 + r).powi(2));
    let andrews = 1.1447 * (alpha * n).cbrt();
    let least = (4.0 * (n / 100.0).powf(2.0 / 9.0)).floor() + 1.0;
    andrews.max(least).min((n / 3.0).max(1.0))
}

/// Heteroskedasticity- and autocorrelation-consistent covariance of least-squares coefficients
/// (Newey & West 1987) with the Bartlett kernel over *time*: a pair of samples `d` seconds apart
/// counts 1 − d/`bandwidth`. Without `times` the samples' numbers serve as times, and a bandwidth
/// of L + 1 is the usual kernel with L lags. Without `bandwidth` the AR(1) rule sets it.
///
/// No small-sample factor is applied. O(n p²) for any bandwidth. `None` if lengths differ, a value
/// is not finite, times decrease, or columns depend on each other.
pub fn hac_covariance(
    columns: &[&[f64]],
    residuals: &[f64],
    times: Option<&[f64]>,
    bandwidth: Option<f64>,
) -> Option<Vec<Vec<f64>>> {
    let n = residuals.len();
    let p = columns.len();
    let fits = columns.iter().all(|column| column.len() == n && all_finite(column));
    if n == 0 || p == 0 || !fits || !all_finite(residuals) {
        return None;
    }
    let numbers: Vec<f64>;
    let times = match times {
        Some(times) => times,
        None => {
            numbers = (0..n).map(count).collect();
            &numbers
        }
    };
    if times.len() != n || !all_finite(times) || times.windows(2).any(|pair| pair[1] < pair[0]) {
        return None;
    }
    let spacing = if n > 1 { (times[n - 1] - times[0]) / count(n - 1) } else { 1.0 };
    let bandwidth = bandwidth.unwrap_or_else(|| automatic_bandwidth(residuals) * spacing);
    let bread = Qr::new(n, columns.concat())?.inverse_gram();
    let filling = kernel_sum(columns, residuals, times, bandwidth);
    Some(linear_algebra::sandwich(&bread, &filling))
}

/// Σᵢⱼ k(tᵢ − tⱼ) gᵢ gⱼ' for the scores g = x e. The triangle is linear in time, so sliding sums of
/// g and t·g give every row at once.
fn kernel_sum(
    columns: &[&[f64]],
    residuals: &[f64],
    times: &[f64],
    bandwidth: f64,
) -> Vec<Vec<f64>> {
    let p = columns.len();
    let start = times[0];
    let mut total = vec![vec![0.0; p]; p];
    let (mut sum, mut moment) = (vec![0.0; p], vec![0.0; p]);
    let (mut here, mut window) = (vec![0.0; p], vec![0.0; p]);
    let mut oldest = 0;
    for (i, residual) in residuals.iter().enumerate() {
        let now = times[i] - start;
        while oldest < i && now - (times[oldest] - start) >= bandwidth {
            let then = times[oldest] - start;
            for k in 0..p {
                let score = columns[k][oldest] * residuals[oldest];
                sum[k] -= score;
                moment[k] -= then * score;
            }
            oldest += 1;
        }
        if oldest == i {
            // An empty window: drop the rounding that the sliding left behind.
            sum.fill(0.0);
            moment.fill(0.0);
        }
        for k in 0..p {
            here[k] = columns[k][i] * residual;
            window[k] = if oldest == i {
                0.0
            } else {
                (1.0 - now / bandwidth) * sum[k] + moment[k] / bandwidth
            };
        }
        for a in 0..p {
            for b in 0..p {
                total[a][b] += here[a] * here[b] + here[a] * window[b] + window[a] * here[b];
            }
        }
        for k in 0..p {
            sum[k] += here[k];
            moment[k] += now * here[k];
        }
    }
    total
}
