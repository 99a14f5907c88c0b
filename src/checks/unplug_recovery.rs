//! Valve unplugged and plugged: how fast does the tank come back, and how far?

use super::examination::Examination;
use super::outcome::{exact, instants, measure};
use super::recovery;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use crate::units::Estimate;

/// A free vent path and a quick sensor are done within 2 s: their time constant stays below this
/// (common practice, no source; 1 kPa at 50 L/min and 60 L give 0.71 s).
pub(super) const QUICK: f64 = 1.6;
/// A time constant beyond this is no free vent path with a quick sensor.
pub(super) const SLOW: f64 = 2.0;

pub(super) fn examine(examination: &Examination) -> Option<CheckResult> {
    let scene = &examination.scene;
    let in_plain = |span: &&(f64, f64)| {
        !scene.seals.iter().any(|seal| seal.0 < span.0 && span.0 < seal.1)
            && scene.runs.iter().any(|run| run.0 < span.0 && span.0 < run.1)
    };
    let plain: Vec<_> = scene.unplugs.iter().filter(in_plain).copied().collect();
    let first = plain
        .iter()
        .map(|span| span.0)
        .chain(examination.recoveries.iter().map(|fitted| fitted.start))
        .fold(f64::INFINITY, f64::min);
    if !first.is_finite() {
        return None;
    }
    let last = plain.last().map_or(first + 10.0, |span| span.1);
    let window = instants(first - 3.0, last);
    let inconclusive = |reason, measures| {
        Some(CheckResult {
            check: Check::UnplugRecovery,
            outcome: Outcome::Inconclusive,
            reason,
            measures,
            window,
        })
    };
    let Some(tau) = examination.recovery else {
        return inconclusive(Reason::TooLittleVacuum, Vec::new());
    };
    let mut measures = vec![
        measure(MeasureName::RecoveryTime, tau),
        measure(MeasureName::RecoveryT90, tau.scaled(std::f64::consts::LN_10)),
        measure(MeasureName::CycleSpread, exact(recovery::spread(&examination.recoveries))),
    ];
    let delays: Vec<f64> = examination
        .recoveries
        .iter()
        .filter_map(|fitted| {
            let word = scene.unplugs.iter().map(|span| span.0);
            word.map(|at| fitted.start - at).min_by(|a, b| a.abs().total_cmp(&b.abs()))
        })
        .collect();
    if !scene.plugging_inferred && !delays.is_empty() {
        let low = delays.iter().copied().fold(f64::MAX, f64::min);
        let high = delays.iter().copied().fold(f64::MIN, f64::max);
        let value = delays.iter().sum::<f64>() / delays.len() as f64;
        measures.push(measure(MeasureName::RecoveryDelay, Estimate { value, low, high }));
    }
    let residual = examination.rest.map(|rest| residual(examination, rest));
    if let Some(residual) = residual {
        measures.push(measure(MeasureName::ResidualVacuum, residual));
    }
    let deepest = examination.recoveries.iter().map(|fitted| fitted.before).fold(0.0, f64::min);
    let left_over = residual.is_some_and(|r| r.high < -(0.03 * deepest.abs()).max(8.0));
    let (outcome, reason) = if tau.low > SLOW {
        (Outcome::Fail, Reason::ReturnsSlowly)
    } else if tau.high > SLOW && tau.low == 0.0 {
        (Outcome::Inconclusive, Reason::PollingTooSlow)
    } else if tau.high > SLOW {
        (Outcome::Inconclusive, Reason::BetweenLimits)
    } else if left_over {
        (Outcome::Fail, Reason::ReturnsPartly)
    } else if tau.high < SLOW && tau.value < QUICK {
        (Outcome::Pass, Reason::ReturnsAtOnce)
    } else {
        (Outcome::Inconclusive, Reason::BetweenLimits)
    };
    Some(CheckResult { check: Check::UnplugRecovery, outcome, reason, measures, window })
}

/// What stays of the vacuum once the return is over, against the reading at rest.
fn residual(examination: &Examination, rest: Estimate) -> Estimate {
    let after: Vec<f64> = examination.recoveries.iter().map(|fitted| fitted.after).collect();
    let count = after.len() as f64;
    let mean = after.iter().sum::<f64>() / count;
    let spread = after.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (count * count);
    let single = examination.recoveries.iter().map(|r| r.residual).fold(0.0, f64::max) / 3.0;
    let error = (spread + single * single / count + rest.standard_error().powi(2)).sqrt();
    Estimate::from_standard_error(mean - rest.value, error)
}
