//! How sure a running check is, and whether it may stop.

use std::sync::OnceLock;

use super::unplug_recovery::SLOW;
use crate::analysis::detection_limit::Sides;
use crate::analysis::distribution::normal_probability;
use crate::analysis::sequential::{self, Spending};
use crate::evidence::{Check, CheckResult, MeasureName, Outcome};

/// Error that all looks at a check together may spend, two-sided.
const LEVEL: f64 = 0.05;
/// Most repetitions that any check asks for.
const MOST_LOOKS: usize = 12;

/// How many standard errors a decision at look `done` of `most` takes: the error is spent as O'Brien
/// and Fleming's rule does, so that looking often does not create false failures.
fn boundary(done: u32, most: u32) -> f64 {
    static TABLES: [OnceLock<Vec<f64>>; MOST_LOOKS] = [const { OnceLock::new() }; MOST_LOOKS];
    let most = (most as usize).clamp(1, MOST_LOOKS);
    let done = (done as usize).clamp(1, most);
    let table = TABLES[most - 1].get_or_init(|| {
        let fractions: Vec<f64> = (1..=most).map(|look| look as f64 / most as f64).collect();
        sequential::boundaries(&fractions, LEVEL, Sides::Two, Spending::OBrienFleming)
            .unwrap_or_default()
    });
    table.get(done - 1).copied().unwrap_or(f64::INFINITY)
}

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
    distance(result).is_some_and(|z| z >= boundary(done, most))
}

/// About how many more repetitions it takes: standard errors shrink with the root of their number.
pub(super) fn expected_left(result: Option<&CheckResult>, done: u32, least: u32, most: u32) -> u32 {
    let needed = result.and_then(distance).filter(|_| done > 0).map_or(least, |z| {
        (1..=most)
            .find(|&k| {
                let reach = z * (f64::from(k) / f64::from(done)).sqrt();
                reach >= boundary(k, most)
            })
            .unwrap_or(most)
    });
    needed.max(least).saturating_sub(done)
}

#[cfg(test)]
mod tests {
    use super::boundary;

    /// Lan and DeMets' spending form of O'Brien and Fleming's rule, five equal looks, two-sided 5 %:
    /// 4.877, 3.357, 2.680, 2.290, 2.031 (Jennison and Turnbull 2000, table 7.1's case; from memory).
    #[test]
    fn early_looks_take_more() {
        let published = [4.877, 3.357, 2.680, 2.290, 2.031];
        for (done, expected) in (1..).zip(published) {
            assert!((boundary(done, 5) - expected).abs() < 0.003, "{done}: {}", boundary(done, 5));
        }
    }
}
