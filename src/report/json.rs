use serde::Serialize;

use super::comparison::ComparisonLines;
use super::error::ReportError;
use super::visit::{
    CheckRecord, CodeRecord, NotMade, ProofNumber, ProofRecord, RepairRecord, ToolRecord, Visit,
};
use crate::checks::FitCurve;
use crate::diagnosis::{Source, Verdict};
use crate::units::Estimate;
use crate::wording::{reason, verdict_sentence, warning, why_next};

/// The number of this layout; it rises when a field changes its meaning or goes.
const SCHEMA: u32 = 1;

/// The visit as JSON, SI units and stable names; the layout stands in
/// `fixtures/schema/report.schema.json`. Sentences are in the visit's language.
///
/// # Errors
/// When the document cannot be written.
pub fn json(visit: &Visit) -> Result<Vec<u8>, ReportError> {
    let style = &visit.style;
    let mut repair = visit.repair.clone();
    if let Some(repair) = &mut repair {
        repair.part = visit.shown_text(&repair.part);
        repair.notes = visit.shown_text(&repair.notes);
    }
    let document = Report {
        schema: SCHEMA,
        language: style.language.tag(),
        is_virtual: visit.vehicle.is_virtual,
        vehicle: VehicleLines {
            name: visit.shown_text(&visit.vehicle.name),
            vin: visit.shown_vin(),
            customer: visit.shown_customer().map(ToOwned::to_owned),
            odometer_km: visit.vehicle.odometer_km,
        },
        visit: VisitLines {
            number: visit.number,
            started: visit.started.to_rfc3339(),
            written: visit.written.to_rfc3339(),
            complaint: visit.complaint.iter().map(|text| visit.shown_text(text)).collect(),
            connected_to: visit.connected_to.as_deref().map(|text| visit.shown_text(text)),
            cleared: visit.cleared.map(|at| at.to_rfc3339()),
            follow_up: visit.follow_up.map(|at| at.to_rfc3339()),
        },
        codes_before: visit.codes_before.as_deref(),
        codes_after: visit.codes_after.as_deref(),
        readiness: visit
            .readiness
            .iter()
            .map(|(monitor, complete)| ReadinessLine { monitor, complete: *complete })
            .collect(),
        observations: visit.observations.clone(),
        verdict: visit.verdict.as_ref().map(|verdict| verdict_lines(verdict, visit)),
        checks: visit
            .checks
            .iter()
            .map(|record| check_lines(record, reason(&record.result, style)))
            .collect(),
        not_made: visit.not_made.iter().map(not_made).collect(),
        given_up: visit
            .given_up
            .iter()
            .map(|(check, reason)| GivenUpLine {
                check: check.name(),
                reason: visit.shown_text(reason),
            })
            .collect(),
        repair,
        proof: visit.proof.as_ref().map(|proof| proof_lines(proof, visit)),
        comparison: visit
            .comparison
            .as_ref()
            .map(|it| it.lines(style, &|text| visit.shown_text(text))),
        tool: visit.tool.clone().filter(|_| visit.vehicle.customer.is_none() && !visit.private),
        warnings: visit.warnings.iter().map(|it| warning(*it, style)).collect(),
    };
    let mut bytes = serde_json::to_vec_pretty(&document)?;
    bytes.push(b'\n');
    Ok(bytes)
}

#[derive(Serialize)]
struct Report<'a> {
    schema: u32,
    language: &'static str,
    #[serde(rename = "virtual")]
    is_virtual: bool,
    vehicle: VehicleLines,
    visit: VisitLines,
    codes_before: Option<&'a [CodeRecord]>,
    codes_after: Option<&'a [CodeRecord]>,
    readiness: Vec<ReadinessLine<'a>>,
    observations: Vec<crate::evidence::Observation>,
    verdict: Option<VerdictLines>,
    checks: Vec<CheckLines>,
    not_made: Vec<NotMadeLine>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    given_up: Vec<GivenUpLine>,
    repair: Option<RepairRecord>,
    proof: Option<ProofLines>,
    #[serde(skip_serializing_if = "Option::is_none")]
    comparison: Option<ComparisonLines>,
    tool: Option<ToolRecord>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct VehicleLines {
    name: String,
    vin: Option<String>,
    customer: Option<String>,
    odometer_km: Option<u32>,
}

#[derive(Serialize)]
struct VisitLines {
    number: u32,
    started: String,
    written: String,
    complaint: Vec<String>,
    connected_to: Option<String>,
    cleared: Option<String>,
    follow_up: Option<String>,
}

#[derive(Serialize)]
struct ReadinessLine<'a> {
    monitor: &'a str,
    complete: bool,
}

#[derive(Serialize)]
struct VerdictLines {
    outcome: &'static str,
    fault: Option<&'static str>,
    probability: f64,
    summary: String,
    faults: Vec<Share>,
    weights: Vec<Factor>,
    smallest_leak_percent: Option<f64>,
    smallest_leak_pa: Option<f64>,
    next_check: Option<Next>,
}

#[derive(Serialize)]
struct Share {
    fault: &'static str,
    probability: f64,
}

#[derive(Serialize)]
struct Factor {
    source: String,
    factor: Option<f64>,
}

#[derive(Serialize)]
struct Next {
    check: &'static str,
    why: String,
}

#[derive(Serialize)]
struct CheckLines {
    check: &'static str,
    outcome: &'static str,
    reason: String,
    from_s: f64,
    to_s: f64,
    measures: Vec<MeasureLine>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    fits: Vec<FitLine>,
}

