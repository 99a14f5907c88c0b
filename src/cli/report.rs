use std::path::PathBuf;
use std::sync::mpsc;

use super::arguments::Report;
use super::{Failure, Output};
use crate::jobs::{Command, Workshop};
use crate::wording::Style;

/// Writes a visit as a document.
pub(super) fn run(
    arguments: &Report,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    // The path is known beforehand, so nobody needs to hear the event that tells it.
    let (events, _heard) = mpsc::channel();
    let style = Style { language: arguments.print.language, ..Style::default() };
    let mut workshop = Workshop::open(&database, style, events)?;
    workshop.attempt(Command::WriteReport {
        visit: Some(arguments.visit),
        format: arguments.out.format,
        path: Some(arguments.out.path.clone()),
        private: arguments.private,
        paper: arguments.print.paper,
    })?;
    output.message(&format!("Report: {}", arguments.out.path.display()));
    Ok(())
}
