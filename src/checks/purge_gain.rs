//! What the commanded purge does to the tank.

use super::scene::{Scene, group_means};
use crate::analysis::drift_regression;
use crate::units::Estimate;

/// The tank's answer to purge.
#[derive(Clone, Copy, Debug)]
pub(super) struct PurgeGain {
    /// Tank pressure at full command and choked flow, Pa, extrapolated in a straight line above
    /// the dead band; negative when purge pulls.
    pub(super) vacuum: Estimate,
    /// Command below which nothing flows, 0 to 1.
    pub(super) dead_band: f64,
    /// Largest command seen with the valve plugged in, 0 to 1.
    pub(super) highest: f64,
    /// Tank pressure change at the usual command, Pa.
    pub(super) usual: Estimate,
    /// First and last time used, s.
    pub(super) span: (f64, f64),
}

/// Dead bands tried. Solenoid valves open from a few per cent of duty on (common practice, no
/// source).
const DEAD_BANDS: [f64; 5] = [0.0, 0.04, 0.08, 0.13, 0.2];
/// Samples that enter; the gain needs no more.
const MOST: usize = 900;
/// The straight line from dead band to full command is a model: its error, as a share.
const MODEL_SHARE: f64 = 0.08;

/// Regresses idle samples on the lagged purge flow. `None` if purge was never commanded with the
/// valve plugged in.
pub(super) fn fit(scene: &Scene, lag: f64, near_opening: &[bool]) -> Option<PurgeGain> {
    if !scene.purge_known || scene.flow.times.is_empty() {
        return None;
    }
    let indices = scene.select(|i| scene.running[i] && scene.plain[i] && !near_opening[i]);
    let on: Vec<f64> = indices
        .iter()
        .filter(|&&i| !scene.unplugged[i] && scene.purge[i] > 0.02)
        .map(|&i| scene.purge[i])
        .collect();
    if on.len() < 8 || indices.len() < 20 {
        return None;
    }
    let usual_command = on.iter().sum::<f64>() / on.len() as f64;
    let highest = on.iter().copied().fold(0.0, f64::max);
    let group = indices.len().div_ceil(MOST);
    let bands: Vec<f64> =
        DEAD_BANDS.into_iter().filter(|band| *band == 0.0 || *band < 0.6 * highest).collect();
    let thin = |values: &[f64]| group_means(values, &indices, group);
    let (times, pressure) = (thin(&scene.times), thin(&scene.pressure));
    let flow = thin(&scene.lagged_flow(lag));
    let asked: Vec<Vec<f64>> =
        bands.iter().map(|band| thin(&scene.lagged_purge(lag, *band))).collect();
    let span = (*times.first()?, *times.last()?);
    let width = (span.1 - span.0).max(1.0);
    let trend: Vec<f64> = times.iter().map(|t| (t - span.0) / width - 0.5).collect();
    let ones = vec![1.0; times.len()];
    let sets: Vec<[&[f64]; 4]> = asked.iter().map(|asked| [&*ones, asked, &trend, &flow]).collect();
    let variants: Vec<&[&[f64]]> = sets.iter().map(|set| &set[..]).collect();
    // The leak's own column is held near zero where idle never changed: it is the baseline.
    let (place, found) = drift_regression::best_of(
        &times,
        &pressure,
        &variants,
        &[1e-10, 1e-12, 1e-6, 1e-6],
        scene.noise_floor() / (group as f64).sqrt(),
    )?;
    let dead_band = bands.get(place).copied()?;
    let value = found.coefficients[1];
    let error = (found.standard_error(1).powi(2) + (MODEL_SHARE * value).powi(2)).sqrt();
    let vacuum = Estimate::from_standard_error(value, error);
    let opened = ((usual_command - dead_band) / (1.0 - dead_band)).max(0.0);
    Some(PurgeGain { vacuum, dead_band, highest, usual: vacuum.scaled(opened), span })
}
