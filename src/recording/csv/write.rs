use std::fmt::Write;

use super::{ACTION, TANK_LITRE, TIME, TROUBLE_CODE, number};
use crate::recording::{ActionAt, CodeAt, Recording};
use crate::units::Instant;
use crate::vehicle::Signal;

/// A recording as a file. Signals without samples have no column. Entries of the same time share a
/// row; as signals are polled in turn, most rows hold one value. Numbers are written in the
/// shortest form that reads back as the same number.
pub fn write(recording: &Recording) -> Vec<u8> {
    let mut columns: Vec<Column<'_>> = recording
        .signals()
        .map(|(signal, series)| Column::Samples(signal, series.times(), series.values()))
        .collect();
    if !recording.actions().is_empty() {
        columns.push(Column::Actions(recording.actions()));
    }
    if !recording.codes().is_empty() {
        columns.push(Column::Codes(recording.codes()));
    }
    // Without a row there is nothing to put it on.
    let first = columns.iter().filter_map(Column::next_time).min();
    columns
        .extend(recording.tank_litre().and_then(|litre| Some(Column::Tank(first?, Some(litre)))));
    let mut text = TIME.to_owned();
    for column in &columns {
        text.push(',');
        text.push_str(column.name());
    }
    text.push_str(LINE_END);
    while let Some(now) = columns.iter().filter_map(Column::next_time).min() {
        text.push_str(&number::write_seconds(now));
        for column in &mut columns {
            text.push(',');
            if column.next_time() == Some(now) {
                column.write_next(&mut text);
            }
        }
        text.push_str(LINE_END);
    }
    text.into_bytes()
}

/// RFC 4180 ends lines with both.
const LINE_END: &str = "\r\n";

/// What is left to write of one column.
enum Column<'a> {
    Samples(Signal, &'a [Instant], &'a [f64]),
    Actions(&'a [ActionAt]),
    Codes(&'a [CodeAt]),
    Tank(Instant, Option<f64>),
}

impl Column<'_> {
    fn name(&self) -> &'static str {
        match self {
            Self::Samples(signal, ..) => signal.name(),
            Self::Actions(_) => ACTION,
            Self::Codes(_) => TROUBLE_CODE,
            Self::Tank(..) => TANK_LITRE,
        }
    }

    fn next_time(&self) -> Option<Instant> {
        match self {
            Self::Samples(_, times, _) => times.first().copied(),
            Self::Actions(actions) => actions.first().map(|action| action.at),
            Self::Codes(codes) => codes.first().map(|code| code.at),
            Self::Tank(at, litre) => litre.map(|_| *at),
        }
    }

    fn write_next(&mut self, text: &mut String) {
        match self {
            Self::Samples(_, times, values) => {
                if let (Some((_, later)), Some((value, rest))) =
                    (times.split_first(), values.split_first())
                {
                    // Writing into a string cannot fail.
                    let _ = write!(text, "{value}");
                    (*times, *values) = (later, rest);
                }
            }
            Self::Actions(actions) => {
                if let Some((action, rest)) = actions.split_first() {
                    text.push_str(action.action.name());
                    *actions = rest;
                }
            }
            Self::Codes(codes) => {
                if let Some((code, rest)) = codes.split_first() {
                    push_cell(text, &code.code);
                    *codes = rest;
                }
            }
            Self::Tank(_, litre) => {
                if let Some(litre) = litre.take() {
                    let _ = write!(text, "{litre}");
                }
            }
        }
    }
}

fn push_cell(text: &mut String, cell: &str) {
    if cell.contains([',', '"', '\r', '\n']) {
        text.push('"');
        text.push_str(&cell.replace('"', "\"\""));
        text.push('"');
    } else {
        text.push_str(cell);
    }
}
