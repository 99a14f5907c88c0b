//! Engine started, purge still shut: does the tank move?

use super::examination::Examination;
use super::leak_measures;
use super::outcome::{instants, measure};
use crate::evidence::{Check, CheckResult, MeasureName, Reason};

pub(super) fn examine(examination: &Examination) -> Option<CheckResult> {
    let idle = examination.idle()?;
    let mut measures = vec![measure(MeasureName::IdleChange, idle.effect)];
    measures.extend(leak_measures::measures(examination, &idle));
    let (outcome, reason) =
        leak_measures::outcome(examination, &idle, Reason::MovesWhileShut, Reason::StaysStill);
    let window = instants(idle.span.0, idle.span.1);
    Some(CheckResult { check: Check::IdleZero, outcome, reason, measures, window })
}
