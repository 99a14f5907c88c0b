use chrono::{DateTime, FixedOffset};
use serde::Serialize;

use super::json::{MeasureLine, finite, known, measure};
use crate::diagnosis::VerdictOutcome;
use crate::evidence::{Check, Comparison, MeasureName, Outcome};
use crate::units::Estimate;
use crate::vehicle::Fault;
use crate::wording::{Style, comparison_sentence, reason};

/// The traces of one check at two visits.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedTraces {
    /// The check whose deed the earlier one is laid at.
    pub check: Check,
    /// The same of the later one: another only where both show a shut valve.
    pub later_check: Check,
    /// The earlier visit: seconds after the deed, tank pressure, Pa.
    pub earlier: Vec<(f64, f64)>,
    /// The later one, alike.
    pub later: Vec<(f64, f64)>,
    /// Limit within which the tank counts as still, Pa; `None` where it must move.
    pub limit_pa: Option<f64>,
}

/// A number that both visits measured.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedNumber {
    /// The check that measured it.
    pub check: Check,
    /// Which.
    pub name: MeasureName,
    /// At the earlier visit.
    pub earlier: Estimate,
    /// At the later one.
    pub later: Estimate,
    /// How the check ended at the later one.
    pub outcome: Outcome,
}

/// One of two visits that are laid over each other.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitBeside {
    /// Its number in the store.
    pub id: i64,
    /// Number within the vehicle, from 1.
    pub number: u32,
    /// When it started, in the person's time zone.
    pub started: DateTime<FixedOffset>,
    /// Its verdict.
    pub verdict: Option<(VerdictOutcome, Option<Fault>, f64)>,
    /// What was repaired at it; at the later visit also what was since the earlier one.
    pub repaired: Option<String>,
}

/// An earlier visit of the vehicle laid under a later one.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparisonRecord {
    /// The earlier visit.
    pub earlier: VisitBeside,
    /// The later one.
    pub later: VisitBeside,
    /// What they say of each other.
    pub comparison: Comparison,
    /// Numbers that both measured, in the order of the checks.
    pub numbers: Vec<ComparedNumber>,
    /// Traces of the checks that both made, the most telling first.
    pub traces: Vec<ComparedTraces>,
}

/// Two visits beside each other as JSON: SI units and stable names; sentences are in the style's
/// language.
#[derive(Debug, Serialize)]
pub struct ComparisonLines {
    earlier: VisitLine,
    later: VisitLine,
    end: &'static str,
    summary: String,
    fault: Option<&'static str>,
    newly_failing: Vec<FailingLine>,
    missing: Vec<&'static str>,
    numbers: Vec<NumberLine>,
    traces: Vec<TracesLine>,
}

#[derive(Debug, Serialize)]
struct VisitLine {
    id: i64,
    number: u32,
    started: String,
    verdict: Option<VerdictLine>,
    repaired: Option<String>,
}

#[derive(Debug, Serialize)]
struct VerdictLine {
    outcome: &'static str,
    fault: Option<&'static str>,
    probability: f64,
}

#[derive(Debug, Serialize)]
struct FailingLine {
    check: &'static str,
    reason: String,
}

#[derive(Debug, Serialize)]
struct NumberLine {
    check: &'static str,
    outcome: &'static str,
    earlier: MeasureLine,
    later: MeasureLine,
}

#[derive(Debug, Serialize)]
struct TracesLine {
    check: &'static str,
    later_check: &'static str,
    limit_pa: Option<f64>,
    earlier: TraceLine,
    later: TraceLine,
}

#[derive(Debug, Serialize)]
struct TraceLine {
    time_s: Vec<f64>,
    tank_pressure_pa: Vec<f64>,
}

impl ComparisonRecord {
    /// As JSON. `shown` takes out of the person's own words what is not to be shown.
    pub fn lines(&self, style: &Style, shown: &dyn Fn(&str) -> String) -> ComparisonLines {
        let comparison = &self.comparison;
        let failing = comparison
            .newly_failing
            .iter()
            .map(|it| FailingLine { check: it.check.name(), reason: reason(it, style) });
        ComparisonLines {
            earlier: visit_line(&self.earlier, shown),
            later: visit_line(&self.later, shown),
            end: comparison.end.name(),
            summary: comparison_sentence(comparison, style),
            fault: comparison.fault.map(Fault::name),
            newly_failing: failing.collect(),
            missing: comparison.missing.iter().map(|it| it.name()).collect(),
            numbers: self.numbers.iter().map(number_line).collect(),
            traces: self.traces.iter().map(traces_line).collect(),
        }
    }
}

fn visit_line(visit: &VisitBeside, shown: &dyn Fn(&str) -> String) -> VisitLine {
    VisitLine {
        id: visit.id,
        number: visit.number,
        started: visit.started.to_rfc3339(),
        verdict: visit.verdict.map(|(outcome, fault, probability)| VerdictLine {
            outcome: outcome.name(),
            fault: fault.map(Fault::name),
            probability,
        }),
        repaired: visit.repaired.as_deref().map(shown),
    }
}

fn number_line(number: &ComparedNumber) -> NumberLine {
    let line = |estimate| measure(number.name.name(), number.name.unit(), estimate);
    NumberLine {
        check: number.check.name(),
        outcome: number.outcome.name(),
        earlier: line(&number.earlier),
        later: line(&number.later),
    }
}

fn traces_line(traces: &ComparedTraces) -> TracesLine {
    TracesLine {
        check: traces.check.name(),
        later_check: traces.later_check.name(),
        limit_pa: traces.limit_pa.and_then(known),
        earlier: trace_line(&traces.earlier),
        later: trace_line(&traces.later),
    }
}

fn trace_line(points: &[(f64, f64)]) -> TraceLine {
    let (time_s, tank_pressure_pa) = finite(points).into_iter().unzip();
    TraceLine { time_s, tank_pressure_pa }
}
