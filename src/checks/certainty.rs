//! How sure a running check is, and whether it may stop.

use super::unplug_recovery::SLOW;
use crate::analysis::distribution::normal_probability;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome};

/// O'Brien and Fleming's constant for five looks, two-sided 5 % (Biometrics 35:549, 1979; from
/// memory): the boundary at look k of K is this times √(K/k), so that looking often does not create
/// false failures.
const BOUNDARY: f64 = 2.040;

/// How far, in standard errors, the check's number stands from where it would change its mind.
fn distance(result: &CheckResult) -> Option<f64> {
    match result.check {
        Check::IdleZero | Check::ThrottleFollow | Check::RepairProof => {
            let effect = result.measure(MeasureName::VacuumWithPurgeShut)?;
            let share = result.measure(MeasureName::DetectionLimitShare);
            let limit = result.measure(MeasureName::DetectionLimit)?.value;
            // Half a leak that matters on this car's scale; 8 Pa where there is none.
            let turn =
                share.map_or(8.0, |share| 0.01 * 100.0 * limit / share.value.max(1e-9)).max(4.0);
            Some((effect.value + turn).abs() / effect.standard_error().max(1e-9))
        }
        Check::UnplugRecovery => {
            let tau = result.measure(MeasureName::RecoveryTime)?;
            let low = tau.low.max(0.2 * tau.value);
            let error = (tau.high / low).ln() / 3.92;
            Some((tau.value / SLOW).ln().abs() / error.max(0.05))
        }
        _ => None,
    }
}

/// How sure the check is of the side it stands on, 0 to 1; `None` where only time tells.
pub(super) fn certainty(result: &CheckResult) -> Option<f64> {
    distance(result).map(|z| normal_probability(z).min(0.999))
}

/// Whether a check may end after `done` of at most `most` repetitions.
pub(super) fn may_stop(result: &CheckResult, done: u32, most: u32) -> bool {
    if result.outcome == Outcome::Inconclusive {
        return false;
    }
    let boundary = BOUNDARY * (f64::from(most) / f64::from(done.max(1))).sqrt();
    distance(result).is_some_and(|z| z >= boundary)
}

/// About how many more repetitions it takes: standard errors shrink with the root of their number.
pub(super) fn expected_left(result: Option<&CheckResult>, done: u32, least: u32, most: u32) -> u32 {
    let needed = result.and_then(distance).filter(|_| done > 0).map_or(least, |z| {
        (1..=most)
            .find(|&k| {
                let reach = z * (f64::from(k) / f64::from(done)).sqrt();
                reach >= BOUNDARY * (f64::from(most) / f64::from(k)).sqrt()
            })
            .unwrap_or(most)
    });
    needed.max(least).saturating_sub(done)
}
