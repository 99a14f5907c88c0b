use std::path::PathBuf;

use serde::Serialize;

use super::arguments::Read;
use super::{Failure, Output};
use crate::jobs::{
    CarReport, CodeLine, ConditionLine, MachineClock, SetupStep, UnitLine, explain_missing,
    look_at_car, own_signals_beside,
};
use crate::vehicle::{ConditionState, Signal};
use crate::wording::{self, Language, Style};

/// Number of the layout below.
const SCHEMA: u32 = 1;

/// Reads the car once.
pub(super) fn run(arguments: &Read, database: PathBuf, output: &mut Output) -> Result<(), Failure> {
    let style = Style::default();
    let own = own_signals_beside(&database)?;
    let clock = MachineClock::start();
    let look = look_at_car(&arguments.link, clock, &own, &style, &mut |step| {
        output.progress(step_words(step));
    })?;
    if arguments.json {
        let values = look.values.iter().map(|(signal, value)| Value::new(*signal, *value));
        output.json(&Layout { schema: SCHEMA, car: &look.report, values: values.collect() });
    } else {
        output.data(&in_words(&look.report, &look.values, &style));
    }
    if !look.report.impossible.is_empty() {
        let language = style.language;
        let title = |check| wording::check_title(check, language).to_owned();
        let checks: Vec<String> = look.report.impossible.iter().copied().map(title).collect();
        output.message(&explain_missing(&look.missing, &checks, language));
    }
    Ok(())
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

fn in_words(car: &CarReport, values: &[(Signal, f64)], style: &Style) -> String {
    let mut lines = vec![format!("VIN: {}", car.vin.as_deref().unwrap_or("–"))];
    lines.extend(car.vin_note.iter().map(|note| format!("    {note}")));
    lines.extend(car.units.iter().map(unit));
    if car.codes.is_empty() {
        lines.push("Trouble codes: none".to_owned());
    }
    lines.extend(car.codes.iter().map(code));
    if let Some(code) = &car.freeze_frame_code {
        lines.push(format!("Freeze frame of {code}:"));
    }
    lines.extend(car.freeze_frame.iter().map(|(name, value)| format!("    {name}: {value}")));
    for line in &car.readiness {
        let complete = if line.complete { "complete" } else { "not complete" };
        lines.push(format!("{}: {complete}", line.name));
    }
    for line in &car.this_cycle {
        let complete = if line.complete { "complete" } else { "not complete" };
        lines.push(format!("This driving cycle, {}: {complete}", line.name));
    }
    if let Some(counts) = &car.in_use {
        lines.push(format!(
            "Vapour monitor: ran {} times of {} that driving let it; {} engine starts",
            counts.completions, counts.opportunities, counts.ignition_cycles
        ));
    }
    if let Some(test) = &car.leak_test {
        lines.push(format!("{} Common practice; makers may be narrower.", test.sentence));
        lines.extend(test.conditions.iter().map(condition));
    }
    for line in &car.monitors {
        let passed = if line.passed { "passed" } else { "failed" };
        let shown = |value: f64| wording::number(value, 4, Language::English);
        lines.push(format!(
            "{}: {} {} ({} to {}), {passed}",
            line.name,
            shown(line.value),
            line.unit,
            shown(line.low),
            shown(line.high)
        ));
    }
    for signal in &car.signals {
        let name = wording::signal_name(*signal, style.language);
        let value = values.iter().find(|(it, _)| it == signal);
        let value = value.map_or("–".to_owned(), |(_, value)| {
            let number = wording::number(*value, 2, Language::English);
            wording::with_unit(&number, signal.unit())
        });
        lines.push(format!("{name}: {value}"));
    }
    lines.extend(car.doubts.iter().map(|doubt| format!("Doubtful: {doubt}")));
    lines.join("\n")
}

fn unit(line: &UnitLine) -> String {
    let name = line.name.as_deref().unwrap_or("control unit");
    let software = line.calibrations.iter().enumerate().map(|(place, calibration)| {
        match line.verification_numbers.get(place) {
            Some(number) => format!("{calibration} ({number})"),
            None => calibration.clone(),
        }
    });
    let software: Vec<String> = software.collect();
    format!("{} {name}: {}", line.address, software.join(", "))
}

fn condition(line: &ConditionLine) -> String {
    let state = match line.state {
        ConditionState::Met => "holds",
        ConditionState::NotMet => "does not hold",
        ConditionState::Unknown => "unknown",
    };
    let value = match (&line.value, line.codes.is_empty()) {
        (Some(value), _) => format!("{value}, "),
        (None, false) => format!("{}, ", line.codes.join(", ")),
        (None, true) => String::new(),
    };
    let window = if line.window.is_empty() { String::new() } else { format!(" ({})", line.window) };
    format!("    {}: {value}{state}{window}", line.name)
}

fn code(line: &CodeLine) -> String {
    let kinds = [(line.stored, "stored"), (line.pending, "pending"), (line.permanent, "permanent")];
    let kinds: Vec<&str> = kinds.iter().filter(|(is, _)| *is).map(|(_, word)| *word).collect();
    format!("{}: {} ({})", line.code, line.meaning, kinds.join(", "))
}
