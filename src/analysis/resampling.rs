//! Bootstrap of dependent data: blocks of neighbours are drawn, so that what hangs together stays
//! together. Everything is seeded: the same data give the same bounds.

use super::{Bounded, all_finite, count, descriptive};

/// A small seeded generator (SplitMix64; Steele, Lea & Flood 2014), for resampling only: its
/// sequence is part of the results and must not change with a library.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Generator {
    state: u64,
}

impl Generator {
    /// A generator whose sequence depends on `seed` alone.
    pub fn new(seed: u64) -> Self {
        Self { state: seed }
    }

    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Uniform on [0, 1).
    pub fn uniform(&mut self) -> f64 {
        let bits = (self.next() >> 11) as f64;
        bits / 9_007_199_254_740_992.0
    }

    /// Standard normal (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.uniform()).ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }

    /// A whole number below `limit`; 0 for a limit of 0.
    pub fn below(&mut self, limit: usize) -> usize {
        let drawn = (self.uniform() * count(limit)) as usize;
        drawn.min(limit.saturating_sub(1))
    }
}

/// Block lengths, in samples, that serve the bootstrap of a mean best.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BlockLength {
    /// Mean length for the stationary bootstrap.
    pub stationary: f64,
    /// Length for the circular bootstrap.
    pub circular: f64,
}

/// Politis & White's (2004) automatic block length, as corrected by Patton, Politis & White (2009).
/// `None` for constant series or fewer than nine values.
pub fn block_length(values: &[f64]) -> Option<BlockLength> {
    let n = values.len();
    if n < 9 || !all_finite(values) {
        return None;
    }
    let total = count(n);
    let mean = descriptive::mean(values)?;
    let centred: Vec<f64> = values.iter().map(|value| value - mean).collect();
    let longest = (3.0 * total.sqrt()).min(total / 3.0).ceil();
    let run = 5_usize.max(whole(total.log10()));
    let most = (whole(total.sqrt().ceil()) + run).min(n - 2);
    let insignificant = 2.0 * (total.log10() / total).sqrt();
    let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
    let covariance: Vec<f64> =
        (0..=most).map(|lag| product(&centred[lag..], &centred) / total).collect();
    if !(covariance[0] > 0.0) {
        return None;
    }
    let correlation = |lag: usize| {
        let (late, early) = (&centred[lag + 1..], &centred[..n - lag - 1]);
        let scale = (product(late, late) * product(early, early)).sqrt();
        if scale > 0.0 { (covariance[lag] * total).abs() / scale } else { 0.0 }
    };
    // The first lag after which `run` correlations in a row mean nothing.
    let quiet: Vec<bool> = (0..=most).map(|lag| correlation(lag) < insignificant).collect();
    let found = (run..=most).find(|end| quiet[end - run..*end].iter().all(|quiet| *quiet));
    let lags = found.map_or(most, |end| 2 * (end - run).max(1)).min(most);
    let (mut slope, mut long_run) = (0.0, covariance[0]);
    for lag in 1..=lags {
        // The flat-top kernel: one up to half the lags, then falling to zero.
        let share = count(lag) / count(lags);
        let weight = if share <= 0.5 { 1.0 } else { 2.0 * (1.0 - share) };
        slope += 2.0 * weight * count(lag) * covariance[lag];
        long_run += 2.0 * weight * covariance[lag];
    }
    let length = |factor: f64| {
        (2.0 * slope * slope / (factor * long_run * long_run) * total).cbrt().clamp(1.0, longest)
    };
    Some(BlockLength { stationary: length(2.0), circular: length(4.0 / 3.0) })
        .filter(|length| length.stationary.is_finite() && length.circular.is_finite())
}

fn whole(value: f64) -> usize {
    value as usize
}

/// Indices of one stationary resample (Politis & Romano 1994): blocks of geometric length with the
/// given mean, wrapped around the end. Empty for an empty series.
pub fn stationary_indices(n: usize, mean_length: f64, generator: &mut Generator) -> Vec<usize> {
    let leave = 1.0 / mean_length.max(1.0);
    let mut index = generator.below(n);
    (0..n)
        .map(|i| {
            index = if i == 0 || generator.uniform() < leave {
                generator.below(n)
            } else {
                (index + 1) % n
            };
            index
        })
        .collect()
}

/// Indices of one circular resample (Politis & Romano 1992): blocks of one length, wrapped around
/// the end.
pub fn circular_indices(n: usize, length: usize, generator: &mut Generator) -> Vec<usize> {
    let length = length.max(1);
    let mut start = 0;
    (0..n)
        .map(|i| {
            if i % length == 0 {
                start = generator.below(n);
            }
            (start + i % length) % n
        })
        .collect()
}

/// 95 % percentile bounds of any statistic of a series of `n` samples, by `draws` stationary
/// resamples. `statistic` gets indices into the series; a draw it cannot use is left out. `None`
/// when the statistic of the series itself, or most draws, cannot be had.
pub fn bootstrap(
    n: usize,
    mean_length: f64,
    draws: usize,
    seed: u64,
    statistic: impl Fn(&[usize]) -> Option<f64>,
) -> Option<Bounded> {
    let itself: Vec<usize> = (0..n).collect();
    let value = statistic(&itself).filter(|value| value.is_finite())?;
    let mut generator = Generator::new(seed);
    let drawn: Vec<f64> = (0..draws)
        .map(|_| stationary_indices(n, mean_length, &mut generator))
        .filter_map(|indices| statistic(&indices))
        .filter(|value| value.is_finite())
        .collect();
    if drawn.len() < draws.div_ceil(2) {
        return None;
    }
    let low = descriptive::quantile(&drawn, 0.025)?;
    let high = descriptive::quantile(&drawn, 0.975)?;
    Some(Bounded { value, low, high })
}
