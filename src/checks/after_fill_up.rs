//! The first minutes after a fill-up: a leaking purge valve feeds vapour with the purge shut.

use super::examination::Examination;
use super::outcome::{exact, instants, measure};
use crate::analysis::descriptive;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use crate::recording::{Recording, Series};
use crate::units::{Estimate, Instant};
use crate::vehicle::Signal;

/// How long the engine is watched, s.
const WATCHED: f64 = 240.0;
/// An engine whose speed comes back within this time has stumbled and not stopped, s.
const STUMBLE: f64 = 3.0;
/// The first part, in which a rich spell shows (common practice, no source), s.
const SPELL: f64 = 60.0;
/// A correction beyond this is more than the usual hunting of the short-term trim, per cent
/// (common practice, no source: ±5 % is normal).
pub const USUAL_TRIM: f64 = 6.0;

pub(super) fn examine(examination: &Examination, recording: &Recording) -> Option<CheckResult> {
    let scene = &examination.scene;
    let &filled = scene.refuelled.last()?;
    let start = scene.runs.iter().map(|run| run.0).find(|from| *from > filled)?;
    // A rich spell can all but stall the engine: a dip of its speed ends no run.
    let end = scene
        .runs
        .iter()
        .filter(|run| run.0 >= start)
        .fold(start, |end, run| if run.0 - end < STUMBLE { run.1 } else { end })
        .min(start + WATCHED);
    let window = instants(start, end);
    let Some(trim) = recording.series(Signal::ShortTrim1) else {
        return Some(CheckResult {
            check: Check::AfterFillUp,
            outcome: Outcome::Inconclusive,
            reason: Reason::SignalMissing(Signal::ShortTrim1),
            measures: Vec::new(),
            window,
        });
    };
    // The purge may open on its own: then vapour is expected, and the spell ends there.
    let purged = scene
        .select(|i| scene.times[i] > start && scene.running[i] && !scene.shut[i])
        .first()
        .map_or(f64::INFINITY, |&i| scene.times[i]);
    let spell_end = (start + SPELL).min(purged).min(end);
    let spell = values(trim, start + 4.0, spell_end);
    let rest_from = (spell_end + 5.0).max(start + 0.6 * (end - start));
    let later = values(trim, rest_from, end);
    if spell.len() < 10 || spell_end - start < 15.0 {
        return Some(CheckResult {
            check: Check::AfterFillUp,
            outcome: Outcome::Inconclusive,
            reason: Reason::TooFewSamples(Signal::ShortTrim1),
            measures: Vec::new(),
            window,
        });
    }
    // The usual trim: before the fill-up if the engine ran then, else once the spell is over.
    let before = values(trim, scene.times.first().copied().unwrap_or(0.0), filled);
    let (reference, reference_error) = if before.len() >= 20 {
        mean_and_error(&before)
    } else if later.len() >= 10 && purged > end {
        mean_and_error(&later)
    } else {
        (0.0, USUAL_TRIM / 2.0)
    };
    let (mean, error) = mean_and_error(&spell);
    let excursion = Estimate::from_standard_error(mean - reference, error.hypot(reference_error));
    let mut measures = vec![measure(MeasureName::TrimExcursion, excursion)];
    if let Some(speed) = recording.series(Signal::EngineSpeed)
        && let (Some(early), Some(late)) = (
            roughness(&values(speed, start + 4.0, spell_end)),
            roughness(&values(speed, rest_from, end)),
        )
        && late > 0.0
    {
        measures.push(measure(MeasureName::SpeedRoughness, exact(early / late)));
    }
    let (outcome, reason) = if excursion.high < -USUAL_TRIM {
        (Outcome::Fail, Reason::RichSpell)
    } else if excursion.low > -2.0 * USUAL_TRIM && excursion.value > -USUAL_TRIM {
        (Outcome::Pass, Reason::NoRichSpell)
    } else {
        (Outcome::Inconclusive, Reason::BetweenLimits)
    };
    Some(CheckResult { check: Check::AfterFillUp, outcome, reason, measures, window })
}

fn values(series: &Series, from: f64, to: f64) -> Vec<f64> {
    series.between(Instant::from_seconds(from), Instant::from_seconds(to)).1.to_vec()
}

/// Mean with the error of serially correlated samples (Bartlett 1935).
fn mean_and_error(values: &[f64]) -> (f64, f64) {
    let mean = descriptive::mean(values).unwrap_or(0.0);
    let deviation = descriptive::standard_deviation(values).unwrap_or(0.0);
    let correlation = descriptive::lag_one_autocorrelation(values).unwrap_or(0.0).clamp(0.0, 0.97);
    let count = values.len() as f64 * (1.0 - correlation) / (1.0 + correlation);
    (mean, (deviation * deviation / count.max(2.0) + 0.05).sqrt())
}

/// Spread of engine speed from sample to sample, rpm.
fn roughness(values: &[f64]) -> Option<f64> {
    let changes: Vec<f64> = values.windows(2).map(|pair| (pair[1] - pair[0]).abs()).collect();
    (changes.len() >= 10).then(|| descriptive::mean(&changes)).flatten()
}
