//! Least squares by Householder reflections, and the few small symmetric operations around it.

/// A square matrix as rows.
pub(super) type Square = Vec<Vec<f64>>;

/// A pivot this small beside its own column means that the column is a mix of the ones before it.
/// (NIST's Filip, the hardest linear set in use, stays two decades above it.)
const DEPENDENT: f64 = 1e-13;

/// The factors of a tall matrix whose columns were first scaled to length one, so that neither
/// units nor powers of a variable spoil the conditioning.
pub(super) struct Qr {
    rows: usize,
    /// Reflectors below the diagonal, R above it, column after column.
    data: Vec<f64>,
    diagonal: Vec<f64>,
    lengths: Vec<f64>,
}

impl Qr {
    /// Factors `data` (`rows` values per column, column after column). `None` if there are fewer
    /// rows than columns, a column is zero or not finite, or columns depend on each other.
    pub(super) fn new(rows: usize, data: Vec<f64>) -> Option<Self> {
        let factors = Self::new_any_rank(rows, data)?;
        factors.diagonal.iter().all(|pivot| pivot.abs() > DEPENDENT).then_some(factors)
    }

    /// As [`Qr::new`], but dependent columns are allowed; zero columns keep length one.
    pub(super) fn new_any_rank(rows: usize, mut data: Vec<f64>) -> Option<Self> {
        if rows == 0 || data.is_empty() || !data.len().is_multiple_of(rows) {
            return None;
        }
        let columns = data.len() / rows;
        if rows < columns {
            return None;
        }
        let mut lengths = Vec::with_capacity(columns);
        for column in data.chunks_mut(rows) {
            let length = norm(column);
            if !length.is_finite() {
                return None;
            }
            let length = if length > 0.0 { length } else { 1.0 };
            column.iter_mut().for_each(|value| *value /= length);
            lengths.push(length);
        }
        let mut diagonal = Vec::with_capacity(columns);
        for k in 0..columns {
            let (done, rest) = data.split_at_mut((k + 1) * rows);
            let reflector = &mut done[k * rows + k..];
            let length = norm(reflector);
            if length == 0.0 {
                diagonal.push(0.0);
                continue;
            }
            let pivot = if reflector[0] > 0.0 { -length } else { length };
            reflector[0] -= pivot;
            // Scaled so that the reflection is I - v v'.
            let scale = 1.0 / (-pivot * reflector[0]).sqrt();
            reflector.iter_mut().for_each(|value| *value *= scale);
            for column in rest.chunks_mut(rows) {
                reflect(reflector, &mut column[k..]);
            }
            diagonal.push(pivot);
        }
        Some(Self { rows, data, diagonal, lengths })
    }

    pub(super) fn columns(&self) -> usize {
        self.diagonal.len()
    }

    /// Replaces `y` by Q'y: the first entries answer to the columns, the rest are the residual.
    pub(super) fn rotate(&self, y: &mut [f64]) {
        for k in 0..self.columns() {
            if self.diagonal[k] != 0.0 {
                reflect(&self.data[k * self.rows + k..(k + 1) * self.rows], &mut y[k..]);
            }
        }
    }

    /// Entry of R (of the original, unscaled columns).
    pub(super) fn r(&self, row: usize, column: usize) -> f64 {
        self.scaled_r(row, column) * self.lengths[column]
    }

    /// Solves R b = the first entries of a rotated right-hand side.
    pub(super) fn solve(&self, rotated: &[f64]) -> Vec<f64> {
        let p = self.columns();
        let mut b = vec![0.0; p];
        for k in (0..p).rev() {
            let known: f64 = (k + 1..p).map(|j| self.scaled_r(k, j) * b[j]).sum();
            b[k] = (rotated[k] - known) / self.diagonal[k];
        }
        b.iter_mut().zip(&self.lengths).for_each(|(value, length)| *value /= length);
        b
    }

