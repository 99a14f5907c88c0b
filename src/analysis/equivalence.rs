//! Comparisons of means: whether they differ (Welch), and whether they are the same within a limit
//! that was stated beforehand (two one-sided tests).

use super::{Bounded, count, descriptive, distribution, serial_correlation};

/// A difference with its standard error.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    /// The difference.
    pub value: f64,
    /// Its standard error.
    pub standard_error: f64,
    /// Degrees of freedom behind the error.
    pub degrees_of_freedom: f64,
}

impl Difference {
    /// value / standard error.
    pub fn t(&self) -> f64 {
        self.value / self.standard_error
    }

    /// Two-sided probability of so large a difference when there is none.
    pub fn probability(&self) -> f64 {
        distribution::student_two_sided(self.t(), self.degrees_of_freedom)
    }

    /// Bounds at the given confidence (0.95 for the usual ones).
    pub fn bounds(&self, confidence: f64) -> Bounded {
        let t = distribution::student_quantile(0.5 + confidence / 2.0, self.degrees_of_freedom);
        Bounded::symmetric(self.value, t * self.standard_error)
    }
}

/// Mean of `a` less mean of `b`, unequal variances (Welch 1947). `None` unless both have two values
/// and not both are constant.
pub fn welch(a: &[f64], b: &[f64]) -> Option<Difference> {
    of_two(&Summary::independent(a)?, &Summary::independent(b)?)
}

/// As [`welch`], for series whose samples remember: each counts as its effective number of samples.
pub fn welch_with_memory(a: &[f64], b: &[f64]) -> Option<Difference> {
    of_two(&Summary::with_memory(a)?, &Summary::with_memory(b)?)
}

/// Mean of the paired differences `a − b`.
pub fn paired(a: &[f64], b: &[f64]) -> Option<Difference> {
    if a.len() != b.len() {
        return None;
    }
    let differences: Vec<f64> = a.iter().zip(b).map(|(a, b)| a - b).collect();
    one_sample(&differences)
}

/// Mean of one sample, as a difference from zero.
pub fn one_sample(values: &[f64]) -> Option<Difference> {
    let summary = Summary::independent(values)?;
    (summary.variance_of_mean > 0.0).then(|| Difference {
        value: summary.mean,
        standard_error: summary.variance_of_mean.sqrt(),
        degrees_of_freedom: summary.size - 1.0,
    })
}

struct Summary {
    mean: f64,
    variance_of_mean: f64,
    size: f64,
}

impl Summary {
    fn independent(values: &[f64]) -> Option<Self> {
        let size = count(values.len());
        let variance_of_mean = descriptive::variance(values)? / size;
        Some(Self { mean: descriptive::mean(values)?, variance_of_mean, size })
    }

    fn with_memory(values: &[f64]) -> Option<Self> {
        let variance = descriptive::variance(values)?;
        let r = descriptive::lag_one_autocorrelation(values).unwrap_or(0.0);
        let n = count(values.len());
        // The sample correlation is too small by about (1 + 3r)/n (Kendall 1954).
        let r = (r + (1.0 + 3.0 * r) / n).clamp(0.0, 0.99);
        let size = serial_correlation::effective_size(values.len(), r).max(2.0);
        // The sample variance about the sample mean misses what the mean took along.
        let variance = variance * (n - 1.0) / n * size / (size - 1.0);
        Some(Self { mean: descriptive::mean(values)?, variance_of_mean: variance / size, size })
    }
}

fn of_two(a: &Summary, b: &Summary) -> Option<Difference> {
    let (of_a, of_b) = (a.variance_of_mean, b.variance_of_mean);
    let total = of_a + of_b;
    let degrees = total * total / (of_a * of_a / (a.size - 1.0) + of_b * of_b / (b.size - 1.0));
    (total > 0.0 && total.is_finite()).then(|| Difference {
        value: a.mean - b.mean,
        standard_error: total.sqrt(),
        degrees_of_freedom: degrees,
    })
}

/// Two one-sided tests (Schuirmann 1987) that a difference lies inside stated limits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Equivalence {
    /// t against the lower limit, and the probability of it if the truth lay at that limit.
    pub lower: (f64, f64),
    /// The same against the upper limit.
    pub upper: (f64, f64),
}

impl Equivalence {
    /// The larger of the two probabilities: below 0.05, the difference is inside the limits at the
    /// 5 % level (its 90 % bounds lie inside).
    pub fn probability(&self) -> f64 {
        self.lower.1.max(self.upper.1)
    }
}

/// Tests that a difference lies between `low` and `high`.
pub fn within(difference: &Difference, low: f64, high: f64) -> Equivalence {
    let degrees = difference.degrees_of_freedom;
    let t_low = (difference.value - low) / difference.standard_error;
    let t_high = (difference.value - high) / difference.standard_error;
    Equivalence {
        lower: (t_low, distribution::student_survival(t_low, degrees)),
        upper: (t_high, distribution::student_probability(t_high, degrees)),
    }
}

/// Tests that a correlation from `n` (effective) pairs lies within ± `limit`, by Fisher's z.
pub fn correlation_within(r: f64, n: f64, limit: f64) -> Option<Equivalence> {
    if !(n > 3.0) || !(r.abs() < 1.0) || !(limit > 0.0 && limit < 1.0) {
        return None;
    }
    let error = 1.0 / (n - 3.0).sqrt();
    let lower = (r.atanh() + limit.atanh()) / error;
    let upper = (r.atanh() - limit.atanh()) / error;
    Some(Equivalence {
        lower: (lower, distribution::normal_survival(lower)),
        upper: (upper, distribution::normal_probability(upper)),
    })
}
