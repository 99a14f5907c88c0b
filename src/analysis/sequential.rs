//! Looking at the data again and again without finding more than there is: group-sequential
//! boundaries by alpha spending (Lan & DeMets 1983).
//!
//! The statistic at information fraction t (0 < t ≤ 1) is Z(t) = B(t)/√t with B a Brownian motion
//! that drifts by `drift` in all. Crossing probabilities are integrated numerically from look to
//! look (Armitage, McPherson & Rowe 1969).

use super::detection_limit::Sides;
use super::distribution::{normal_density, normal_quantile, normal_survival};

/// How the error is spread over the looks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Spending {
    /// 2 − 2Φ(z_{a/2}/√t): next to nothing early, nearly the whole level at the end.
    OBrienFleming,
    /// a ln(1 + (e − 1) t): about the same boundary at every look.
    Pocock,
}

impl Spending {
    /// Error spent on one side by information fraction `fraction`, of `level` in all.
    pub fn spent(self, level: f64, fraction: f64) -> f64 {
        let t = fraction.clamp(0.0, 1.0);
        if t == 0.0 {
            return 0.0;
        }
        match self {
            Self::OBrienFleming => {
                2.0 * normal_survival(normal_quantile(1.0 - level / 2.0) / t.sqrt())
            }
            Self::Pocock => level * ((std::f64::consts::E - 1.0) * t).ln_1p(),
        }
        .min(level)
    }
}

/// Boundaries for Z at the given information fractions (increasing, the last at most 1), spending
/// `alpha` in all; with two sides each gets half. Later boundaries depend on the looks already
/// taken only, so the next one can be asked for when its fraction is known. An early boundary may
/// be infinite. `None` for fractions or level without meaning.
pub fn boundaries(
    fractions: &[f64],
    alpha: f64,
    sides: Sides,
    spending: Spending,
) -> Option<Vec<f64>> {
    if !valid(fractions) || !(alpha > 0.0 && alpha < 0.5) {
        return None;
    }
    let level = match sides {
        Sides::One => alpha,
        Sides::Two => alpha / 2.0,
    };
    let mut walk = Walk::new(sides, 0.0);
    let mut spent = 0.0;
    let mut found = Vec::with_capacity(fractions.len());
    for fraction in fractions {
        let total = spending.spent(level, *fraction);
        let boundary = walk.boundary_for(*fraction, total - spent);
        walk.look(*fraction, boundary);
        spent = total;
        found.push(boundary);
    }
    Some(found)
}

/// The one-sided probability each boundary stands for: compare a t test's own with it where the
/// statistic is not normal.
pub fn nominal_levels(boundaries: &[f64]) -> Vec<f64> {
    boundaries.iter().map(|boundary| normal_survival(*boundary)).collect()
}

/// Probability of having crossed the upper boundary by each look, when the mean of Z(1) is `drift`.
/// With two sides, crossing the lower boundary first ends the walk without counting.
pub fn crossing_probabilities(
    fractions: &[f64],
    boundaries: &[f64],
    sides: Sides,
    drift: f64,
) -> Option<Vec<f64>> {
    if !valid(fractions) || fractions.len() != boundaries.len() || !drift.is_finite() {
        return None;
    }
    let mut walk = Walk::new(sides, drift);
    let mut total = 0.0;
    Some(
        fractions
            .iter()
            .zip(boundaries)
            .map(|(fraction, boundary)| {
                total += walk.upper_crossing(*fraction, *boundary);
                walk.look(*fraction, *boundary);
                total
            })
            .collect(),
    )
}

/// Information fraction at which a walk with this drift is expected to end.
pub fn expected_fraction(
    fractions: &[f64],
    boundaries: &[f64],
    sides: Sides,
    drift: f64,
) -> Option<f64> {
    let up = crossing_probabilities(fractions, boundaries, sides, drift)?;
    let down = match sides {
        Sides::One => vec![0.0; up.len()],
        Sides::Two => crossing_probabilities(fractions, boundaries, sides, -drift)?,
    };
    let mut expected = fractions[0];
    for k in 1..fractions.len() {
        let going = (1.0 - up[k - 1] - down[k - 1]).max(0.0);
        expected += going * (fractions[k] - fractions[k - 1]);
    }
    Some(expected)
}