    /// (X'X)⁻¹ = R⁻¹ R⁻'.
    pub(super) fn inverse_gram(&self) -> Square {
        let p = self.columns();
        let mut inverse = vec![vec![0.0; p]; p];
        for j in 0..p {
            inverse[j][j] = 1.0 / self.diagonal[j];
            for i in (0..j).rev() {
                let sum: f64 = (i + 1..=j).map(|k| self.scaled_r(i, k) * inverse[k][j]).sum();
                inverse[i][j] = -sum / self.diagonal[i];
            }
        }
        let mut gram = vec![vec![0.0; p]; p];
        for i in 0..p {
            for j in 0..=i {
                let sum: f64 = (i..p).map(|k| inverse[i][k] * inverse[j][k]).sum();
                gram[i][j] = sum / (self.lengths[i] * self.lengths[j]);
                gram[j][i] = gram[i][j];
            }
        }
        gram
    }

    /// ln det(X'X).
    pub(super) fn log_determinant_of_gram(&self) -> f64 {
        let pairs = self.diagonal.iter().zip(&self.lengths);
        2.0 * pairs.map(|(pivot, length)| (pivot * length).abs().ln()).sum::<f64>()
    }

    fn scaled_r(&self, row: usize, column: usize) -> f64 {
        if row == column { self.diagonal[row] } else { self.data[column * self.rows + row] }
    }
}

/// Inverse of a symmetric positive definite matrix by Cholesky's factors; `None` if it is not one.
pub(super) fn inverse_positive(matrix: &[Vec<f64>]) -> Option<Square> {
    let p = matrix.len();
    // Scaled to a unit diagonal first: the parameters of one fit differ by many decades.
    let scale: Vec<f64> = (0..p).map(|i| matrix[i][i].sqrt()).collect();
    if scale.iter().any(|value| !(*value > 0.0 && value.is_finite())) {
        return None;
    }
    let mut lower = vec![vec![0.0; p]; p];
    for i in 0..p {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let rest = matrix[i][j] / (scale[i] * scale[j]) - known;
            if i == j {
                if !(rest > 1e-14) {
                    return None;
                }
                lower[i][i] = rest.sqrt();
            } else {
                lower[i][j] = rest / lower[j][j];
            }
        }
    }
    let mut inverse_lower = vec![vec![0.0; p]; p];
    for j in 0..p {
        inverse_lower[j][j] = 1.0 / lower[j][j];
        for i in j + 1..p {
            let sum: f64 = (j..i).map(|k| lower[i][k] * inverse_lower[k][j]).sum();
            inverse_lower[i][j] = -sum / lower[i][i];
        }
    }
    let mut inverse = vec![vec![0.0; p]; p];
    for i in 0..p {
        for j in 0..=i {
            let sum: f64 = (i..p).map(|k| inverse_lower[k][i] * inverse_lower[k][j]).sum();
            inverse[i][j] = sum / (scale[i] * scale[j]);
            inverse[j][i] = inverse[i][j];
        }
    }
    Some(inverse)
}

/// A B A for symmetric A: the sandwich of a robust covariance.
pub(super) fn sandwich(bread: &[Vec<f64>], filling: &[Vec<f64>]) -> Square {
    let p = bread.len();
    let mut half = vec![vec![0.0; p]; p];
    for i in 0..p {
        for j in 0..p {
            half[i][j] = (0..p).map(|k| bread[i][k] * filling[k][j]).sum();
        }
    }
    let mut whole = vec![vec![0.0; p]; p];
    for i in 0..p {
        for j in 0..p {
            whole[i][j] = (0..p).map(|k| half[i][k] * bread[k][j]).sum();
        }
    }
    whole
}

/// Euclidean length, safe against overflow and underflow of the squares.
pub(super) fn norm(values: &[f64]) -> f64 {
    let squares: f64 = values.iter().map(|value| value * value).sum();
    if squares > 1e-280 && squares < 1e280 {
        return squares.sqrt();
    }
    let largest = values.iter().fold(0.0_f64, |most, value| most.max(value.abs()));
    if largest == 0.0 || !largest.is_finite() || squares.is_nan() {
        return if squares.is_nan() { f64::NAN } else { largest };
    }
    largest * values.iter().map(|value| (value / largest).powi(2)).sum::<f64>().sqrt()
}

/// Applies I − v v' to `column`.
fn reflect(v: &[f64], column: &mut [f64]) {
    let along: f64 = v.iter().zip(column.iter()).map(|(a, b)| a * b).sum();
    v.iter().zip(column.iter_mut()).for_each(|(a, b)| *b -= along * a);
}
