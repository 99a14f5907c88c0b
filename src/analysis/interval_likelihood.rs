//! Readings that were rounded to a step say "between these two values". Their likelihood, and the
//! mean and noise that make it largest.

use super::{Bounded, count, distribution, lag};

/// Log likelihood of readings rounded to `step` under a normal quantity; −∞ where a reading is
/// impossible. For many readings count the distinct ones first ([`Histogram`]).
pub fn log_likelihood(readings: &[f64], step: f64, mean: f64, sd: f64) -> f64 {
    readings.iter().map(|reading| log_interval(reading, step, mean, sd)).sum()
}

fn log_interval(reading: &f64, step: f64, mean: f64, sd: f64) -> f64 {
    let half = step / 2.0;
    log_between((reading - half - mean) / sd, (reading + half - mean) / sd)
}

/// ln(Φ(b) − Φ(a)) for a < b, exact in both tails.
pub fn log_between(a: f64, b: f64) -> f64 {
    if !(a < b) {
        return f64::NEG_INFINITY;
    }
    // In the tail that both ends share the difference keeps its digits.
    let (near, far) = if a > 0.0 { (a, b) } else { (-b, -a) };
    if near > 30.0 {
        // Φ's tail is density/x there; the far end no longer matters beside the near one.
        return -0.5 * near * near - (near * (2.0 * std::f64::consts::PI).sqrt()).ln()
            + (-(-0.5 * (far * far - near * near)).exp()).ln_1p();
    }
    if near > 0.0 {
        return (distribution::normal_survival(near) - distribution::normal_survival(far)).ln();
    }
    (1.0 - distribution::normal_survival(b) - distribution::normal_survival(-a)).ln()
}

/// Distinct readings with how often each was seen.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Histogram {
    entries: Vec<(f64, f64)>,
    total: f64,
}

impl Histogram {
    /// Counts readings; values that are not finite are left out. O(n log n).
    pub fn of(readings: &[f64]) -> Self {
        let mut sorted: Vec<f64> =
            readings.iter().copied().filter(|reading| reading.is_finite()).collect();
        sorted.sort_unstable_by(f64::total_cmp);
        let entries: Vec<(f64, f64)> =
            sorted.chunk_by(|a, b| a == b).map(|same| (same[0], count(same.len()))).collect();
        Self { entries, total: count(sorted.len()) }
    }

    /// Log likelihood of all counted readings.
    pub fn log_likelihood(&self, step: f64, mean: f64, sd: f64) -> f64 {
        self.entries.iter().map(|(reading, n)| n * log_interval(reading, step, mean, sd)).sum()
    }
}

/// Mean and noise behind rounded readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RoundedNormal {
    /// Mean before rounding, bounds by profile likelihood.
    pub mean: Bounded,
    /// Standard deviation before rounding, bounds by profile likelihood; the value is 0 where one
    /// reading was all that was seen.
    pub sd: Bounded,
}

/// Maximum likelihood of mean and standard deviation for readings rounded to `step`, with 95 %
/// profile bounds. Readings are taken as independent. `None` without finite readings or step.
pub fn fit(readings: &[f64], step: f64) -> Option<RoundedNormal> {
    let histogram = Histogram::of(readings);
    let (first, last) = (histogram.entries.first()?.0, histogram.entries.last()?.0);
    if !(step > 0.0 && step.is_finite()) {
        return None;
    }
    let n = histogram.total;
    let average = histogram.entries.iter().map(|(reading, n)| reading * n).sum::<f64>() / n;
    let squares = histogram.entries.iter().map(|(r, n)| (r - average).powi(2) * n).sum::<f64>() / n;
    let spread = (squares - step * step / 12.0).max(0.0).sqrt();
    if spread > FINE * step {
        return Some(of_moments(average, spread, n));
    }
    // Below a fiftieth of a step the noise leaves no trace; beyond this range nothing is likely.
    let (least, most) = ((step / 50.0).ln(), (4.0 * (last - first + step)).ln());
    let likelihood = |mean: f64, log_sd: f64| histogram.log_likelihood(step, mean, log_sd.exp());
    let (low_mean, high_mean) = (first - step / 2.0, last + step / 2.0);
    let best_sd = |mean: f64| -> (f64, f64) {
        let at = minimum(|log_sd| -likelihood(mean, log_sd), least, most);
        (at, likelihood(mean, at))
    };
    let best_mean = |log_sd: f64| -> (f64, f64) {
        let at = minimum(|mean| -likelihood(mean, log_sd), low_mean, high_mean);
        (at, likelihood(at, log_sd))
    };
    // Alternating from the moments: the two are nearly uncorrelated.
    let mut log_sd = spread.max(step / 50.0).ln().clamp(least, most);
    let mut mean = average.clamp(low_mean, high_mean);
    for _ in 0..6 {
        mean = best_mean(log_sd).0;
        log_sd = best_sd(mean).0;
    }
    let t = distribution::student_quantile(0.975, (n - 1.0).max(1.0));
    let threshold = likelihood(mean, log_sd) - t * t / 2.0;
    let outside_mean = |mean: f64| !(best_sd(mean).1 >= threshold);
    let outside_sd = |log_sd: f64| !(best_mean(log_sd).1 >= threshold);
    let edge = |outside: &dyn Fn(f64) -> bool, inside: f64, end: f64| {
        if outside(end) { lag::bisect(outside, inside, end) } else { end }
    };
    let silent = first == last;
    Some(RoundedNormal {
        mean: Bounded {
            value: mean,
            low: edge(&outside_mean, mean, low_mean),
            high: edge(&outside_mean, mean, high_mean),
        },
        sd: Bounded {
            value: if silent { 0.0 } else { log_sd.exp() },
            low: if outside_sd(least) { lag::bisect(outside_sd, log_sd, least).exp() } else { 0.0 },
            high: edge(&outside_sd, log_sd, most).exp(),
        },
    })
}

/// Noise of so many steps rounds its own rounding away: the moments lose nothing to the likelihood.
const FINE: f64 = 2.5;

/// Normal theory with Sheppard's correction already in `spread` (divisor n).
fn of_moments(average: f64, spread: f64, n: f64) -> RoundedNormal {
    let degrees = (n - 1.0).max(1.0);
    let sd = spread * (n / degrees).sqrt();
    let half = distribution::student_quantile(0.975, degrees) * sd / n.sqrt();
    let bound =
        |share: f64| sd * (degrees / distribution::chi_squared_quantile(share, degrees)).sqrt();
    RoundedNormal {
        mean: Bounded::symmetric(average, half),
        sd: Bounded { value: sd, low: bound(0.975), high: bound(0.025) },
    }
}

/// A minimum by a coarse scan and golden sections around its best point.
fn minimum(cost: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    const POINTS: u32 = 9;
    let width = (high - low) / f64::from(POINTS - 1);
    let best = (0..POINTS)
        .map(|i| low + f64::from(i) * width)
        .min_by(|a, b| cost(*a).total_cmp(&cost(*b)))
        .unwrap_or(low);
    lag::golden(cost, (best - width).max(low), (best + width).min(high))
}
