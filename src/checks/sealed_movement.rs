//! How far a reading moves while the vent is sealed, which way, and how long it had for it: a live one
//! follows the fuel, one that sticks does not.

use super::outcome::{exact, measure};
use super::scene::Scene;
use super::spans::Span;
use crate::evidence::{Measure, MeasureName};

/// A tank that was sealed this long does not hold still: fuel warms, cools and gives off vapour, s.
const LONG_ENOUGH_TO_MOVE: f64 = 30.0;
/// The hand may be on the vent while its first readings come in, s.
const BEGINS: f64 = 3.0;

/// What all holds of a visit showed together.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SealedMovement {
    /// The largest range of one hold, Pa; `None` where none was long enough.
    range: Option<f64>,
    /// The farthest rise of one hold above where it began, Pa.
    rise: f64,
    /// Seconds sealed, and those of them with the engine standing.
    sealed: f64,
    standing: f64,
}

impl SealedMovement {
    /// Takes in one hold with the samples in it.
    pub(super) fn add(&mut self, scene: &Scene, seal: Span, samples: &[usize]) {
        if seal.1 - seal.0 <= LONG_ENOUGH_TO_MOVE {
            return;
        }
        let Some(&first) = samples.first() else { return };
        let from = scene.times[first] + BEGINS;
        let early: Vec<f64> = samples
            .iter()
            .take_while(|&&i| scene.times[i] <= from)
            .map(|&i| scene.pressure[i])
            .collect();
        let began = early.iter().sum::<f64>() / early.len().max(1) as f64;
        let pressures = || samples.iter().map(|&i| scene.pressure[i]);
        let lowest = pressures().fold(f64::INFINITY, f64::min);
        let highest = pressures().fold(f64::NEG_INFINITY, f64::max);
        let range = (highest - lowest).max(0.0);
        self.range = Some(self.range.map_or(range, |known| known.max(range)));
        self.rise = self.rise.max(highest - began);
        self.sealed += seal.1 - seal.0;
        self.standing += samples
            .windows(2)
            .filter(|pair| !scene.running[pair[0]])
            .map(|pair| (scene.times[pair[1]] - scene.times[pair[0]]).min(3.0))
            .sum::<f64>();
    }

    /// The numbers, or nothing where no hold was long enough.
    pub(super) fn measures(&self) -> Vec<Measure> {
        let Some(range) = self.range else { return Vec::new() };
        vec![
            measure(MeasureName::SealedMovement, exact(range)),
            measure(MeasureName::SealedRise, exact(self.rise)),
            measure(MeasureName::SealedTime, exact(self.sealed)),
            measure(MeasureName::SealedStanding, exact(self.standing)),
        ]
    }
}
