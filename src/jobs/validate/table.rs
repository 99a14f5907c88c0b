use std::collections::BTreeMap;

use serde::Serialize;

use super::model_errors::{self, ModelError};
use super::{Efficiency, ValidationPlan, VisitOutcome};
use crate::diagnosis::{Hypothesis, VerdictOutcome};
use crate::vehicle::Fault;

/// How the visits of one kind of car ended.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Row {
    /// Cars of this kind.
    pub cars: u32,
    /// Verdict right: of two faults, one named and no good part beside it.
    pub right: u32,
    /// Of these, both faults of a car of two named.
    pub both: u32,
    /// Verdict open.
    pub inconclusive: u32,
    /// Called sound although it is not.
    pub missed: u32,
    /// Another fault named.
    pub blamed: BTreeMap<String, u32>,
    /// Of these, how often a part that is good: the costliest error. A sensor that sticks and is
    /// called off zero is still the part to replace.
    pub good_part_named: u32,
    /// Cars whose fault stands above the sensor's step and noise, and how many of them are right.
    pub visible: (u32, u32),
}

/// How often 95 % bounds held the truth.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Coverage {
    /// Bounds given.
    pub given: u32,
    /// Bounds that held the truth.
    pub held: u32,
    /// Mean of squared error over claimed squared standard error: 1 when the claim is fair.
    pub error_ratio: f64,
}

/// One band of probabilities: what was said and what came true, of sound cars and of faults that
/// stand above step and noise.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Calibration {
    /// Visits in the band.
    pub visits: u32,
    /// Mean probability of the leading hypothesis.
    pub said: f64,
    /// Share of leading hypotheses that are true.
    pub true_share: f64,
}

/// A visit whose verdict is not right.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Miss {
    /// What the car has: the fault's name, or `none`.
    pub kind: &'static str,
    /// The fault beside it.
    pub second: Option<&'static str>,
    /// Draws the same car again.
    pub seed: u64,
    /// The verdict's outcome.
    pub outcome: &'static str,
    /// The most probable hypothesis.
    pub leading: &'static str,
    /// Its probability.
    pub probability: f64,
}

/// The result of a validation.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Validation {
    /// Version of this document.
    pub schema: u32,
    /// Cars drawn.
    pub cars: u32,
    /// Whether they were drawn hard.
    pub hard: bool,
    /// Whether every faulty car has two faults.
    pub double: bool,
    /// The seed.
    pub seed: u64,
    /// By kind of car: the fault's name, or `none`.
    pub rows: BTreeMap<String, Row>,
    /// Verdicts right, of all.
    pub right_share: f64,
    /// The same among cars whose fault stands above step and noise.
    pub right_share_visible: f64,
    /// Cars with a good part named, in a thousand.
    pub blamed_per_thousand: f64,
    /// Bounds on the shut valve's vacuum.
    pub shut_vacuum: Coverage,
    /// Bounds on the recovery time, where vent path and sensor are the car's only lags.
    pub recovery: Coverage,
    /// Calibration by bands of probability: up to 0.5, 0.8, 0.9, 0.95, 0.99, 1.
    pub calibration: Vec<Calibration>,
    /// Median length of a visit, minutes.
    pub median_minutes: f64,
    /// Leaks missed although larger than the stated limit, and leaks larger than it.
    pub above_limit: (u32, u32),
    /// The visits whose verdict is not right, in the order they were drawn.
    pub misses: Vec<Miss>,
    /// What the numbers miss beyond their bounds.
    pub model_errors: Vec<ModelError>,
    /// Spread of the shut valve's vacuum beside its Cramér–Rao bound, Pa.
    pub leak_efficiency: Efficiency,
    /// The same of the recovery time, in its logarithm.
    pub time_efficiency: Efficiency,
}

const BANDS: [f64; 6] = [0.5, 0.8, 0.9, 0.95, 0.99, 1.0];

