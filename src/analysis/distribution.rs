//! Probabilities and quantiles of the distributions that the other files judge by.
//!
//! Arguments outside a distribution's domain give NaN, which every comparison then refuses.

use statrs::function::{beta, erf, gamma};

/// 1/Φ⁻¹(3/4): makes the median absolute deviation estimate a normal standard deviation.
pub const MAD_TO_SD: f64 = 1.482_602_218_505_602;

/// Beyond so many degrees of freedom Student's t and the normal differ by less than 1e-9.
const NORMAL_FROM: f64 = 1e9;

/// Beyond so many degrees of freedom chi-squared's cube root is normal to 1e-8.
const CUBE_ROOT_FROM: f64 = 1e6;

/// Density of the standard normal.
pub fn normal_density(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Probability of a standard normal at or below `x`.
pub fn normal_probability(x: f64) -> f64 {
    if x.is_nan() { f64::NAN } else { 0.5 * erf::erfc(-x / std::f64::consts::SQRT_2) }
}

/// Probability of a standard normal above `x`, exact in the far tail.
pub fn normal_survival(x: f64) -> f64 {
    normal_probability(-x)
}

/// The `x` with `normal_probability(x) = p`.
pub fn normal_quantile(p: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) {
        f64::NAN
    } else {
        -std::f64::consts::SQRT_2 * erf::erfc_inv(2.0 * p)
    }
}

/// Probability of Student's t above `t`, `degrees` of freedom (not necessarily whole).
pub fn student_survival(t: f64, degrees: f64) -> f64 {
    if t.is_nan() || degrees.is_nan() || degrees <= 0.0 {
        return f64::NAN;
    }
    if degrees > NORMAL_FROM {
        return normal_survival(t);
    }
    if t.is_infinite() {
        return if t > 0.0 { 0.0 } else { 1.0 };
    }
    let x = degrees / (degrees + t * t);
    let tail = 0.5 * beta::beta_reg(degrees / 2.0, 0.5, x.clamp(0.0, 1.0));
    if t >= 0.0 { tail } else { 1.0 - tail }
}

/// Probability of Student's t at or below `t`.
pub fn student_probability(t: f64, degrees: f64) -> f64 {
    student_survival(-t, degrees)
}

/// The two-sided probability of a t at least as far from zero as `t`.
pub fn student_two_sided(t: f64, degrees: f64) -> f64 {
    (2.0 * student_survival(t.abs(), degrees)).min(1.0)
}

/// The `t` with `student_probability(t, degrees) = p`.
pub fn student_quantile(p: f64, degrees: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || degrees.is_nan() || degrees <= 0.0 {
        return f64::NAN;
    }
    let z = normal_quantile(p);
    if degrees > NORMAL_FROM || z.is_infinite() || z == 0.0 {
        return z;
    }
    // Solved in the upper tail, where the survival function keeps its digits.
    let tail = p.min(1.0 - p);
    let quantile = invert_decreasing(|t| student_survival(t, degrees), tail, z.abs());
    if p < 0.5 { -quantile } else { quantile }
}

/// Probability of chi-squared above `x`.
pub fn chi_squared_survival(x: f64, degrees: f64) -> f64 {
    if x.is_nan() || degrees.is_nan() || degrees <= 0.0 {
        f64::NAN
    } else if x <= 0.0 {
        1.0
    } else if x.is_infinite() {
        0.0
    } else if degrees > CUBE_ROOT_FROM {
        // Wilson and Hilferty: good to 1e-8 here, where the incomplete gamma's series grows long.
        let spread = 2.0 / (9.0 * degrees);
        normal_survival(((x / degrees).cbrt() - 1.0 + spread) / spread.sqrt())
    } else {
        gamma::gamma_ur(degrees / 2.0, x / 2.0)
    }
}

/// The `x` with probability `p` at or below it under chi-squared.
pub fn chi_squared_quantile(p: f64, degrees: f64) -> f64 {
    if !(0.0..1.0).contains(&p) || degrees.is_nan() || degrees <= 0.0 {
        return f64::NAN;
    }
    if p == 0.0 {
        return 0.0;
    }
    // Wilson and Hilferty's cube root lands close enough to bracket from.
    let spread = 2.0 / (9.0 * degrees);
    let start = degrees * (1.0 - spread + normal_quantile(p) * spread.sqrt()).max(0.05).powi(3);
    invert_decreasing(|x| chi_squared_survival(x, degrees), 1.0 - p, start)
}

