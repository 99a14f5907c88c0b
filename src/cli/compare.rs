use std::path::Path;

use serde::Serialize;

use super::arguments::Compare;
use super::{Failure, Output};
use crate::jobs::{ComparedVisit, MachineClock, VehicleRow, compare_visits};
use crate::report::ComparisonLines;
use crate::wording::{self, Style};

/// Number of the layout below.
const SCHEMA: u32 = 1;

/// Lays an earlier visit under a later one.
pub(super) fn run(
    arguments: &Compare,
    database: &Path,
    output: &mut Output,
) -> Result<(), Failure> {
    let style = Style::default();
    let language = style.language;
    let compared = compare_visits(database, arguments.visit, arguments.with)?;
    if arguments.json {
        let vehicle = vehicle_line(&compared.vehicle);
        let record = compared.record(MachineClock::start());
        let comparison = record.lines(&style, &ToOwned::to_owned);
        output.json(&Layout { schema: SCHEMA, vehicle, comparison });
        return Ok(());
    }
    let day = |it: &ComparedVisit| format!("visit {} ({})", it.id, it.started.date_naive());
    let (earlier, later) = (day(&compared.earlier), day(&compared.later));
    output.data(&format!("{}: {later} against {earlier}", compared.vehicle.name));
    let comparison = &compared.comparison;
    let stamp = wording::comparison_stamp(comparison.end, language);
    output.data(&format!("{stamp}. {}", wording::comparison_sentence(comparison, &style)));
    if let Some(wants) = wording::comparison_wants(&comparison.missing, language) {
        output.data(&wants);
    }
    for number in &compared.numbers {
        let told = |it| wording::measure_value(number.name, it, &style);
        output.data(&format!(
            "{}: {} before, {} now; {}",
            wording::measure_name(number.name, language),
            told(&number.earlier),
            told(&number.later),
            wording::outcome_word(number.outcome, language)
        ));
    }
    Ok(())
}

#[derive(Serialize)]
struct Layout {
    schema: u32,
    vehicle: VehicleLine,
    #[serde(flatten)]
    comparison: ComparisonLines,
}

#[derive(Serialize)]
struct VehicleLine {
    id: i64,
    name: String,
    is_virtual: bool,
}

fn vehicle_line(vehicle: &VehicleRow) -> VehicleLine {
    VehicleLine { id: vehicle.id, name: vehicle.name.clone(), is_virtual: vehicle.is_virtual }
}
