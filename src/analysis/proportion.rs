//! Bounds of a proportion from `successes` in `trials`.

use super::{Bounded, count, distribution};

/// Wilson's (1927) score bounds at the given confidence. `None` for more successes than trials, no
/// trials, or a confidence outside (0, 1).
pub fn wilson(successes: usize, trials: usize, confidence: f64) -> Option<Bounded> {
    let (value, n) = share(successes, trials, confidence)?;
    let z = distribution::normal_quantile(0.5 + confidence / 2.0);
    let centre = (value + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (value * (1.0 - value) / n + z * z / (4.0 * n * n)).sqrt();
    let low = if successes == 0 { 0.0 } else { (centre - half).max(0.0) };
    let high = if successes == trials { 1.0 } else { (centre + half).min(1.0) };
    Some(Bounded { value, low, high })
}

/// Clopper and Pearson's (1934) bounds, which never cover less than they say.
pub fn clopper_pearson(successes: usize, trials: usize, confidence: f64) -> Option<Bounded> {
    let (value, _) = share(successes, trials, confidence)?;
    let tail = (1.0 - confidence) / 2.0;
    let (k, rest) = (count(successes), count(trials - successes));
    let low = if successes == 0 { 0.0 } else { distribution::beta_quantile(tail, k, rest + 1.0) };
    let high = if successes == trials {
        1.0
    } else {
        distribution::beta_quantile(1.0 - tail, k + 1.0, rest)
    };
    Some(Bounded { value, low, high })
}

/// Bounds of the beta posterior under Jeffreys' prior.
pub fn jeffreys(successes: usize, trials: usize, confidence: f64) -> Option<Bounded> {
    let (value, _) = share(successes, trials, confidence)?;
    let tail = (1.0 - confidence) / 2.0;
    let (a, b) = (count(successes) + 0.5, count(trials - successes) + 0.5);
    let low = distribution::beta_quantile(tail, a, b);
    Some(Bounded { value, low, high: distribution::beta_quantile(1.0 - tail, a, b) })
}

fn share(successes: usize, trials: usize, confidence: f64) -> Option<(f64, f64)> {
    let sensible = trials > 0 && successes <= trials && confidence > 0.0 && confidence < 1.0;
    sensible.then(|| (count(successes) / count(trials), count(trials)))
}