/// Probability of Fisher's F above `x`.
pub fn f_survival(x: f64, numerator: f64, denominator: f64) -> f64 {
    if x.is_nan() || !(numerator > 0.0 && denominator > 0.0) {
        f64::NAN
    } else if x <= 0.0 {
        1.0
    } else if denominator > NORMAL_FROM {
        chi_squared_survival(x * numerator, numerator)
    } else {
        let share = denominator / (denominator + numerator * x);
        beta::beta_reg(denominator / 2.0, numerator / 2.0, share.clamp(0.0, 1.0))
    }
}

/// The `x` with probability `p` at or below it under F.
pub fn f_quantile(p: f64, numerator: f64, denominator: f64) -> f64 {
    if !(0.0..1.0).contains(&p) || !(numerator > 0.0 && denominator > 0.0) {
        return f64::NAN;
    }
    if p == 0.0 {
        return 0.0;
    }
    invert_decreasing(|x| f_survival(x, numerator, denominator), 1.0 - p, 1.0)
}

/// Probability of a beta variable at or below `x`.
pub fn beta_probability(x: f64, a: f64, b: f64) -> f64 {
    if x.is_nan() || !(a > 0.0 && b > 0.0) {
        f64::NAN
    } else {
        beta::beta_reg(a, b, x.clamp(0.0, 1.0))
    }
}

/// The `x` with `beta_probability(x, a, b) = p`, by bisection on the unit interval.
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    if !(0.0..=1.0).contains(&p) || !(a > 0.0 && b > 0.0) {
        return f64::NAN;
    }
    let (mut low, mut high) = (0.0_f64, 1.0_f64);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if beta_probability(middle, a, b) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// Probability of a noncentral t at or below `t`: `P((Z + shift) / sqrt(χ²/degrees) ≤ t)`.
///
/// The chi density is integrated by Simpson's rule over all but 1e-16 of its mass; at least one
/// degree of freedom is assumed.
pub fn noncentral_student_probability(t: f64, degrees: f64, shift: f64) -> f64 {
    if t.is_nan() || degrees.is_nan() || shift.is_nan() || degrees <= 0.0 {
        return f64::NAN;
    }
    if degrees > 1e6 {
        return normal_probability(t - shift);
    }
    let degrees = degrees.max(1.0);
    let root = degrees.sqrt();
    let low = (root - 7.0).max(0.0);
    let width = root + 8.5 - low;
    let log_scale = (1.0 - degrees / 2.0) * std::f64::consts::LN_2 - gamma::ln_gamma(degrees / 2.0);
    let value = |x: f64| {
        let log_power = if degrees == 1.0 { 0.0 } else { (degrees - 1.0) * x.ln() };
        (log_scale + log_power - 0.5 * x * x).exp() * normal_probability(t * x / root - shift)
    };
    simpson(value, low, width, 400).clamp(0.0, 1.0)
}

/// Simpson's rule over `panels` (even) equal panels.
fn simpson(f: impl Fn(f64) -> f64, low: f64, width: f64, panels: u32) -> f64 {
    let h = width / f64::from(panels);
    let mut sum = f(low) + f(low + width);
    for i in 1..panels {
        let weight = if i % 2 == 1 { 4.0 } else { 2.0 };
        sum += weight * f(low + f64::from(i) * h);
    }
    sum * h / 3.0
}

/// The positive `x` at which a decreasing function reaches `target`: bracket outward, then bisect.
pub(super) fn invert_decreasing(f: impl Fn(f64) -> f64, target: f64, start: f64) -> f64 {
    if !start.is_finite() {
        return start;
    }
    let mut high = start.max(1e-3);
    while f(high) > target {
        high *= 2.0;
        if high > 1e300 {
            return f64::INFINITY;
        }
    }
    let mut low = high / 2.0;
    while f(low) < target {
        high = low;
        low /= 2.0;
        if low < 1e-300 {
            return 0.0;
        }
    }
    // The regula falsi with Illinois weights needs about eight calls for full precision.
    let (mut f_low, mut f_high) = (f(low) - target, f(high) - target);
    for _ in 0..200 {
        if high - low <= 4.0 * f64::EPSILON * high || f_low == f_high {
            break;
        }
        let mut middle = high - f_high * (high - low) / (f_high - f_low);
        if !(middle > low && middle < high) {
            middle = 0.5 * (low + high);
        }
        let f_middle = f(middle) - target;
        if f_middle == 0.0 {
            return middle;
        }
        if f_middle > 0.0 {
            (low, f_low) = (middle, f_middle);
            f_high *= 0.5;
        } else {
            (high, f_high) = (middle, f_middle);
            f_low *= 0.5;
        }
    }
    0.5 * (low + high)
}
