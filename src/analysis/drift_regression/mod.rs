//! Linear regression under a wandering baseline.
//!
//! The baseline is an Ornstein–Uhlenbeck process (a random walk in the limit of rate zero) on top
//! of white measurement noise; its strength is found by maximum likelihood. The Kalman filter of
//! that disturbance whitens data and regressors alike, after which least squares are generalised
//! least squares (Harvey 1989, *Forecasting, Structural Time Series Models and the Kalman Filter*,
//! §3.4 and §7.3). Linear in the number of samples, uneven sampling included.

/// What the regression found.
#[derive(Clone, Debug, PartialEq)]
pub struct DriftFit {
    /// One coefficient per column.
    pub coefficients: Vec<f64>,
    /// Covariance of the coefficients, row by row.
    pub covariance: Vec<f64>,
    /// Standard deviation of the white noise of one sample.
    pub noise: f64,
    /// Strength of the wandering, in units of the data per square root of second.
    pub wander: f64,
    /// Rate at which the wandering forgets, 1/s; zero is a random walk.
    pub rate: f64,
    /// Concentrated log likelihood, without constants.
    pub log_likelihood: f64,
    /// Factor by which standard errors were widened for what correlation is left.
    pub inflation: f64,
    /// Samples used.
    pub samples: usize,
}

impl DriftFit {
    /// Standard error of a coefficient; infinite for one that does not exist.
    pub fn standard_error(&self, column: usize) -> f64 {
        let width = self.coefficients.len();
        self.covariance
            .get(column * width + column)
            .filter(|_| column < width)
            .map_or(f64::INFINITY, |variance| variance.max(0.0).sqrt())
    }
}

/// Wandering strengths tried, as variance per second over noise variance.
const RATIOS: [f64; 9] = [0.0, 1e-5, 1e-4, 1e-3, 1e-2, 5e-2, 0.25, 1.0, 8.0];
/// Rates of forgetting tried beside none, 1/s.
const RATES: [f64; 2] = [0.4, 3.0];

/// Fits `data = columns × coefficients + wandering + noise`.
///
/// `prior_precision` holds, per column, the precision (1/variance, in units of the data) of a
/// zero-mean prior on its coefficient; zero for none. `noise_floor` is the least standard
/// deviation one sample is believed to have, such as a step over √12.
///
/// `None` if shapes differ, a number is not finite, or a column is not determined.
pub fn fit(
    times: &[f64],
    data: &[f64],
    columns: &[&[f64]],
    prior_precision: &[f64],
    noise_floor: f64,
) -> Option<DriftFit> {
    best_of(times, data, &[columns], prior_precision, noise_floor).map(|best| best.fit)
}

/// The likeliest of several sets of columns.
#[derive(Clone, Debug, PartialEq)]
pub struct Best {
    /// Which set it is.
    pub place: usize,
    /// Its fit.
    pub fit: DriftFit,
    /// Log likelihood of every set under the same disturbance; minus infinity for one that could not
    /// be fitted.
    pub log_likelihoods: Vec<f64>,
}

