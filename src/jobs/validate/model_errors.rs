//! What the numbers of a visit miss of the car's own by more than their bounds say: the model errors that the
//! diagnosis weighs them with.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::fs;
use std::path::Path;

use serde::Serialize;

use super::VisitOutcome;
use crate::evidence::{Check, Findings, MeasureName};
use crate::jobs::JobError;
use crate::units::Estimate;
use crate::vehicle::Fault;
use crate::virtual_car::Truth;

/// One number of one visit: how far off it was, in its logarithm, and what its bounds claim.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Missed {
    name: MeasureName,
    error: f64,
    claimed: f64,
}

/// The same of all visits. Errors are shares, as logarithms.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ModelError {
    /// The measure.
    pub measure: &'static str,
    /// Visits that gave it.
    pub visits: u32,
    /// Median error.
    pub bias: f64,
    /// Median standard error that the bounds claim.
    pub claimed: f64,
    /// What has to be added to that, in squares, to explain half of the errors.
    pub spread: f64,
}

/// Numbers that are weighed as shares of what the car has, each with the check that gives it.
const WEIGHED: [(Check, MeasureName); 8] = [
    (Check::PurgeResponse, MeasureName::PurgeVacuum),
    (Check::UnplugRecovery, MeasureName::RecoveryTime),
    (Check::IdleZero, MeasureName::IdleChange),
    (Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut),
    (Check::SealedHold, MeasureName::SealedFlow),
    (Check::SealedHold, MeasureName::VentTime),
    (Check::SealedHold, MeasureName::SealedHole),
    (Check::SealedHold, MeasureName::SealedLeak),
];

/// What the car has of it; none where a fault of another kind has its say in it, or where it is so small
/// that the share tells nothing.
fn true_value(name: MeasureName, truth: &Truth) -> Option<f64> {
    let (value, fault) = match name {
        MeasureName::PurgeVacuum => (truth.purge_vacuum.0, Fault::VentPathRestricted),
        MeasureName::RecoveryTime => {
            (truth.recovery_seconds + truth.sensor_lag_seconds, Fault::VentPathRestricted)
        }
        MeasureName::VentTime => (truth.recovery_seconds, Fault::VentPathRestricted),
        MeasureName::SealedFlow => (truth.full_purge_flow.0, Fault::VentPathRestricted),
        MeasureName::VacuumWithPurgeShut | MeasureName::IdleChange
            if truth.leak_pressure.0 < -20.0 =>
        {
            (truth.leak_pressure.0, Fault::PurgeValveLeaking)
        }
        MeasureName::SealedLeak if truth.leak_share.0 > 0.5 => {
            (truth.leak_share.0, Fault::PurgeValveLeaking)
        }
        MeasureName::SealedHole if truth.hole.0 > 0.0 => (truth.hole.0, Fault::VaporLeak),
        _ => return None,
    };
    let alone = truth.second.is_none() && truth.fault.is_none_or(|it| it == fault);
    alone.then_some(value)
}

/// The errors of one visit's numbers.
pub(super) fn missed(findings: &Findings, truth: &Truth) -> Vec<Missed> {
    let told = |(check, name): (Check, MeasureName)| {
        // A flow that was not timed is a guess, and says so.
        let timed = findings.measure(check, MeasureName::SealedDraw).is_some();
        let estimate =
            findings.measure(check, name).filter(|_| name != MeasureName::SealedFlow || timed)?;
        let share = estimate.value / true_value(name, truth)?;
        let claimed = claimed(&estimate)?;
        (share > 0.0).then(|| Missed { name, error: share.ln(), claimed })
    };
    WEIGHED.into_iter().filter_map(told).collect()
}

/// The standard error, in the logarithm, that two-sided bounds stand for. An upper bound alone claims none.
fn claimed(estimate: &Estimate) -> Option<f64> {
    let error = estimate.log_standard_error();
    (estimate.low * estimate.high > 0.0 && error.is_finite()).then_some(error)
}

