//! Nonlinear least squares: Levenberg's and Marquardt's step inside a scaled trust region (Moré
//! 1978), on orthogonal factors of the Jacobian.

use super::linear_algebra::{Qr, norm};
use super::{Bounded, all_finite, count, distribution};

/// When to stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Settings {
    /// Relative change of the sum of squares, and of the scaled parameters, at which to stop.
    pub tolerance: f64,
    /// Most Jacobians to compute.
    pub most_iterations: usize,
}

impl Default for Settings {
    fn default() -> Self {
        Self { tolerance: 1e-12, most_iterations: 500 }
    }
}

/// Where the search ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// The parameters found.
    pub parameters: Vec<f64>,
    /// Covariance s² (J'J)⁻¹; `None` where the data do not determine every parameter or leave no
    /// degree of freedom.
    pub covariance: Option<Vec<Vec<f64>>>,
    /// Sum of squared residuals.
    pub residual_sum_of_squares: f64,
    /// Residuals less parameters.
    pub degrees_of_freedom: f64,
    /// Jacobians computed.
    pub iterations: usize,
    /// Whether a stopping rule was met before the iterations ran out.
    pub converged: bool,
}

impl Solution {
    /// Standard error of parameter `index`; NaN where it is not determined.
    pub fn standard_error(&self, index: usize) -> f64 {
        let covariance = self.covariance.as_ref();
        covariance.and_then(|c| c.get(index)?.get(index)).map_or(f64::NAN, |v| v.sqrt())
    }

    /// Square root of the residual variance.
    pub fn residual_sd(&self) -> f64 {
        (self.residual_sum_of_squares / self.degrees_of_freedom).sqrt()
    }

    /// Parameter `index` with its linearised 95 % bounds.
    pub fn bounds(&self, index: usize) -> Bounded {
        let value = self.parameters.get(index).copied().unwrap_or(f64::NAN);
        let t = distribution::student_quantile(0.975, self.degrees_of_freedom);
        Bounded::symmetric(value, t * self.standard_error(index))
    }
}

/// Minimises the sum of squares of `count_of_residuals` residuals from `start`. `residual` writes
/// them for given parameters; a value that is not finite marks the parameters as impossible. The
/// Jacobian is taken by central differences.
///
/// `None` if the residuals at `start` are not finite or there are fewer residuals than parameters.
pub fn minimise(
    mut residual: impl FnMut(&[f64], &mut [f64]),
    count_of_residuals: usize,
    start: &[f64],
    settings: Settings,
) -> Option<Solution> {
    let mut ahead = vec![0.0; count_of_residuals];
    let mut behind = vec![0.0; count_of_residuals];
    let residual = std::cell::RefCell::new(&mut residual);
    let evaluate = |parameters: &[f64], out: &mut [f64]| (residual.borrow_mut())(parameters, out);
    let jacobian = |parameters: &[f64], jacobian: &mut [f64]| {
        let mut moved = parameters.to_vec();
        for (k, column) in jacobian.chunks_mut(count_of_residuals).enumerate() {
            let value = parameters[k];
            let size = if value == 0.0 { 1e-3 } else { value.abs() };
            let step = f64::EPSILON.cbrt() * size;
            moved[k] = value + step;
            let up = moved[k];
            evaluate(&moved, &mut ahead);
            moved[k] = value - step;
            let width = up - moved[k];
            evaluate(&moved, &mut behind);
            moved[k] = value;
            for (slope, (a, b)) in column.iter_mut().zip(ahead.iter().zip(&behind)) {
                let difference = (a - b) / width;
                *slope = if difference.is_finite() { difference } else { 0.0 };
            }
        }
    };
    minimise_with_jacobian(evaluate, jacobian, count_of_residuals, start, settings)
}