/// The likeliest of several sets of columns. The disturbance is found once, with the first set, and
/// shared: variants of a regressor differ far less than disturbances do.
pub fn best_of(
    times: &[f64],
    data: &[f64],
    variants: &[&[&[f64]]],
    prior_precision: &[f64],
    noise_floor: f64,
) -> Option<Best> {
    let first = variants.first()?;
    let width = first.len();
    let shaped = |columns: &&[&[f64]]| {
        columns.len() == width && columns.iter().all(|column| column.len() == data.len())
    };
    if data.len() != times.len()
        || data.len() < width + 3
        || width == 0
        || prior_precision.len() != width
        || !variants.iter().all(shaped)
    {
        return None;
    }
    let attempt = |columns: &[&[f64]], ratio: f64, rate: f64| {
        Whitened::pass(times, data, columns, ratio, rate)
            .solve(prior_precision, noise_floor)
            .map(|(_, likelihood, _)| likelihood)
    };
    let mut best: Option<(f64, f64, f64)> = None;
    let consider = |best: &mut Option<(f64, f64, f64)>, ratio: f64, rate: f64| {
        if let Some(likelihood) = attempt(first, ratio, rate)
            && best.is_none_or(|(known, _, _)| likelihood > known)
        {
            *best = Some((likelihood, ratio, rate));
        }
    };
    // A random walk first; then, about its strength, one that forgets.
    RATIOS.iter().for_each(|ratio| consider(&mut best, *ratio, 0.0));
    let walk = best.map_or(0.0, |(_, ratio, _)| ratio).max(RATIOS[2]);
    for rate in RATES {
        for factor in [0.5, 3.0, 20.0] {
            consider(&mut best, walk * factor, rate);
        }
    }
    let (_, ratio, rate) = best?;
    // One refinement between the grid's neighbours is enough: the bounds depend on the root.
    for factor in [0.4, 2.2] {
        if ratio > 0.0 {
            consider(&mut best, ratio * factor, rate);
        }
    }
    let (_, ratio, rate) = best?;
    let log_likelihoods: Vec<f64> = variants
        .iter()
        .map(|columns| attempt(columns, ratio, rate).unwrap_or(f64::NEG_INFINITY))
        .collect();
    let (place, _) = log_likelihoods.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    let whitened = Whitened::pass(times, data, variants.get(place)?, ratio, rate);
    let (solution, log_likelihood, variance) = whitened.solve(prior_precision, noise_floor)?;
    let inflation = whitened.inflation(&solution.coefficients);
    let covariance =
        solution.inverse.iter().map(|value| value * variance * inflation * inflation).collect();
    let fit = DriftFit {
        coefficients: solution.coefficients,
        covariance,
        noise: variance.sqrt(),
        wander: (variance * ratio).sqrt(),
        rate,
        log_likelihood,
        inflation,
        samples: data.len(),
    };
    Some(Best { place, fit, log_likelihoods })
}

/// Innovations of data and columns under one disturbance, scaled to unit variance.
struct Whitened {
    width: usize,
    /// Per sample: the columns, then the data.
    rows: Vec<f64>,
    log_determinant: f64,
}

struct Solution {
    coefficients: Vec<f64>,
    inverse: Vec<f64>,
    residual: f64,
}

impl Whitened {
    fn pass(times: &[f64], data: &[f64], columns: &[&[f64]], ratio: f64, rate: f64) -> Self {
        let width = columns.len();
        let mut rows = Vec::with_capacity(data.len() * (width + 1));
        let mut state = vec![0.0; width + 1];
        let mut variance = 0.0_f64;
        let mut log_determinant = 0.0;
        let mut previous = times.first().copied().unwrap_or(0.0);
        for (index, (&time, &value)) in times.iter().zip(data).enumerate() {
            let step = (time - previous).max(0.0);
            previous = time;
            if rate > 0.0 {
                let keep = (-rate * step).exp();
                variance = variance * keep * keep + ratio * (1.0 - keep * keep) / (2.0 * rate);
                state.iter_mut().for_each(|entry| *entry *= keep);
            } else {
                variance += ratio * step;
            }
            let total = variance + 1.0;
            let (gain, scale) = (variance / total, 1.0 / total.sqrt());
            log_determinant += total.ln();
            for (entry, column) in state.iter_mut().zip(columns) {
                let innovation = column[index] - *entry;
                *entry += gain * innovation;
                rows.push(innovation * scale);
            }
            if let Some(entry) = state.last_mut() {
                let innovation = value - *entry;
                *entry += gain * innovation;
                rows.push(innovation * scale);
            }
            variance *= 1.0 - gain;
        }
        Self { width, rows, log_determinant }
    }

    fn samples(&self) -> usize {
        self.rows.len() / (self.width + 1)
    }

    /// Coefficients, concentrated log likelihood and noise variance. Two rounds, because the prior
    /// is given in units of the data and the normal equations are in units of the noise.
    fn solve(&self, prior: &[f64], noise_floor: f64) -> Option<(Solution, f64, f64)> {
        let samples = self.samples() as f64;
        let floor = noise_floor * noise_floor;
        let mut variance = floor.max(f64::MIN_POSITIVE);
        let mut solution = None;
        for _ in 0..2 {
            let found = self.normal_equations(prior, variance)?;
            variance =
                (found.residual / (samples - self.width as f64)).max(floor).max(f64::MIN_POSITIVE);
            solution = Some(found);
        }
        let solution = solution?;
        let log_likelihood =
            -0.5 * (samples * variance.ln() + self.log_determinant + solution.residual / variance);
        log_likelihood.is_finite().then_some((solution, log_likelihood, variance))
    }

