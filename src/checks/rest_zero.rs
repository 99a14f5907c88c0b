//! Key on, engine off, system vented: the sensor's zero, noise and step.

use super::examination::Examination;
use super::outcome::{exact, instants, measure};
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use crate::units::Estimate;

/// How far from atmospheric a sound sensor reads with the system vented, Pa: ±0.25 kPa (common
/// practice, no source; the manual's value replaces it).
pub(super) const TOLERANCE: f64 = 250.0;

pub(super) fn examine(examination: &Examination) -> Option<CheckResult> {
    let scene = &examination.scene;
    let rest = examination.rest?.widened(scene.zero_doubt);
    let at_rest = scene.select(|i| !scene.running[i] && scene.plain[i]);
    let (first, last) = (*at_rest.first()?, *at_rest.last()?);
    let movement = scene.movement();
    let mut measures = vec![
        measure(MeasureName::RestPressure, rest),
        measure(
            MeasureName::Noise,
            Estimate { value: scene.noise, low: 0.8 * scene.noise, high: 1.25 * scene.noise },
        ),
        measure(
            MeasureName::Step,
            Estimate { value: scene.step, low: scene.step, high: scene.step },
        ),
        measure(MeasureName::ChangingReadings, exact(changing_readings(examination))),
        measure(MeasureName::Movement, Estimate { value: movement, low: movement, high: movement }),
    ];
    if let Some(still) = examination.shut_valve() {
        measures.push(measure(MeasureName::RestDrift, still.drift));
    }
    let (outcome, reason) = if never_moves(examination) {
        (Outcome::Fail, Reason::NeverMoves)
    } else if scene.zero_doubt > 0.0 {
        (Outcome::Inconclusive, Reason::ZeroTaken)
    } else if rest.low > -TOLERANCE && rest.high < TOLERANCE {
        (Outcome::Pass, Reason::ReadsAtmospheric)
    } else if rest.low > TOLERANCE || rest.high < -TOLERANCE {
        (Outcome::Fail, Reason::ReadsOffAtmospheric)
    } else {
        (Outcome::Inconclusive, Reason::BetweenLimits)
    };
    let window = instants(scene.times[first], scene.times[last]);
    Some(CheckResult { check: Check::RestZero, outcome, reason, measures, window })
}

/// Share of the readings of a still tank that differ from the one before, %: the life of an instrument
/// that noise never lets rest.
fn changing_readings(examination: &Examination) -> f64 {
    let pressure = &examination.scene.pressure;
    let (mut changed, mut pairs) = (0_u32, 0_u32);
    for pair in examination.still.windows(2).filter(|pair| pair[1] == pair[0] + 1) {
        pairs += 1;
        changed += u32::from((pressure[pair[1]] - pressure[pair[0]]).abs() > 1e-9);
    }
    100.0 * f64::from(changed) / f64::from(pairs.max(1))
}

/// Whether the reading stood, or flickered by one step, over everything that must have moved the
/// tank: a purge that was commanded for a while.
pub(super) fn never_moves(examination: &Examination) -> bool {
    let scene = &examination.scene;
    let on = scene
        .select(|i| {
            scene.running[i] && !scene.unplugged[i] && scene.purge[i] > 0.08 && scene.plain[i]
        })
        .len();
    let mut distinct = scene.pressure.clone();
    distinct.sort_by(f64::total_cmp);
    distinct.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
    scene.times.len() >= 60 && on >= 20 && distinct.len() <= 2
}
