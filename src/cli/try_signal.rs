use std::fmt::Write;
use std::path::PathBuf;

use serde::Serialize;

use super::arguments::TrySignal;
use super::table::{Line, Section, Tone, render};
use super::{Failure, Output};
use crate::jobs::{MachineClock, Tried, TriedAnswer, as_remembered, own_signals_file, try_signals};
use crate::wording::{self, Language, Style};

/// Number of the layout below.
const SCHEMA: u32 = 1;

/// Asks the car with own requests, and shows what came byte by byte.
pub(super) fn run(
    arguments: &TrySignal,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let style = Style::default();
    let file = arguments.file.clone().unwrap_or_else(|| own_signals_file(&database));
    let clock = MachineClock::start();
    let link = as_remembered(&arguments.link, &database)?;
    let tried = try_signals(&link, &file, arguments.signal, clock, &style)?;
    if arguments.json {
        output.json(&Layout { schema: SCHEMA, tried: tried.iter().map(layout).collect() });
    } else if tried.is_empty() {
        output.message("The file describes no such signal.");
    } else {
        let sections: Vec<Section> = tried.iter().map(section).collect();
        let colours = output.shows_colours();
        output.data(&render(&sections, colours));
    }
    Ok(())
}

#[derive(Serialize)]
struct Layout {
    schema: u32,
    tried: Vec<TriedLine>,
}

#[derive(Serialize)]
struct TriedLine {
    signal: &'static str,
    request: String,
    answers: Vec<AnswerLine>,
    failure: Option<String>,
}

#[derive(Serialize)]
struct AnswerLine {
    unit: String,
    raw: String,
    picked: Option<String>,
    bit: Option<u8>,
    bits: Option<u8>,
    number: Option<i64>,
    value: Option<f64>,
    unit_of_value: &'static str,
    problem: Option<String>,
}

fn layout(tried: &Tried) -> TriedLine {
    TriedLine {
        signal: tried.signal.signal.name(),
        request: hex(&tried.sent),
        answers: tried.answers.iter().map(|answer| answer_line(tried, answer)).collect(),
        failure: tried.failure.clone(),
    }
}

fn answer_line(tried: &Tried, answer: &TriedAnswer) -> AnswerLine {
    let picked = answer.picked.as_ref().ok();
    AnswerLine {
        unit: answer.unit.clone(),
        raw: hex(&answer.raw),
        picked: picked.map(|it| hex(&it.bytes)),
        bit: picked.map(|it| it.bit),
        bits: picked.map(|it| it.bits),
        number: picked.map(|it| it.number),
        value: picked.and_then(|it| it.value),
        unit_of_value: tried.signal.signal.unit(),
        problem: answer.picked.as_ref().err().map(ToString::to_string),
    }
}

fn section(tried: &Tried) -> Section {
    let mut lines = vec![Line::new(["request", &hex(&tried.sent)])];
    if let Some(failure) = &tried.failure {
        lines.push(Line::new(["no answer"]).and(failure, Tone::Bad));
    }
    for answer in &tried.answers {
        lines.push(Line::new(["answer", &hex(&answer.raw), &format!("from {}", answer.unit)]));
        match &answer.picked {
            Err(problem) => {
                lines.push(Line::new(["not read"]).and(&problem.to_string(), Tone::Bad));
            }
            Ok(picked) => {
                let top = picked.bit.saturating_add(picked.bits).saturating_sub(1);
                let bits = format!("bits {} to {top}: {}", picked.bit, picked.number);
                lines.push(Line::new(["picked", &hex(&picked.bytes), &bits]));
                lines.push(value(tried, picked.unlimited, picked.value.is_some()));
            }
        }
    }
    Section::new(tried.signal.signal.name(), lines)
}

fn value(tried: &Tried, value: f64, right: bool) -> Line {
    let number = wording::number(value, 4, Language::English);
    let shown = wording::with_unit(&number, tried.signal.signal.unit());
    let line = Line::new(["value"]);
    if right {
        line.and(&shown, Tone::Good)
    } else {
        line.and(&shown, Tone::Bad).and("outside its limits: no reading", Tone::Plain)
    }
}

/// Bytes as two hexadecimal digits each.
fn hex(bytes: &[u8]) -> String {
    let mut text = String::new();
    for byte in bytes {
        let gap = if text.is_empty() { "" } else { " " };
        let _infallible = write!(text, "{gap}{byte:02X}");
    }
    text
}