    fn normal_equations(&self, prior: &[f64], variance: f64) -> Option<Solution> {
        let width = self.width;
        let mut matrix = vec![0.0; width * width];
        let mut right = vec![0.0; width];
        for row in self.rows.chunks_exact(width + 1) {
            let data = row[width];
            for i in 0..width {
                right[i] += row[i] * data;
                for j in 0..=i {
                    matrix[i * width + j] += row[i] * row[j];
                }
            }
        }
        for i in 0..width {
            for j in 0..i {
                matrix[j * width + i] = matrix[i * width + j];
            }
            matrix[i * width + i] += prior[i] * variance;
        }
        let inverse = invert(&matrix, width)?;
        let coefficients: Vec<f64> = (0..width)
            .map(|i| (0..width).map(|j| inverse[i * width + j] * right[j]).sum())
            .collect();
        // Summed from the residuals themselves: of columns that are nearly alike, the difference of two
        // large sums is nothing but rounding.
        let unexplained: f64 = self.residuals(&coefficients).map(|it| it * it).sum();
        let penalty =
            coefficients.iter().zip(prior).map(|(c, p)| c * c * p * variance).sum::<f64>();
        Some(Solution { coefficients, inverse, residual: unexplained + penalty })
    }

    fn residuals<'a>(&'a self, coefficients: &'a [f64]) -> impl Iterator<Item = f64> + 'a {
        self.rows.chunks_exact(self.width + 1).map(move |row| {
            row[self.width] - coefficients.iter().zip(row).map(|(c, x)| c * x).sum::<f64>()
        })
    }

    /// Square root of one plus twice the positive autocorrelation left in the innovations.
    fn inflation(&self, coefficients: &[f64]) -> f64 {
        let residuals: Vec<f64> = self.residuals(coefficients).collect();
        let power: f64 = residuals.iter().map(|r| r * r).sum();
        if power <= 0.0 {
            return 1.0;
        }
        let threshold = 2.0 / (residuals.len() as f64).sqrt();
        let mut sum = 0.0;
        for lag in 1..=20.min(residuals.len() / 4) {
            let product: f64 = residuals.iter().zip(&residuals[lag..]).map(|(a, b)| a * b).sum();
            let correlation = product / power;
            if correlation < threshold {
                break;
            }
            sum += correlation;
        }
        (1.0 + 2.0 * sum).sqrt()
    }
}

/// Inverse of a symmetric positive definite matrix by Cholesky, columns scaled first so that
/// regressors of different units do not spoil it. `None` if it is not positive definite.
fn invert(matrix: &[f64], width: usize) -> Option<Vec<f64>> {
    let scale: Vec<f64> = (0..width)
        .map(|i| matrix[i * width + i])
        .map(|d| if d > 0.0 && d.is_finite() { Some(1.0 / d.sqrt()) } else { None })
        .collect::<Option<_>>()?;
    let mut lower = vec![0.0; width * width];
    for i in 0..width {
        for j in 0..=i {
            let mut sum = matrix[i * width + j] * scale[i] * scale[j];
            for k in 0..j {
                sum -= lower[i * width + k] * lower[j * width + k];
            }
            if i == j {
                if sum <= 1e-11 {
                    return None;
                }
                lower[i * width + i] = sum.sqrt();
            } else {
                lower[i * width + j] = sum / lower[j * width + j];
            }
        }
    }
    let mut inverse = vec![0.0; width * width];
    for column in 0..width {
        let mut solved = vec![0.0; width];
        for i in 0..width {
            let mut sum = if i == column { 1.0 } else { 0.0 };
            for k in 0..i {
                sum -= lower[i * width + k] * solved[k];
            }
            solved[i] = sum / lower[i * width + i];
        }
        for i in (0..width).rev() {
            let mut sum = solved[i];
            for k in i + 1..width {
                sum -= lower[k * width + i] * solved[k];
            }
            solved[i] = sum / lower[i * width + i];
        }
        for i in 0..width {
            inverse[i * width + column] = solved[i] * scale[i] * scale[column];
        }
    }
    Some(inverse)
}

#[cfg(test)]
mod tests;