/// As [`minimise`], with a Jacobian of the caller's: it writes ∂rᵢ/∂bₖ column after column
/// (`count_of_residuals` values for each parameter).
pub fn minimise_with_jacobian(
    mut residual: impl FnMut(&[f64], &mut [f64]),
    mut jacobian: impl FnMut(&[f64], &mut [f64]),
    count_of_residuals: usize,
    start: &[f64],
    settings: Settings,
) -> Option<Solution> {
    let (n, p) = (count_of_residuals, start.len());
    if p == 0 || n < p || !all_finite(start) {
        return None;
    }
    let mut parameters = start.to_vec();
    let mut residuals = vec![0.0; n];
    residual(&parameters, &mut residuals);
    let mut length = norm(&residuals);
    if !length.is_finite() {
        return None;
    }
    let mut scale = vec![0.0_f64; p];
    let mut radius = 0.0;
    let mut damping = 0.0;
    let mut trial_residuals = vec![0.0; n];
    let mut iterations = 0;
    let mut converged = length == 0.0;
    let mut slopes = vec![0.0; n * p];
    let tolerance = settings.tolerance.max(f64::EPSILON);
    'outer: while !converged && iterations < settings.most_iterations {
        iterations += 1;
        jacobian(&parameters, &mut slopes);
        for (scale, column) in scale.iter_mut().zip(slopes.chunks(n)) {
            let size = norm(column);
            *scale = scale.max(if size.is_finite() { size } else { 0.0 });
            if *scale == 0.0 {
                *scale = 1.0;
            }
        }
        let Some(factors) = Qr::new_any_rank(n, slopes.clone()) else { break };
        let mut rotated = residuals.clone();
        factors.rotate(&mut rotated);
        rotated.truncate(p);
        let reduced = Reduced::new(&factors, rotated, &scale);
        if reduced.steepest_cosine(length) <= f64::EPSILON {
            converged = true;
            break;
        }
        let size = scaled_norm(&parameters, &scale);
        if iterations == 1 {
            radius = if size > 0.0 { FIRST_RADIUS * size } else { FIRST_RADIUS };
        }
        loop {
            let (step, new_damping) = reduced.step(radius, damping);
            damping = new_damping;
            let step_length = scaled_norm(&step, &scale);
            if iterations == 1 {
                radius = radius.min(step_length);
            }
            let trial: Vec<f64> = parameters.iter().zip(&step).map(|(b, s)| b + s).collect();
            residual(&trial, &mut trial_residuals);
            let trial_length = norm(&trial_residuals);
            let (predicted, slope) = reduced.predicted(&step, length, damping, step_length);
            let actual = if trial_length.is_finite() && trial_length < 10.0 * length {
                1.0 - (trial_length / length).powi(2)
            } else {
                -1.0
            };
            let ratio = if predicted > 0.0 { actual / predicted } else { 0.0 };
            if ratio <= 0.25 {
                let mut shrink =
                    if actual >= 0.0 { 0.5 } else { 0.5 * slope / (slope + 0.5 * actual) };
                if !(trial_length < 10.0 * length) || !(shrink >= 0.1) {
                    shrink = 0.1;
                }
                radius = shrink * radius.min(step_length / 0.1);
                damping /= shrink;
            } else if damping == 0.0 || ratio >= 0.75 {
                radius = step_length / 0.5;
                damping *= 0.5;
            }
            let accepted = ratio >= 1e-4;
            if accepted {
                parameters = trial;
                std::mem::swap(&mut residuals, &mut trial_residuals);
                length = trial_length;
            }
            let settled = actual.abs() <= tolerance && predicted <= tolerance && ratio <= 2.0;
            let still = radius <= tolerance * scaled_norm(&parameters, &scale);
            if settled || still || length == 0.0 {
                converged = true;
                break 'outer;
            }
            if accepted {
                break;
            }
            if radius <= f64::MIN_POSITIVE {
                break 'outer;
            }
        }
    }
    jacobian(&parameters, &mut slopes);
    let residual_sum_of_squares = length * length;
    let degrees_of_freedom = count(n - p);
    let covariance = (n > p).then(|| Qr::new(n, slopes)).flatten().map(|factors| {
        let variance = residual_sum_of_squares / degrees_of_freedom;
        let mut gram = factors.inverse_gram();
        gram.iter_mut().flatten().for_each(|value| *value *= variance);
        gram
    });
    Some(Solution {
        parameters,
        covariance,
        residual_sum_of_squares,
        degrees_of_freedom,
        iterations,
        converged,
    })
}

/// The first step may change the parameters by about their own size: a longer one throws an
/// exponential's rate to where the data say nothing any more (NIST's BoxBOD from its first start).
const FIRST_RADIUS: f64 = 1.0;

fn scaled_norm(values: &[f64], scale: &[f64]) -> f64 {
    let scaled: Vec<f64> = values.iter().zip(scale).map(|(value, scale)| value * scale).collect();
    norm(&scaled)
}

/// The linearised problem in as many rows as there are parameters.
struct Reduced<'a> {
    r: Vec<Vec<f64>>,
    rotated: Vec<f64>,
    scale: &'a [f64],
}

impl<'a> Reduced<'a> {
    fn new(factors: &Qr, rotated: Vec<f64>, scale: &'a [f64]) -> Self {
        let p = scale.len();
        let r = (0..p)
            .map(|i| (0..p).map(|j| if j < i { 0.0 } else { factors.r(i, j) }).collect())
            .collect();
        Self { r, rotated, scale }
    }

