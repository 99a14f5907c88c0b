//! The smallest effect that a measurement would have shown: what a pass is worth.

use super::distribution::{
    invert_decreasing, noncentral_student_probability, normal_quantile, student_quantile,
};

/// In which direction an effect counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sides {
    /// Only one direction is an effect.
    One,
    /// Either direction is.
    Two,
}

/// The smallest true effect that a t test at level `alpha` finds with probability `power`, given
/// the effect's standard error and the degrees of freedom behind it (`f64::INFINITY` for a known
/// error). Solved on the noncentral t distribution. `None` for arguments without meaning.
pub fn smallest_effect(
    standard_error: f64,
    degrees_of_freedom: f64,
    alpha: f64,
    power: f64,
    sides: Sides,
) -> Option<f64> {
    let sensible = standard_error >= 0.0 && standard_error.is_finite() && degrees_of_freedom > 0.0;
    if !sensible || !(alpha > 0.0 && alpha < 0.5) || !(power > alpha && power < 1.0) {
        return None;
    }
    Some(noncentrality(degrees_of_freedom, alpha, power, sides) * standard_error)
}

/// The power of a t test at level `alpha` when the true effect is `shift` standard errors.
pub fn power(shift: f64, degrees_of_freedom: f64, alpha: f64, sides: Sides) -> f64 {
    let critical = match sides {
        Sides::One => student_quantile(1.0 - alpha, degrees_of_freedom),
        Sides::Two => student_quantile(1.0 - alpha / 2.0, degrees_of_freedom),
    };
    let above = 1.0 - noncentral_student_probability(critical, degrees_of_freedom, shift);
    match sides {
        Sides::One => above,
        Sides::Two => above + noncentral_student_probability(-critical, degrees_of_freedom, shift),
    }
}

/// The effect in standard errors at which the power reaches `wanted`.
fn noncentrality(degrees: f64, alpha: f64, wanted: f64, sides: Sides) -> f64 {
    let tail = match sides {
        Sides::One => alpha,
        Sides::Two => alpha / 2.0,
    };
    let start = student_quantile(1.0 - tail, degrees) + normal_quantile(wanted);
    invert_decreasing(|shift| 1.0 - power(shift, degrees, alpha, sides), 1.0 - wanted, start)
}

/// The smallest correlation that `n` (effective) pairs show at level `alpha` (two-sided) with the
/// given power, by Fisher's z; needs more than three pairs.
pub fn smallest_correlation(n: f64, alpha: f64, power: f64) -> Option<f64> {
    let z = normal_quantile(1.0 - alpha / 2.0) + normal_quantile(power);
    (n > 3.0 && z.is_finite()).then(|| (z / (n - 3.0).sqrt()).tanh())
}
