use std::path::PathBuf;

use super::arguments::Fleet;
use super::{Failure, Output};
use crate::jobs::{FleetPlan, MachineClock, write_fleet};
use crate::wording::Style;

/// Writes many vehicles over a period as one document.
pub(super) fn run(
    arguments: &Fleet,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    if arguments.to < arguments.from {
        let (from, to) = (arguments.from, arguments.to);
        return Err(Failure::Input(format!(
            "The period from {from} to {to} ends before it starts."
        )));
    }
    let plan = FleetPlan {
        from: arguments.from,
        to: arguments.to,
        name: arguments.name.clone(),
        private: arguments.private,
        paper: arguments.print.paper,
    };
    let out = &arguments.out;
    let clock = MachineClock::start();
    let style = Style { language: arguments.print.language, ..Style::default() };
    write_fleet(&database, &plan, out.format, &out.path, clock, style)?;
    output.message(&format!("Report: {}", out.path.display()));
    Ok(())
}
