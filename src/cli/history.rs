use std::path::PathBuf;

use serde::Serialize;

use super::arguments::History;
use super::{Failure, Output};
use crate::diagnosis::VerdictOutcome;
use crate::jobs::{VehiclePage, VisitRow, histories};
use crate::vehicle::Fault;
use crate::wording::{self, Language};

/// Number of the layout below.
const SCHEMA: u32 = 1;

/// Lists what the database holds.
pub(super) fn run(
    arguments: &History,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let pages = histories(&database, arguments.vehicle.as_deref())?;
    if arguments.json {
        let vehicles = pages.iter().map(vehicle_line).collect();
        output.json(&Layout { schema: SCHEMA, vehicles });
    } else if pages.is_empty() {
        output.message("The database holds no vehicle yet.");
    } else {
        output.data(&pages.iter().map(in_words).collect::<Vec<_>>().join("\n"));
    }
    Ok(())
}

#[derive(Serialize)]
struct Layout<'a> {
    schema: u32,
    vehicles: Vec<VehicleLine<'a>>,
}

#[derive(Serialize)]
struct VehicleLine<'a> {
    id: i64,
    name: &'a str,
    vin: Option<&'a str>,
    is_virtual: bool,
    odometer_km: Option<u32>,
    visits: Vec<VisitLine<'a>>,
}

#[derive(Serialize)]
struct VisitLine<'a> {
    id: i64,
    number: u32,
    started: String,
    complaint: &'a str,
    codes: &'a [String],
    verdict: Option<VerdictLine>,
    repair: Option<RepairLine<'a>>,
}

#[derive(Serialize)]
struct VerdictLine {
    outcome: &'static str,
    fault: Option<&'static str>,
    probability: f64,
}

#[derive(Serialize)]
struct RepairLine<'a> {
    part: &'a str,
    total: &'a str,
    currency: &'a str,
}

fn vehicle_line(page: &VehiclePage) -> VehicleLine<'_> {
    VehicleLine {
        id: page.vehicle.id,
        name: &page.vehicle.name,
        vin: page.vehicle.vin.as_deref(),
        is_virtual: page.vehicle.is_virtual,
        odometer_km: page.odometer_km,
        visits: page.visits.iter().map(visit_line).collect(),
    }
}

fn visit_line(visit: &VisitRow) -> VisitLine<'_> {
    VisitLine {
        id: visit.id,
        number: visit.number,
        started: visit.started.to_rfc3339(),
        complaint: &visit.complaint,
        codes: &visit.codes,
        verdict: visit.verdict.map(|(outcome, fault, probability)| VerdictLine {
            outcome: outcome.name(),
            fault: fault.map(Fault::name),
            probability,
        }),
        repair: visit.repair.as_ref().map(|(part, total, currency)| RepairLine {
            part,
            total,
            currency,
        }),
    }
}

fn in_words(page: &VehiclePage) -> String {
    let vin = page.vehicle.vin.as_deref().map(|vin| format!(", VIN {vin}")).unwrap_or_default();
    let mark = if page.vehicle.is_virtual { " (virtual car)" } else { "" };
    let mut lines = vec![format!("{} {}{vin}{mark}", page.vehicle.id, page.vehicle.name)];
    lines.extend(page.visits.iter().map(|visit| {
        let day = visit.started.format("%Y-%m-%d %H:%M UTC");
        let codes = if visit.codes.is_empty() {
            String::new()
        } else {
            format!(", {}", visit.codes.join(" "))
        };
        let repair = visit.repair.as_ref().map(|(part, ..)| format!(", repaired: {part}"));
        format!(
            "    visit {} on {day}{codes}: {}{}",
            visit.id,
            verdict(visit.verdict),
            repair.unwrap_or_default()
        )
    }));
    lines.join("\n")
}

fn verdict(verdict: Option<(VerdictOutcome, Option<Fault>, f64)>) -> String {
    let Some((outcome, fault, probability)) = verdict else { return "no verdict".to_owned() };
    let sure = wording::percent(probability, Language::English);
    let word = match fault {
        Some(fault) => wording::fault_title(fault, Language::English),
        None => wording::verdict_outcome_word(outcome, Language::English),
    };
    format!("{word} ({sure})")
}