#[derive(Serialize)]
struct FitLine {
    measure: &'static str,
    points: Vec<[f64; 4]>,
}

/// A number with its bounds and its unit.
#[derive(Debug, Serialize)]
pub(super) struct MeasureLine {
    name: &'static str,
    value: Option<f64>,
    unit: &'static str,
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Serialize)]
struct NotMadeLine {
    check: &'static str,
    why: super::visit::WhyNotMade,
}

#[derive(Serialize)]
struct GivenUpLine {
    check: &'static str,
    reason: String,
}

#[derive(Serialize)]
struct ProofLines {
    outcome: &'static str,
    reason: String,
    limit_pa: f64,
    before_at: Option<String>,
    after_at: Option<String>,
    shut_vacuum_before: Option<MeasureLine>,
    shut_vacuum_after: Option<MeasureLine>,
    before_of: &'static str,
    after_of: &'static str,
    numbers: Vec<ProofNumberLine>,
    before: Vec<(f64, f64)>,
    after: Vec<(f64, f64)>,
}

#[derive(Serialize)]
struct ProofNumberLine {
    before: Option<MeasureLine>,
    after: MeasureLine,
}

fn verdict_lines(verdict: &Verdict, visit: &Visit) -> VerdictLines {
    VerdictLines {
        outcome: verdict.outcome.name(),
        fault: verdict.fault.map(crate::vehicle::Fault::name),
        probability: verdict.probability,
        summary: verdict_sentence(verdict, &visit.style),
        faults: verdict
            .probabilities
            .iter()
            .map(|(hypothesis, probability)| Share {
                fault: hypothesis.name(),
                probability: *probability,
            })
            .collect(),
        weights: verdict
            .weights
            .iter()
            .map(|weight| Factor { source: source(&weight.source), factor: known(weight.factor) })
            .collect(),
        smallest_leak_percent: verdict.smallest_leak_percent.and_then(known),
        smallest_leak_pa: verdict.smallest_leak_pa.and_then(known),
        next_check: verdict.next_check.map(|next| Next {
            check: next.check.name(),
            why: why_next(&next, visit.style.language),
        }),
    }
}

/// A stable name for where a factor comes from: `prior`, `P0496`, `throttle_follow.noise` or the
/// observation's name.
fn source(source: &Source) -> String {
    match source {
        Source::Prior => "prior".to_owned(),
        Source::Code(code) => code.clone(),
        Source::Measure(check, name) => format!("{}.{}", check.name(), name.name()),
        Source::Observation(seen) => match serde_json::to_value(seen) {
            Ok(serde_json::Value::String(name)) => name,
            _ => String::new(),
        },
    }
}

fn check_lines(record: &CheckRecord, reason: String) -> CheckLines {
    let result = &record.result;
    CheckLines {
        check: result.check.name(),
        outcome: result.outcome.name(),
        reason,
        from_s: result.window.0.seconds(),
        to_s: result.window.1.seconds(),
        measures: result
            .measures
            .iter()
            .map(|it| measure(it.name.name(), it.name.unit(), &it.estimate))
            .collect(),
        fits: record.fits.iter().map(fit_line).collect(),
    }
}

pub(super) fn measure(name: &'static str, unit: &'static str, estimate: &Estimate) -> MeasureLine {
    let Estimate { value, low, high } = *estimate;
    MeasureLine { name, value: known(value), unit, low: known(low), high: known(high) }
}

fn fit_line(fit: &FitCurve) -> FitLine {
    // No reading is finer than a thousandth of a pascal.
    let short = |value: f64| (value * 1e3).round() / 1e3;
    let points = fit
        .points
        .iter()
        .map(|(at, it)| [at.seconds(), short(it.value), short(it.low), short(it.high)])
        .filter(|point| point.iter().all(|it| it.is_finite()));
    FitLine { measure: fit.measure.name(), points: points.collect() }
}

fn not_made(open: &NotMade) -> NotMadeLine {
    NotMadeLine { check: open.check.name(), why: open.why }
}

fn proof_lines(proof: &ProofRecord, visit: &Visit) -> ProofLines {
    let vacuum = |estimate: &Estimate| measure("vacuum_with_purge_shut", "Pa", estimate);
    ProofLines {
        outcome: proof.result.outcome.name(),
        reason: visit.proof_sentence(proof),
        limit_pa: proof.limit_pa,
        before_at: proof.before_at.map(|at| at.to_rfc3339()),
        after_at: proof.after_at.map(|at| at.to_rfc3339()),
        shut_vacuum_before: proof.shut_vacuum.as_ref().map(|pair| vacuum(&pair.0)),
        shut_vacuum_after: proof.shut_vacuum.as_ref().map(|pair| vacuum(&pair.1)),
        before_of: proof.deeds.0.name(),
        after_of: proof.deeds.1.name(),
        numbers: proof.numbers.iter().map(proof_number).collect(),
        before: finite(&proof.before),
        after: finite(&proof.after),
    }
}

fn proof_number(number: &ProofNumber) -> ProofNumberLine {
    let line = |estimate: &Estimate| measure(number.name.name(), number.name.unit(), estimate);
    ProofNumberLine { before: number.before.as_ref().map(line), after: line(&number.after) }
}

/// The points that JSON can hold.
pub(super) fn finite(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    points.iter().copied().filter(|(at, pa)| at.is_finite() && pa.is_finite()).collect()
}

/// A number that JSON can hold; an absent bound is null.
pub(super) fn known(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}
