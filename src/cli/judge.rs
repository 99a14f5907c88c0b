use std::path::PathBuf;

use serde::Serialize;

use super::arguments::Judge;
use super::{Failure, Output};
use crate::diagnosis::{Hypothesis, Verdict};
use crate::evidence::{CheckResult, Measure};
use crate::jobs::{Judgement, MachineClock, judge, read_log};
use crate::recording::csv::ImportWarning;
use crate::wording::{self, Style};

/// Number of the layout below; it rises when a field changes its meaning or goes.
const SCHEMA: u32 = 1;

/// Judges a recording file.
pub(super) fn run(
    arguments: &Judge,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let style = Style::default();
    let map = arguments.columns.as_deref();
    let file = read_log(&arguments.recording, map, &database, MachineClock::start())?;
    let left_out: Vec<String> = file.warnings.iter().map(left_out_words).collect();
    for warning in &left_out {
        output.message(warning);
    }
    let judgement = judge(&file.recording, &[]);
    if arguments.json {
        output.json(&layout(&judgement, &left_out, &style));
    } else {
        output.data(&in_words(&judgement, &style));
    }
    Ok(())
}

/// What of a file was not taken.
fn left_out_words(warning: &ImportWarning) -> String {
    match warning {
        ImportWarning::UnknownColumn { name } => {
            format!("Column \"{name}\" is no signal and was left out. A column map can name it.")
        }
        ImportWarning::EmptyColumn { name } => {
            format!("Column \"{name}\" holds no value.")
        }
    }
}

/// The judgement as sentences, one a line.
pub(super) fn in_words(judgement: &Judgement, style: &Style) -> String {
    let Judgement { findings, verdict } = judgement;
    let mut lines = vec![wording::verdict_sentence(verdict, style)];
    lines.extend(wording::smallest_leak(verdict, style));
    lines.push(String::new());
    for result in &findings.checks {
        let title = wording::check_title(result.check, style.language);
        let outcome = wording::outcome_word(result.outcome, style.language);
        lines.push(format!("{title}: {outcome}. {}", wording::reason(result, style)));
        for Measure { name, estimate } in &result.measures {
            let title = wording::measure_name(*name, style.language);
            lines.push(format!("    {title}: {}", wording::measure_value(*name, estimate, style)));
        }
    }
    if !verdict.weights.is_empty() {
        lines.push(String::new());
        let leading = verdict.leading();
        lines.extend(verdict.weights.iter().map(|it| wording::weight_for(it, leading, style)));
    }
    if let Some(next) = &verdict.next_check {
        let title = wording::check_title(next.check, style.language);
        lines.push(String::new());
        lines.push(format!("Next: {title}. {}", wording::why_next(next, style.language)));
    }
    lines.extend(findings.warnings.iter().map(|it| wording::warning(*it, style)));
    lines.join("\n")
}

#[derive(Serialize)]
struct Layout<'a> {
    schema: u32,
    verdict: VerdictLine,
    faults: Vec<FaultLine>,
    checks: Vec<CheckLine<'a>>,
    next_check: Option<NextLine>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct VerdictLine {
    outcome: &'static str,
    fault: Option<&'static str>,
    probability: f64,
    summary: String,
}

#[derive(Serialize)]
struct FaultLine {
    fault: &'static str,
    probability: f64,
}

#[derive(Serialize)]
struct CheckLine<'a> {
    check: &'static str,
    outcome: &'static str,
    reason: String,
    measures: Vec<MeasureLine<'a>>,
}

#[derive(Serialize)]
struct MeasureLine<'a> {
    name: &'a str,
    value: f64,
    unit: &'a str,
    /// Bounds that the data do not give are null.
    low: f64,
    high: f64,
}

#[derive(Serialize)]
struct NextLine {
    check: &'static str,
    why: String,
}

fn layout<'a>(judgement: &'a Judgement, warnings: &[String], style: &Style) -> Layout<'a> {
    let Judgement { findings, verdict } = judgement;
    let found = findings.warnings.iter().map(|warning| wording::warning(*warning, style));
    Layout {
        schema: SCHEMA,
        verdict: VerdictLine {
            outcome: verdict.outcome.name(),
            fault: verdict.fault.map(crate::vehicle::Fault::name),
            probability: verdict.probability,
            summary: wording::verdict_sentence(verdict, style),
        },
        faults: faults(verdict),
        checks: findings.checks.iter().map(|result| check_line(result, style)).collect(),
        next_check: verdict.next_check.map(|next| NextLine {
            check: next.check.name(),
            why: wording::why_next(&next, style.language),
        }),
        warnings: warnings.iter().cloned().chain(found).collect(),
    }
}

fn faults(verdict: &Verdict) -> Vec<FaultLine> {
    let line = |(hypothesis, probability): &(Hypothesis, f64)| FaultLine {
        fault: hypothesis.name(),
        probability: *probability,
    };
    verdict.probabilities.iter().map(line).collect()
}

fn check_line<'a>(result: &'a CheckResult, style: &Style) -> CheckLine<'a> {
    let measure = |measure: &'a Measure| MeasureLine {
        name: measure.name.name(),
        value: measure.estimate.value,
        unit: measure.name.unit(),
        low: measure.estimate.low,
        high: measure.estimate.high,
    };
    CheckLine {
        check: result.check.name(),
        outcome: result.outcome.name(),
        reason: wording::reason(result, style),
        measures: result.measures.iter().map(measure).collect(),
    }
}