/// The table over all visits.
pub(super) fn table(outcomes: &[VisitOutcome]) -> Vec<ModelError> {
    let mut by_name: BTreeMap<MeasureName, Vec<Missed>> = BTreeMap::new();
    for missed in outcomes.iter().flat_map(|visit| &visit.missed) {
        by_name.entry(missed.name).or_default().push(*missed);
    }
    by_name
        .into_iter()
        .map(|(name, missed)| ModelError {
            measure: name.name(),
            visits: missed.len() as u32,
            bias: median(missed.iter().map(|it| it.error)),
            claimed: median(missed.iter().map(|it| it.claimed)),
            spread: spread(&missed),
        })
        .collect()
}

/// Writes the table to a file: a row for each number.
///
/// # Errors
/// When the file cannot be written.
pub fn write_model_errors(table: &[ModelError], file: &Path) -> Result<(), JobError> {
    let mut text = String::from("measure,visits,bias,claimed,spread\n");
    for row in table {
        let ModelError { measure, visits, bias, claimed, spread } = row;
        // Writing into a string cannot fail.
        let _ = writeln!(text, "{measure},{visits},{bias:.3},{claimed:.3},{spread:.3}");
    }
    fs::write(file, text).map_err(|error| JobError::file(file, &error))
}

/// Half of all normal errors are smaller than this share of their deviation (0.6745, the quartile of the
/// standard normal).
const HALF: f64 = 0.674_489_750_196_081_7;

/// The error, the same for all, with which the claimed ones make half of all errors likely. Wild ones, of a
/// hand that did something else, do not count in a median; they are the broad component's to explain.
fn spread(missed: &[Missed]) -> f64 {
    let inside = |spread: f64| {
        median(missed.iter().map(|it| it.error.abs() / it.claimed.hypot(spread))) < HALF
    };
    let (mut low, mut high) = (0.0, 4.0);
    if inside(low) {
        return 0.0;
    }
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        *(if inside(middle) { &mut high } else { &mut low }) = middle;
    }
    high
}

fn median(values: impl Iterator<Item = f64>) -> f64 {
    let values: Vec<f64> = values.collect();
    crate::analysis::descriptive::median(&values).unwrap_or(0.0)
}

#[cfg(test)]
mod tests {
    use super::{Missed, claimed, spread};
    use crate::analysis::distribution::normal_quantile;
    use crate::evidence::MeasureName;
    use crate::units::Estimate;

    /// Errors at the quantiles of a normal of this deviation, each claimed to be of 0.18.
    fn errors(deviation: f64) -> Vec<Missed> {
        let quantile = |place: i32| normal_quantile((f64::from(place) + 0.5) / 400.0);
        (0..400)
            .map(|place| Missed {
                name: MeasureName::PurgeVacuum,
                error: deviation * quantile(place),
                claimed: 0.18,
            })
            .collect()
    }

    /// Variances of independent errors add: 0.30² = 0.18² + 0.24².
    #[test]
    fn what_bounds_do_not_claim_is_found() {
        assert!((spread(&errors(0.3)) - 0.24).abs() < 0.003);
        assert_eq!(spread(&errors(0.1)), 0.0);
    }

    #[test]
    fn a_hand_that_did_something_else_changes_little() {
        let mut wild = errors(0.3);
        wild.iter_mut().step_by(20).for_each(|it| it.error = 3.0);
        assert!((spread(&wild) - 0.24).abs() < 0.05, "{}", spread(&wild));
    }

    #[test]
    fn an_upper_bound_alone_claims_no_error() {
        let estimate = |low, high| Estimate { value: 2.0, low, high };
        assert_eq!(claimed(&estimate(0.0, 3.0)), None);
        assert_eq!(claimed(&estimate(-1.0, 3.0)), None);
        let factor = (1.96_f64 * 0.2).exp();
        let both = claimed(&estimate(2.0 / factor, 2.0 * factor)).unwrap();
        assert!((both - 0.2).abs() < 1e-9);
        assert_eq!(claimed(&estimate(1.0, f64::INFINITY)), None);
    }
}