impl Validation {
    pub(super) fn new(
        plan: ValidationPlan,
        outcomes: &[VisitOutcome],
        (leak_efficiency, time_efficiency): (Efficiency, Efficiency),
    ) -> Self {
        let mut rows: BTreeMap<String, Row> = BTreeMap::new();
        let mut calibration = [Calibration::default(); BANDS.len()];
        let mut shut = Coverage::default();
        let mut recovery = Coverage::default();
        let mut above_limit = (0, 0);
        let mut misses = Vec::new();
        for visit in outcomes {
            let kind = visit.truth.fault.map_or(Hypothesis::None, Hypothesis::Fault).name();
            let row = rows.entry(kind.to_owned()).or_default();
            if !is_right(visit) {
                misses.push(Miss {
                    kind,
                    second: visit.truth.second.map(Fault::name),
                    seed: visit.seed,
                    outcome: visit.outcome.name(),
                    leading: visit.leading.name(),
                    probability: visit.probability,
                });
            }
            count(row, visit);
            let band = BANDS.iter().position(|top| visit.probability <= *top).unwrap_or(5);
            // A fault that hides below step and noise cannot be told from none by anybody: how often
            // such cars are drawn says nothing about what was read.
            if visit.visible {
                let entry = &mut calibration[band];
                entry.visits += 1;
                entry.said += visit.probability;
                entry.true_share += f64::from(u8::from(visit.leading_is_true));
            }
            if let Some(estimate) = visit.shut_vacuum
                && !has(visit, Fault::TankSensorStuck)
            {
                shut.take(estimate.low, estimate.high, estimate.value, visit.truth.leak_pressure.0);
            }
            if let (Some(estimate), None) = (visit.recovery, visit.truth.fault) {
                let truth = visit.truth.recovery_seconds + visit.truth.sensor_lag_seconds;
                recovery.take(estimate.low, estimate.high, estimate.value, truth);
            }
            if let Some(limit) = visit.limit
                && visit.truth.leak_pressure.0 < -limit
            {
                above_limit.1 += 1;
                if visit.outcome == VerdictOutcome::NoFaultFound {
                    above_limit.0 += 1;
                }
            }
        }
        for entry in &mut calibration {
            let visits = f64::from(entry.visits.max(1));
            entry.said /= visits;
            entry.true_share /= visits;
        }
        shut.finish();
        recovery.finish();
        let sum = |pick: fn(&Row) -> u32| rows.values().map(pick).sum::<u32>();
        let share = |part: u32, whole: u32| f64::from(part) / f64::from(whole.max(1));
        let blamed = sum(|row| row.good_part_named);
        let mut minutes: Vec<f64> = outcomes.iter().map(|visit| visit.seconds / 60.0).collect();
        minutes.sort_by(f64::total_cmp);
        Self {
            schema: 1,
            cars: plan.cars,
            hard: plan.hard,
            double: plan.double,
            seed: plan.seed,
            right_share: share(sum(|row| row.right), sum(|row| row.cars)),
            right_share_visible: share(sum(|row| row.visible.1), sum(|row| row.visible.0)),
            blamed_per_thousand: 1000.0 * share(blamed, sum(|row| row.cars)),
            rows,
            shut_vacuum: shut,
            recovery,
            calibration: calibration.to_vec(),
            median_minutes: minutes.get(minutes.len() / 2).copied().unwrap_or(0.0),
            above_limit,
            misses,
            model_errors: model_errors::table(outcomes),
            leak_efficiency,
            time_efficiency,
        }
    }
}

impl Coverage {
    fn take(&mut self, low: f64, high: f64, value: f64, truth: f64) {
        self.given += 1;
        self.held += u32::from(low <= truth && truth <= high);
        let error = (high - low) / (2.0 * 1.96);
        if error.is_finite() && error > 0.0 {
            self.error_ratio += ((value - truth) / error).powi(2);
        }
    }

    fn finish(&mut self) {
        self.error_ratio /= f64::from(self.given.max(1));
    }
}

/// Whether the car has this fault, alone or beside another.
fn has(visit: &VisitOutcome, fault: Fault) -> bool {
    visit.truth.fault == Some(fault) || visit.truth.second == Some(fault)
}

fn is_right(visit: &VisitOutcome) -> bool {
    match visit.outcome {
        VerdictOutcome::FaultFound => {
            visit.named.is_some_and(|fault| has(visit, fault))
                && visit.also.is_none_or(|fault| has(visit, fault))
        }
        VerdictOutcome::NoFaultFound => visit.truth.fault.is_none(),
        VerdictOutcome::Inconclusive => false,
    }
}

/// Whether a named part is one of the parts that are at fault.
fn is_bad_part(visit: &VisitOutcome, named: Fault) -> bool {
    let faults = [visit.truth.fault, visit.truth.second];
    faults.into_iter().flatten().any(|fault| fault.same_part(named))
}

fn count(row: &mut Row, visit: &VisitOutcome) {
    row.cars += 1;
    row.visible.0 += u32::from(visit.visible);
    let right = is_right(visit);
    row.right += u32::from(right);
    row.both += u32::from(right && visit.also.is_some());
    row.visible.1 += u32::from(right && visit.visible);
    match visit.outcome {
        VerdictOutcome::Inconclusive => row.inconclusive += 1,
        VerdictOutcome::NoFaultFound if !right => row.missed += 1,
        VerdictOutcome::FaultFound if !right => {
            let named = || visit.named.into_iter().chain(visit.also);
            let wrong = named().find(|fault| !has(visit, *fault));
            let name = wrong.map_or("none", Fault::name);
            *row.blamed.entry(name.to_owned()).or_default() += 1;
            row.good_part_named += u32::from(!named().all(|fault| is_bad_part(visit, fault)));
        }
        _ => {}
    }
}
