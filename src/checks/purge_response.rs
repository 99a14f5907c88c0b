//! Purge commanded at idle: does the tank feel it, and does the mixture?

use super::examination::Examination;
use super::outcome::{exact, instants, measure};
use super::scene::Scene;
use crate::analysis::drift_regression;
use crate::analysis::lag::{Between, first_order_at};
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use crate::recording::Recording;
use crate::units::{Estimate, Instant};
use crate::vehicle::Signal;

/// Vacuum at the usual command below which the tank felt nothing that a flow would do, Pa. Ten
/// litres a minute, the least usual purge flow, over the least usual vent resistance, at a tenth
/// of full command, still makes about 14 Pa (common practice, no source).
const FELT: f64 = 10.0;
/// Full-purge vacuum that a free vent path does not reach, Pa: the largest usual flow, 105 L/min,
/// over twice the usual resistance (common practice, no source).
const TOO_LOW: f64 = 5_000.0;
/// The mixture answers purge within seconds (common practice, no source), s.
const TRIM_LAG: f64 = 3.0;

pub(super) fn examine(examination: &Examination, recording: &Recording) -> Option<CheckResult> {
    let scene = &examination.scene;
    if scene.runs.is_empty() || !scene.purge_known {
        return None;
    }
    let Some(gain) = examination.purge() else {
        let idle = scene.select(|i| scene.running[i] && scene.plain[i]);
        let (&first, &last) = (idle.first()?, idle.last()?);
        // An idle of a few seconds says nothing about purge.
        if scene.times[last] - scene.times[first] < 40.0 {
            return None;
        }
        return Some(CheckResult {
            check: Check::PurgeResponse,
            outcome: Outcome::Inconclusive,
            reason: Reason::PurgeNeverCommanded,
            measures: Vec::new(),
            window: instants(scene.times[first], scene.times[last]),
        });
    };
    let mut measures = vec![
        measure(MeasureName::PurgeVacuum, gain.vacuum),
        measure(MeasureName::DeadBand, exact(100.0 * gain.dead_band)),
    ];
    measures.extend(gain.response.map(|time| measure(MeasureName::ResponseTime, time)));
    if let Some(trim) = trim_with_purge(scene, recording, gain.span) {
        measures.push(measure(MeasureName::TrimWithPurge, trim));
    }
    let felt = FELT.max(2.0 * scene.noise_floor());
    let (outcome, reason) = if gain.highest < 0.05 {
        (Outcome::Inconclusive, Reason::PurgeNeverCommanded)
    } else if gain.vacuum.high < -TOO_LOW {
        (Outcome::Fail, Reason::PulledTooLow)
    } else if gain.usual.high < -felt || (gain.usual.high < 0.0 && gain.usual.value < -2.0 * felt) {
        (Outcome::Pass, Reason::FollowsPurge)
    } else if gain.usual.low > -felt * 1.5 && gain.vacuum.low > -20.0 * felt {
        (Outcome::Fail, Reason::NoAnswerToPurge)
    } else {
        (Outcome::Inconclusive, Reason::BetweenLimits)
    };
    let window = instants(gain.span.0, gain.span.1);
    Some(CheckResult { check: Check::PurgeResponse, outcome, reason, measures, window })
}

/// Change of the short-term trim from no purge to the usual purge, per cent.
fn trim_with_purge(scene: &Scene, recording: &Recording, span: (f64, f64)) -> Option<Estimate> {
    let series = recording.series(Signal::ShortTrim1)?;
    let (times, values) =
        series.between(Instant::from_seconds(span.0), Instant::from_seconds(span.1));
    let times: Vec<f64> = times.iter().map(|time| time.seconds()).collect();
    if times.len() < 20 {
        return None;
    }
    let asked: Vec<f64> = (0..scene.times.len())
        .map(|i| if scene.unplugged[i] || !scene.running[i] { 0.0 } else { scene.purge[i] })
        .collect();
    let usual: Vec<f64> = asked.iter().copied().filter(|share| *share > 0.02).collect();
    let usual = usual.iter().sum::<f64>() / usual.len().max(1) as f64;
    let purge: Vec<f64> = first_order_at(&scene.times, &asked, TRIM_LAG, Between::Held, &times);
    let flow = first_order_at(&scene.flow.times, &scene.flow.psi, 1.0, Between::Straight, &times);
    let ones = vec![1.0; times.len()];
    let found = drift_regression::fit(
        &times,
        values,
        &[&ones, &purge, &flow],
        &[0.0, 1e-8, 1e-3],
        0.78 / 12.0_f64.sqrt(),
    )?;
    Some(
        Estimate::from_standard_error(found.coefficients[1], found.standard_error(1)).scaled(usual),
    )
}
