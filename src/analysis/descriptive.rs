//! Mean, spread, order statistics and autocorrelation of a series.
//!
//! A series with a value that is not finite has none of these: every function gives `None`.

use super::distribution::MAD_TO_SD;
use super::{all_finite, count};

/// Arithmetic mean, with a second pass over the residuals so that a large common offset costs no
/// digits.
pub fn mean(values: &[f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let n = count(values.len());
    let first = values.iter().sum::<f64>() / n;
    let second = first + values.iter().map(|value| value - first).sum::<f64>() / n;
    second.is_finite().then_some(second)
}

/// Variance with divisor n − 1; needs two values.
pub fn variance(values: &[f64]) -> Option<f64> {
    if values.len() < 2 {
        return None;
    }
    let centre = mean(values)?;
    let (mut squares, mut sum) = (0.0, 0.0);
    for value in values {
        let deviation = value - centre;
        squares += deviation * deviation;
        sum += deviation;
    }
    let n = count(values.len());
    // The correction removes what rounding of the mean added (Chan, Golub & LeVeque 1983).
    let variance = (squares - sum * sum / n) / (n - 1.0);
    variance.is_finite().then_some(variance.max(0.0))
}

/// Standard deviation with divisor n − 1; needs two values.
pub fn standard_deviation(values: &[f64]) -> Option<f64> {
    variance(values).map(f64::sqrt)
}

/// Mean and variance of a growing series without storing it (Welford 1962).
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Running {
    n: usize,
    mean: f64,
    squares: f64,
}

impl Running {
    /// Takes in one more value; a value that is not finite is left out.
    pub fn push(&mut self, value: f64) {
        if !value.is_finite() {
            return;
        }
        self.n += 1;
        let before = value - self.mean;
        self.mean += before / count(self.n);
        self.squares += before * (value - self.mean);
    }

    /// How many values were taken in.
    pub fn len(&self) -> usize {
        self.n
    }

    /// Whether no value was taken in yet.
    pub fn is_empty(&self) -> bool {
        self.n == 0
    }

    /// Mean of the values so far.
    pub fn mean(&self) -> Option<f64> {
        (self.n > 0).then_some(self.mean)
    }

    /// Standard deviation (n − 1) of the values so far.
    pub fn standard_deviation(&self) -> Option<f64> {
        (self.n > 1).then(|| (self.squares / (count(self.n) - 1.0)).max(0.0).sqrt())
    }
}

/// The middle value; of two middle values their mean. O(n).
pub fn median(values: &[f64]) -> Option<f64> {
    let mut copy = values.to_vec();
    median_in_place(&mut copy)
}

/// As [`median`], but reorders the slice instead of copying it.
pub fn median_in_place(values: &mut [f64]) -> Option<f64> {
    let n = values.len();
    if n == 0 || !all_finite(values) {
        return None;
    }
    let (below, middle, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    let upper = *middle;
    if n % 2 == 1 {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(lower + (upper - lower) / 2.0)
}

/// Median absolute deviation from the median, times 1.4826: a standard deviation that a few wild
/// values cannot move (Hampel 1974).
pub fn median_absolute_deviation(values: &[f64]) -> Option<f64> {
    let mut copy = values.to_vec();
    let centre = median_in_place(&mut copy)?;
    for value in &mut copy {
        *value = (*value - centre).abs();
    }
    Some(median_in_place(&mut copy)? * MAD_TO_SD)
}

/// The quantile at `share` (0 to 1), interpolated linearly between order statistics (Hyndman &
/// Fan's type 7).
pub fn quantile(values: &[f64], share: f64) -> Option<f64> {
    if values.is_empty() || !all_finite(values) || !(0.0..=1.0).contains(&share) {
        return None;
    }
    let mut copy = values.to_vec();
    let position = share * (count(copy.len()) - 1.0);
    let index = position.floor() as usize;
    let (_, at, above) = copy.select_nth_unstable_by(index, f64::total_cmp);
    let lower = *at;
    let upper = above.iter().copied().fold(f64::INFINITY, f64::min);
    let rest = position - position.floor();
    Some(if rest > 0.0 && upper.is_finite() { lower + rest * (upper - lower) } else { lower })
}

/// Mean of what is left when `share` of the values is cut off at each end.
pub fn trimmed_mean(values: &[f64], share: f64) -> Option<f64> {
    if values.is_empty() || !all_finite(values) || !(0.0..0.5).contains(&share) {
        return None;
    }
    let mut sorted = values.to_vec();
    sorted.sort_unstable_by(f64::total_cmp);
    let cut = (share * count(sorted.len())).floor() as usize;
    mean(sorted.get(cut..sorted.len() - cut)?)
}

/// Autocorrelation at lag one, in the time-series definition (one mean, full-length denominator).
/// `None` for a constant series.
pub fn lag_one_autocorrelation(values: &[f64]) -> Option<f64> {
    autocorrelation(values, 1)?.get(1).copied()
}

/// Autocorrelations at lags 0 to `max_lag` (biased: divided by the sum of all squares).
/// `None` for a constant series or one not longer than `max_lag`.
pub fn autocorrelation(values: &[f64], max_lag: usize) -> Option<Vec<f64>> {
    if values.len() <= max_lag || !all_finite(values) {
        return None;
    }
    let centre = mean(values)?;
    let centred: Vec<f64> = values.iter().map(|value| value - centre).collect();
    let total: f64 = centred.iter().map(|value| value * value).sum();
    // A constant series leaves only the rounding of its mean.
    let rounding = f64::EPSILON * centre.abs();
    if total <= count(values.len()) * rounding * rounding {
        return None;
    }
    Some(
        (0..=max_lag)
            .map(|lag| centred.iter().zip(&centred[lag..]).map(|(a, b)| a * b).sum::<f64>() / total)
            .collect(),
    )
}
