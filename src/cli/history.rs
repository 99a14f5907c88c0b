use std::path::PathBuf;

use serde::Serialize;

use super::arguments::History;
use super::{Failure, Output};
use crate::diagnosis::VerdictOutcome;
use crate::jobs::{GuessReport, Histories, ToolReport, VehiclePage, VisitRow, histories};
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
    let Histories { vehicles: pages, tool } = histories(&database, arguments.vehicle.as_deref())?;
    if arguments.json {
        let vehicles = pages.iter().map(vehicle_line).collect();
        let tool = tool.as_ref().map(tool_line);
        output.json(&Layout { schema: SCHEMA, vehicles, tool });
    } else if pages.is_empty() {
        output.message("The database holds no vehicle yet.");
    } else {
        let lines = pages.iter().map(in_words).chain(tool.as_ref().map(tool_words));
        output.data(&lines.collect::<Vec<_>>().join("\n"));
    }
    Ok(())
}

#[derive(Serialize)]
struct Layout<'a> {
    schema: u32,
    vehicles: Vec<VehicleLine<'a>>,
    tool: Option<ToolLine<'a>>,
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
    guessing: Option<GuessLine<'a>>,
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
    shop_diagnosis: Option<&'a str>,
    saved: Option<&'a str>,
}

/// What guessing would have cost, in the repair's currency.
#[derive(Serialize)]
struct GuessLine<'a> {
    average: Option<&'a str>,
    saved: Option<&'a str>,
    parts: Vec<GuessPartLine<'a>>,
}

#[derive(Serialize)]
struct GuessPartLine<'a> {
    part: &'static str,
    per_mille: u32,
    price: Option<&'a str>,
}

/// How much of the adapter's price has been saved back.
#[derive(Serialize)]
struct ToolLine<'a> {
    cost: &'a str,
    currency: &'a str,
    saved: &'a str,
    left: Option<&'a str>,
    repairs: u32,
}

fn tool_line(tool: &ToolReport) -> ToolLine<'_> {
    ToolLine {
        cost: &tool.cost,
        currency: &tool.currency,
        saved: &tool.saved,
        left: tool.left.as_deref(),
        repairs: tool.repairs,
    }
}

fn tool_words(tool: &ToolReport) -> String {
    let ToolReport { cost, currency, saved, left, repairs } = tool;
    let left = match left {
        Some(left) => format!("{left} to go"),
        None => "paid back".to_owned(),
    };
    format!("Adapter: {saved} of {cost} {currency} saved back over {repairs} repairs, {left}")
}

fn guess_line(guess: &GuessReport) -> GuessLine<'_> {
    let parts = guess.parts.iter().map(|it| GuessPartLine {
        part: it.part.name(),
        per_mille: it.per_mille,
        price: it.price.as_deref(),
    });
    GuessLine {
        average: guess.average.as_deref(),
        saved: guess.saved.as_deref(),
        parts: parts.collect(),
    }
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
        repair: visit.repair.as_ref().map(|repair| RepairLine {
            part: &repair.draft.part,
            total: &repair.total,
            currency: &repair.draft.currency,
            shop_diagnosis: Some(repair.draft.shop_diagnosis.as_str()).filter(|it| !it.is_empty()),
            saved: repair.saved.as_deref(),
        }),
        guessing: visit.guess.as_ref().map(guess_line),
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
        let repair = visit.repair.as_ref().map(|it| format!(", repaired: {}", it.draft.part));
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
