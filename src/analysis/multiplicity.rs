//! Probabilities adjusted for having tested more than once, in the order they were given.

use super::count;

/// Holm's (1979) step-down adjustment: keeps the chance of any false finding.
pub fn holm(probabilities: &[f64]) -> Vec<f64> {
    let n = probabilities.len();
    let mut adjusted = vec![0.0; n];
    let mut most = 0.0_f64;
    for (rank, index) in ranked(probabilities).into_iter().enumerate() {
        most = most.max((count(n - rank) * probabilities[index]).min(1.0));
        adjusted[index] = most;
    }
    adjusted
}

/// Benjamini and Hochberg's (1995) step-up adjustment: keeps the share of false findings.
pub fn benjamini_hochberg(probabilities: &[f64]) -> Vec<f64> {
    let n = probabilities.len();
    let mut adjusted = vec![0.0; n];
    let mut least = 1.0_f64;
    for (rank, index) in ranked(probabilities).into_iter().enumerate().rev() {
        least = least.min(probabilities[index] * count(n) / count(rank + 1));
        adjusted[index] = least;
    }
    adjusted
}

/// Bonferroni's: every probability times their number.
pub fn bonferroni(probabilities: &[f64]) -> Vec<f64> {
    let n = count(probabilities.len());
    probabilities.iter().map(|probability| (n * probability).min(1.0)).collect()
}

fn ranked(probabilities: &[f64]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..probabilities.len()).collect();
    order.sort_by(|a, b| probabilities[*a].total_cmp(&probabilities[*b]));
    order
}
