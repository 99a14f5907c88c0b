//! What the commanded purge does to the tank.

use super::recovery::BOUND;
use super::scene::{Scene, group_means};
use super::shut_flow::rounding_error;
use super::spans::{Span, marks, merged};
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
    /// Time constant of the answer, where no return was timed and the answer tells it, s.
    pub(super) response: Option<Estimate>,
    /// First and last time used, s.
    pub(super) span: (f64, f64),
}

/// Dead bands tried. Solenoid valves open from a few per cent of duty on (common practice, no
/// source).
const DEAD_BANDS: [f64; 5] = [0.0, 0.04, 0.08, 0.13, 0.2];
/// A command that never rose above this may lie in the dead band of a sound valve: no answer to it
/// tells nothing.
const LEAST_COMMAND: f64 = 0.15;
/// Samples that enter; the gain needs no more.
const MOST: usize = 900;
/// The straight line from dead band to full command is a model: its error, as a share.
const MODEL_SHARE: f64 = 0.08;

/// People say what they did this much early or late, s.
const WORD: f64 = 1.7;
/// Time constants tried where no return was timed, s: from a quick sensor to a slow one.
const LAGS: [f64; 8] = [0.15, 0.3, 0.6, 1.2, 2.2, 4.0, 7.0, 12.0];

/// Regresses idle samples on the lagged purge flow. `None` if purge was never commanded with the
/// valve plugged in.
///
/// `recovery` is the time constant of the tank's return where one was timed; `after_sealing` is how
/// long the tank takes to forget a sealed vent or an open cap, s.
pub(super) fn fit(
    scene: &Scene,
    recovery: Option<f64>,
    after_sealing: f64,
    near_opening: &[bool],
) -> Option<PurgeGain> {
    if !scene.purge_known || scene.flow.times.is_empty() {
        return None;
    }
    let lags: Vec<f64> = match recovery {
        Some(tau) => vec![tau, 0.6 * tau, 1.6 * tau],
        None => LAGS.to_vec(),
    };
    // While a hand is at the connector, the vent or the cap, what flows is unknown, and afterwards
    // the tank takes its time to forget it.
    let lag = recovery.unwrap_or(1.0);
    let settle = WORD + (4.0 * lag).min(10.0);
    let edges = scene.unplugs.iter().flat_map(|(from, to)| [(*from, *from), (*to, *to)]);
    let sealed = scene.seals.iter().chain(&scene.caps);
    let disturbed: Vec<Span> = edges
        .map(|(from, to)| (from - WORD, to + settle))
        .chain(sealed.map(|(from, to)| (from - WORD, to + WORD + after_sealing)))
        .collect();
    let at_hand = marks(&scene.times, &merged(disturbed));
    let indices =
        scene.select(|i| scene.running[i] && scene.plain[i] && !near_opening[i] && !at_hand[i]);
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
    let bands: Vec<f64> = DEAD_BANDS
        .into_iter()
        // Every second one is near enough where the lag has to be found as well.
        .step_by(if recovery.is_none() { 2 } else { 1 })
        .filter(|band| *band == 0.0 || *band < 0.6 * highest)
        .collect();
    let thin = |values: &[f64]| group_means(values, &indices, group);
    let (times, pressure) = (thin(&scene.times), thin(&scene.pressure));
    let flow = thin(&scene.lagged_flow(lags.first().copied().unwrap_or(lag)));
    let tried: Vec<(f64, f64)> =
        lags.iter().flat_map(|lag| bands.iter().map(|band| (*lag, *band))).collect();
    let asked: Vec<Vec<f64>> =
        tried.iter().map(|(lag, band)| thin(&scene.lagged_purge(*lag, *band))).collect();
    let span = (*times.first()?, *times.last()?);
    let width = (span.1 - span.0).max(1.0);
    let trend: Vec<f64> = times.iter().map(|t| (t - span.0) / width - 0.5).collect();
    let ones = vec![1.0; times.len()];
    let sets: Vec<[&[f64]; 4]> = asked.iter().map(|asked| [&*ones, asked, &trend, &flow]).collect();
    let variants: Vec<&[&[f64]]> = sets.iter().map(|set| &set[..]).collect();
    // The leak's own column is held near zero where idle never changed: it is the baseline.
    let best = drift_regression::best_of(
        &times,
        &pressure,
        &variants,
        &[1e-10, 1e-12, 1e-6, 1e-6],
        scene.noise_floor() / (group as f64).sqrt(),
    )?;
    let (_, dead_band) = tried.get(best.place).copied()?;
    let response = recovery
        .is_none()
        .then(|| response_time(&lags, &best.log_likelihoods, bands.len()))
        .flatten();
    let found = best.fit;
    let value = found.coefficients[1];
    let opened = ((usual_command - dead_band) / (1.0 - dead_band)).max(0.0);
    // Where the noise is small against the step, either level is known to within rounding only.
    let rounding = rounding_error(scene.noise.min(found.noise * (group as f64).sqrt()), scene.step)
        * std::f64::consts::SQRT_2
        / opened.max(0.05);
    let error = found.standard_error(1).hypot(MODEL_SHARE * value).hypot(rounding);
    let vacuum = Estimate::from_standard_error(value, error);
    if highest < LEAST_COMMAND && vacuum.high >= 0.0 {
        return None;
    }
    // What does not answer has no time to answer in.
    let response = response.filter(|_| vacuum.high < 0.0);
    Some(PurgeGain { vacuum, dead_band, highest, usual: vacuum.scaled(opened), response, span })
}

/// The time constant from its profile likelihood over `lags`, the dead band maximised out; `None` if
/// every one of them explains the readings. Bounds are widened as for a model of one time constant
/// and neighbouring readings that share its error.
fn response_time(lags: &[f64], log_likelihoods: &[f64], bands: usize) -> Option<Estimate> {
    let profile: Vec<f64> = log_likelihoods
        .chunks(bands)
        .map(|chunk| 0.5 * chunk.iter().copied().fold(f64::NEG_INFINITY, f64::max))
        .collect();
    let (peak, top) = profile.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    let inside = |index: &usize| profile[*index] > top - BOUND;
    let first = (0..lags.len()).find(inside)?;
    let last = (0..lags.len()).rev().find(inside)?;
    // The bound lies between the last place inside and the first outside: take the outer one.
    let low = first.checked_sub(1).map_or(0.0, |outside| lags[outside]);
    let high = lags.get(last + 1).copied().unwrap_or(f64::INFINITY);
    (low > 0.0 || high.is_finite()).then_some(Estimate { value: lags[peak], low, high })
}