    /// J'r without J: R' times the rotated residual.
    fn gradient(&self) -> Vec<f64> {
        let p = self.scale.len();
        (0..p).map(|j| (0..=j).map(|i| self.r[i][j] * self.rotated[i]).sum()).collect()
    }

    /// Largest cosine of the angle between the residual and a column of the Jacobian.
    fn steepest_cosine(&self, length: f64) -> f64 {
        let p = self.scale.len();
        let gradient = self.gradient();
        (0..p)
            .map(|j| {
                let column: f64 = (0..=j).map(|i| self.r[i][j] * self.r[i][j]).sum::<f64>().sqrt();
                if column > 0.0 { (gradient[j] / (column * length)).abs() } else { 0.0 }
            })
            .fold(0.0, f64::max)
    }

    /// Share of the sum of squares that the linear model promises to remove, and the slope along
    /// the step, both relative to the sum of squares (as Moré's test needs them).
    fn predicted(&self, step: &[f64], length: f64, damping: f64, step_length: f64) -> (f64, f64) {
        let p = step.len();
        let forward: Vec<f64> =
            (0..p).map(|i| (i..p).map(|j| self.r[i][j] * step[j]).sum()).collect();
        let a = (norm(&forward) / length).powi(2);
        let b = damping * (step_length / length).powi(2);
        (a + 2.0 * b, -(a + b))
    }

    /// The step of length about `radius` (within a tenth), and the damping that gives it.
    fn step(&self, radius: f64, damping: f64) -> (Vec<f64>, f64) {
        let p = self.scale.len();
        let full_rank = (0..p).all(|i| self.r[i][i].abs() > 1e-14 * self.scale[i]);
        let mut lower = 0.0;
        if full_rank {
            let step = self.damped(0.0);
            let (length, newton) = self.excess(&step, 0.0, radius);
            if length - radius <= 0.1 * radius {
                return (step, 0.0);
            }
            if newton.is_finite() {
                lower = newton;
            }
        }
        let scaled: Vec<f64> = self.gradient().iter().zip(self.scale).map(|(g, s)| g / s).collect();
        let mut upper = norm(&scaled) / radius;
        if upper == 0.0 {
            upper = f64::MIN_POSITIVE / radius.min(0.1);
        }
        let mut damping = damping.clamp(lower.min(upper), upper);
        if damping == 0.0 {
            damping = (0.001 * upper).max((lower * upper).sqrt());
        }
        let mut step = self.damped(damping);
        for _ in 0..12 {
            let (length, correction) = self.excess(&step, damping, radius);
            let excess = length - radius;
            if excess.abs() <= 0.1 * radius {
                break;
            }
            if excess > 0.0 {
                lower = lower.max(damping);
            } else {
                upper = upper.min(damping);
            }
            damping =
                if correction.is_finite() { damping + correction } else { 0.5 * (lower + upper) };
            damping = damping.max(lower);
            step = self.damped(damping);
        }
        (step, damping)
    }

    /// Minimises |R s + rotated|² + damping |D s|².
    fn damped(&self, damping: f64) -> Vec<f64> {
        let p = self.scale.len();
        let Some((factors, target)) = self.augmented(damping) else { return vec![0.0; p] };
        let step = factors.solve(&target);
        if all_finite(&step) { step } else { vec![0.0; p] }
    }

    fn augmented(&self, damping: f64) -> Option<(Qr, Vec<f64>)> {
        let p = self.scale.len();
        let rows = if damping > 0.0 { 2 * p } else { p };
        let mut data = vec![0.0; rows * p];
        for j in 0..p {
            for i in 0..=j {
                data[j * rows + i] = self.r[i][j];
            }
            if damping > 0.0 {
                data[j * rows + p + j] = damping.sqrt() * self.scale[j];
            }
        }
        let factors = Qr::new_any_rank(rows, data)?;
        let mut target = vec![0.0; rows];
        target[..p].iter_mut().zip(&self.rotated).for_each(|(t, r)| *t = -r);
        factors.rotate(&mut target);
        Some((factors, target))
    }

    /// Scaled length of the step, and Newton's correction of the damping towards `radius`.
    fn excess(&self, step: &[f64], damping: f64, radius: f64) -> (f64, f64) {
        let p = step.len();
        let length = scaled_norm(step, self.scale);
        let Some((factors, _)) = self.augmented(damping) else { return (length, f64::NAN) };
        // Solve R' w = D (D s) / |D s|.
        let mut w = vec![0.0; p];
        for i in 0..p {
            let right = self.scale[i] * self.scale[i] * step[i] / length;
            let known: f64 = (0..i).map(|k| factors.r(k, i) * w[k]).sum();
            w[i] = (right - known) / factors.r(i, i);
        }
        let correction = (length - radius) / radius / norm(&w).powi(2);
        (length, correction)
    }
}
