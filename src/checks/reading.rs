//! What a reading can show: its step, its noise, and whether it is served twice.

use crate::analysis::{descriptive, resolution};
use crate::recording::Recording;
use crate::units::Instant;
use crate::vehicle::Signal;

use super::spans::Span;

/// Standard deviation of a reading about its neighbours: robust, from second differences, so that
/// slow movement does not count.
pub(super) fn local_noise(values: &[f64], step: f64) -> f64 {
    let differences: Vec<f64> =
        values.windows(3).map(|w| (w[1] - (w[0] + w[2]) / 2.0).abs()).collect();
    // Var(b - (a + c)/2) = 1.5 of one reading's.
    let spread = descriptive::median(&differences).unwrap_or(0.0) * 1.4826 / 1.5_f64.sqrt();
    spread.max(resolution::floor(Some(step)))
}

/// Whether values come in runs of equal ones as from an adapter that serves the last answer again:
/// far more repeats than the reading's own step explains.
pub(super) fn is_stale(recording: &Recording, signal: Signal, whole: Span) -> bool {
    let Some(series) = recording.series(signal) else { return false };
    let (_, values) =
        series.between(Instant::from_seconds(whole.0), Instant::from_seconds(whole.1));
    if values.len() < 60 {
        return false;
    }
    let distinct = {
        let mut sorted = values.to_vec();
        sorted.sort_by(f64::total_cmp);
        sorted.dedup();
        sorted.len()
    };
    let repeats = values.windows(2).filter(|pair| pair[0] == pair[1]).count();
    distinct > 40 && repeats * 2 > values.len()
}
