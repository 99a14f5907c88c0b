//! Odds: hypotheses weighed by evidence, on logarithms so that nothing underflows.

use statrs::function::gamma::ln_gamma;

/// ln Σ exp(xᵢ), safe for any size; −∞ for an empty list.
pub fn log_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most.is_infinite() {
        return most;
    }
    most + logs.iter().map(|log| (log - most).exp()).sum::<f64>().ln()
}

/// Posterior probabilities from prior weights (not necessarily summing to one) and log
/// likelihoods. `None` when lengths differ, a value is NaN, or every hypothesis is impossible.
pub fn posterior(priors: &[f64], log_likelihoods: &[f64]) -> Option<Vec<f64>> {
    let sensible = priors.len() == log_likelihoods.len()
        && priors.iter().all(|prior| *prior >= 0.0 && prior.is_finite())
        && log_likelihoods.iter().all(|log| !log.is_nan() && *log < f64::INFINITY);
    if !sensible {
        return None;
    }
    let logs: Vec<f64> =
        priors.iter().zip(log_likelihoods).map(|(prior, log)| prior.ln() + log).collect();
    let total = log_sum(&logs);
    total.is_finite().then(|| logs.iter().map(|log| (log - total).exp()).collect())
}

/// Probability of a condition after a positive and after a negative test.
pub fn after_test(prior: f64, sensitivity: f64, specificity: f64) -> (f64, f64) {
    let positive = prior * sensitivity;
    let negative = prior * (1.0 - sensitivity);
    (
        positive / (positive + (1.0 - prior) * (1.0 - specificity)),
        negative / (negative + (1.0 - prior) * specificity),
    )
}

/// Shannon's entropy of a distribution, in bits.
pub fn entropy(probabilities: &[f64]) -> f64 {
    probabilities.iter().filter(|p| **p > 0.0).map(|p| -p * p.log2()).sum()
}

/// Log density of a normal.
pub fn log_normal(x: f64, mean: f64, sd: f64) -> f64 {
    let z = (x - mean) / sd;
    -0.5 * z * z - sd.ln() - 0.5 * (2.0 * std::f64::consts::PI).ln()
}

/// Log density of Student's t with location and scale: a likelihood with heavy tails, for a measure
/// that is sometimes far off.
pub fn log_student(x: f64, location: f64, scale: f64, degrees: f64) -> f64 {
    let z = (x - location) / scale;
    ln_gamma((degrees + 1.0) / 2.0)
        - ln_gamma(degrees / 2.0)
        - 0.5 * (degrees * std::f64::consts::PI).ln()
        - scale.ln()
        - (degrees + 1.0) / 2.0 * (z * z / degrees).ln_1p()
}