/// The drift at which the upper boundary is crossed by the last look with probability `power`.
pub fn drift_for_power(
    fractions: &[f64],
    boundaries: &[f64],
    sides: Sides,
    power: f64,
) -> Option<f64> {
    let reached = |drift: f64| -> Option<f64> {
        crossing_probabilities(fractions, boundaries, sides, drift)?.last().copied()
    };
    if !(power > 0.0 && power < 1.0) {
        return None;
    }
    let (mut low, mut high) = (0.0, 12.0);
    reached(high).filter(|most| *most >= power)?;
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if reached(middle)? < power { low = middle } else { high = middle }
    }
    Some(0.5 * (low + high))
}

fn valid(fractions: &[f64]) -> bool {
    let rising = fractions.windows(2).all(|pair| pair[0] < pair[1]);
    let first = fractions.first().is_some_and(|first| *first > 0.0);
    first && rising && fractions.last().is_some_and(|last| *last <= 1.0 + 1e-12)
}

/// So many standard deviations out nothing is left to integrate.
const FAR: f64 = 8.5;
/// Grid points for each standard deviation of the next step.
const PER_DEVIATION: f64 = 12.0;

/// The part of the Brownian motion that has not crossed yet, as a density on a grid.
struct Walk {
    sides: Sides,
    drift: f64,
    fraction: f64,
    /// Positions and Simpson-weighted densities; before the first look all mass sits at zero.
    grid: Vec<(f64, f64)>,
}

impl Walk {
    fn new(sides: Sides, drift: f64) -> Self {
        Self { sides, drift, fraction: 0.0, grid: vec![(0.0, 1.0)] }
    }

    fn upper_crossing(&self, fraction: f64, boundary: f64) -> f64 {
        if boundary.is_infinite() {
            return 0.0;
        }
        let step = fraction - self.fraction;
        let edge = boundary * fraction.sqrt() - self.drift * step;
        let root = step.sqrt();
        self.grid.iter().map(|(x, mass)| mass * normal_survival((edge - x) / root)).sum()
    }

    /// The boundary that is crossed upward with probability `wanted`.
    fn boundary_for(&self, fraction: f64, wanted: f64) -> f64 {
        if !(wanted > 1e-17) {
            return f64::INFINITY;
        }
        let (mut low, mut high) = (-FAR, FAR);
        for _ in 0..60 {
            let middle = 0.5 * (low + high);
            if self.upper_crossing(fraction, middle) > wanted {
                low = middle;
            } else {
                high = middle;
            }
        }
        0.5 * (low + high)
    }

    /// Moves on to the look at `fraction` and takes away what lies beyond its boundary.
    fn look(&mut self, fraction: f64, boundary: f64) {
        let step = fraction - self.fraction;
        let root = step.sqrt();
        let middle = self.drift * fraction;
        let reach = FAR * fraction.sqrt();
        let edge = boundary * fraction.sqrt();
        let high = edge.min(middle + reach);
        let low = match self.sides {
            Sides::Two => (-edge).max(middle - reach),
            Sides::One => middle - reach,
        };
        if !(high > low) {
            self.grid.clear();
            self.fraction = fraction;
            return;
        }
        let half = ((high - low) / root * PER_DEVIATION / 2.0).ceil().clamp(40.0, 1500.0) as u32;
        let panels = 2 * half;
        let h = (high - low) / f64::from(panels);
        let shift = self.drift * step;
        let grid = (0..=panels)
            .map(|i| {
                let x = low + f64::from(i) * h;
                let density: f64 = self
                    .grid
                    .iter()
                    .map(|(from, mass)| mass * normal_density((x - from - shift) / root))
                    .sum::<f64>()
                    / root;
                let weight = match i {
                    0 => 1.0,
                    i if i == panels => 1.0,
                    i if i % 2 == 1 => 4.0,
                    _ => 2.0,
                };
                (x, density * weight * h / 3.0)
            })
            .collect();
        self.grid = grid;
        self.fraction = fraction;
    }
}
