mod in_words;

use std::path::PathBuf;

use serde::Serialize;

use super::arguments::Read;
use super::{Failure, Output};
use crate::jobs::{
    CarReport, LookStep, MachineClock, ReadPart, SetupStep, as_remembered, explain_missing,
    look_at_car, own_signals_beside,
};
use crate::vehicle::Signal;
use crate::wording::{self, Language, Style};

/// Number of the layout below.
const SCHEMA: u32 = 1;

/// Reads the car once.
pub(super) fn run(arguments: &Read, database: PathBuf, output: &mut Output) -> Result<(), Failure> {
    let style = Style::default();
    let own = own_signals_beside(&database)?;
    let clock = MachineClock::start();
    let link = as_remembered(&arguments.link, &database)?;
    let look = look_at_car(&link, clock, &own, &style, &mut |step| {
        output.progress(&look_words(step));
    })?;
    if arguments.json {
        let values = look.values.iter().map(|(signal, value)| Value::new(*signal, *value));
        output.json(&Layout { schema: SCHEMA, car: &look.report, values: values.collect() });
    } else {
        let colours = output.shows_colours();
        output.data(&in_words::reading(&look.report, &look.values, &style, colours));
    }
    if !look.report.impossible.is_empty() {
        let language = style.language;
        let title = |check| wording::check_title(check, language).to_owned();
        let checks: Vec<String> = look.report.impossible.iter().copied().map(title).collect();
        output.message(&explain_missing(&look.missing, &checks, language));
    }
    Ok(())
}

fn look_words(step: LookStep) -> String {
    let (part, share) = match step {
        LookStep::Connecting(step) => return step_words(step).to_owned(),
        LookStep::Reading(part, share) => (part, share),
    };
    let words = match part {
        ReadPart::Codes => "trouble codes",
        ReadPart::Identity => "identity",
        ReadPart::Readiness => "readiness",
        ReadPart::FreezeFrame => "freeze frame",
        ReadPart::Monitors => "monitor results",
        ReadPart::Values => "values",
    };
    format!("Reading {words} … {}", wording::percent(share, Language::English))
}

fn step_words(step: SetupStep) -> &'static str {
    match step {
        SetupStep::Opening => "Opening the link …",
        SetupStep::WakingAdapter => "Waking the adapter …",
        SetupStep::FindingProtocol => "Finding the car's protocol; this can take half a minute …",
        SetupStep::AskingSignals => "Asking what the car offers …",
    }
}

#[derive(Serialize)]
struct Layout<'a> {
    schema: u32,
    #[serde(flatten)]
    car: &'a CarReport,
    values: Vec<Value>,
}

#[derive(Serialize)]
struct Value {
    signal: &'static str,
    value: f64,
    unit: &'static str,
}

impl Value {
    fn new(signal: Signal, value: f64) -> Self {
        Self { signal: signal.name(), value, unit: signal.unit() }
    }
}
