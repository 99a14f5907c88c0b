//! A shut valve's flow in units a person can use, and what it means for the check.

use super::examination::Examination;
use super::outcome::{detection_limit, exact, measure};
use super::shut_flow::ShutFlow;
use crate::analysis::orifice_flow;
use crate::evidence::{Measure, MeasureName, Outcome, Reason};
use crate::units::Estimate;

/// A leak of this share of full purge flow matters: it is what the program promises to find on a
/// good sensor.
pub(super) const SHARE_THAT_MATTERS: f64 = 0.02;
/// Below this a flow is no reason to replace a valve, whatever the statistics say.
pub(super) const SHARE_OF_A_SOUND_VALVE: f64 = 0.004;
/// What counts as still where no purge scale is known, Pa.
pub(super) const STILL: f64 = 4.0;
/// The limit that a pass must reach where no purge scale is known, Pa.
const LIMIT_WITHOUT_SCALE: f64 = 40.0;
/// Resistance of a free vent path, Pa per L/min: 1 kPa at 40 to 60 L/min (common practice, no
/// source); a factor of 1.8 either way is kept as its uncertainty.
const VENT_RESISTANCE: f64 = 20.0;
const VENT_FACTOR: f64 = 1.8;

/// The measures of a shut valve's flow.
pub(super) fn measures(examination: &Examination, flow: &ShutFlow) -> Vec<Measure> {
    let limit = detection_limit(flow.standard_error);
    let mut list = vec![
        measure(MeasureName::VacuumWithPurgeShut, flow.effect),
        measure(MeasureName::DetectionLimit, exact(limit)),
    ];
    if let Some(full) = examination.full_purge() {
        let share = flow.effect.scaled(100.0 / full);
        let purge = examination.purge().map_or(0.0, |gain| {
            gain.vacuum.standard_error() / gain.vacuum.value.abs() * share.value
        });
        let error = share.standard_error().hypot(purge);
        list.push(measure(
            MeasureName::ShareOfPurge,
            Estimate::from_standard_error(share.value, error),
        ));
        list.push(measure(MeasureName::DetectionLimitShare, exact(limit / full.abs() * 100.0)));
    }
    if flow.effect.high < 0.0 {
        let litres = |vacuum: f64, factor: f64| (-vacuum).max(0.0) / (VENT_RESISTANCE * factor);
        let value = litres(flow.effect.value, 1.0);
        let low = litres(flow.effect.high, VENT_FACTOR);
        let high = litres(flow.effect.low, 1.0 / VENT_FACTOR);
        list.push(measure(MeasureName::LeakFlow, Estimate { value, low, high }));
        let pressure = examination.scene.barometric * 1000.0;
        // Into a manifold at a third of atmospheric: choked.
        let hole = |flow| {
            orifice_flow::diameter_of_flow(flow, 0.7, pressure, pressure / 3.0, 293.15)
                .map_or(0.0, |metres| metres * 1000.0)
        };
        list.push(measure(
            MeasureName::EquivalentHole,
            Estimate { value: hole(value), low: hole(low), high: hole(high) },
        ));
    }
    list
}

/// Pass, fail or open, from the effect and its bounds.
pub(super) fn outcome(
    examination: &Examination,
    flow: &ShutFlow,
    moves: Reason,
    still: Reason,
) -> (Outcome, Reason) {
    let scale = examination.full_purge().map(f64::abs);
    let sound = scale.map_or(STILL, |full| (SHARE_OF_A_SOUND_VALVE * full).max(STILL / 2.0));
    let matters =
        scale.map_or(LIMIT_WITHOUT_SCALE, |full| (SHARE_THAT_MATTERS * full).max(2.0 * STILL));
    if flow.effect.high < -sound {
        return (Outcome::Fail, moves);
    }
    if detection_limit(flow.standard_error) > matters {
        return (Outcome::Inconclusive, Reason::LimitTooCoarse);
    }
    if flow.effect.low > -matters && flow.effect.high < matters {
        return (Outcome::Pass, still);
    }
    (Outcome::Inconclusive, Reason::BetweenLimits)
}
