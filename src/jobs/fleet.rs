use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use chrono::{DateTime, FixedOffset, NaiveDate, Utc};
use rust_decimal::Decimal;

use super::{JobError, MachineClock, ReportFormat, VisitComparison, compare};
use crate::evidence::Outcome;
use crate::report::{self, Fleet, FleetVehicle, Paper};
use crate::store::{Store, VehicleSummary, VisitSummary};
use crate::wording::Style;

/// What a fleet's document is to hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FleetPlan {
    /// First day.
    pub from: NaiveDate,
    /// Last day, included.
    pub to: NaiveDate,
    /// Whose fleet, or empty.
    pub name: String,
    /// Leaves customers and all but the last six of each VIN out.
    pub private: bool,
    /// The sheet it is printed on.
    pub paper: Paper,
}

/// Writes the vehicles with a visit in a period as one document. JSON is the export's business:
/// a fleet asked for as JSON is refused.
///
/// # Errors
/// What keeps the database from being read or the document from being written.
pub fn write_fleet(
    database: &Path,
    plan: &FleetPlan,
    format: ReportFormat,
    out: &Path,
    clock: MachineClock,
    style: Style,
) -> Result<(), JobError> {
    let store = Store::open(database)?;
    let fleet = fill(&store, plan, clock, style)?;
    let bytes = match format {
        ReportFormat::Html => report::html(&report::compose_fleet(&fleet)),
        ReportFormat::Pdf => report::pdf(&report::compose_fleet(&fleet))?,
        ReportFormat::Csv => report::fleet_csv(&fleet)?,
        ReportFormat::Json => return Err(JobError::UnknownEnding { path: out.to_path_buf() }),
    };
    fs::write(out, bytes).map_err(|error| JobError::file(out, &error))
}

fn fill(
    store: &Store,
    plan: &FleetPlan,
    clock: MachineClock,
    style: Style,
) -> Result<Fleet, JobError> {
    let from = clock.start_of(plan.from);
    let to = clock.start_of(plan.to);
    let end = clock.start_of(plan.to.succ_opt().unwrap_or(plan.to));
    let within = |at: DateTime<Utc>| from <= at && at < end;
    let mut vehicles = Vec::new();
    let mut costs = Costs::default();
    for summary in store.list_vehicles("")? {
        let mut visits = store.list_visits(summary.id)?;
        visits.retain(|visit| within(visit.started));
        visits.sort_by_key(|visit| std::cmp::Reverse((visit.started, visit.number)));
        if visits.is_empty() {
            continue;
        }
        let customer = store.customer_of(summary.id)?.map(|(_, customer)| customer.name);
        let local = |at: DateTime<Utc>| clock.local(at);
        let mut vehicle = vehicle(&summary, &visits, customer, &local);
        if vehicle.proof.is_none() {
            vehicle.proof = proof_at_a_later_visit(store, visits.first())?;
        }
        for visit in &visits {
            costs.add(visit);
        }
        vehicles.push(vehicle);
    }
    vehicles.sort_by(|a, b| a.name.cmp(&b.name).then_with(|| a.vin.cmp(&b.vin)));
    Ok(Fleet {
        style,
        paper: plan.paper,
        private: plan.private,
        name: plan.name.clone(),
        from,
        to,
        written: clock.local(clock.date()),
        vehicles,
        costs: costs.as_text(),
    })
}

/// How the repair of an earlier visit stands at this one, where one was noted.
fn proof_at_a_later_visit(
    store: &Store,
    visit: Option<&VisitSummary>,
) -> Result<Option<Outcome>, JobError> {
    let Some(visit) = visit else { return Ok(None) };
    let compared = compare::for_report(store, visit.id)?;
    let repaired =
        |it: &VisitComparison| it.earlier.repaired.is_some() || it.later.repaired.is_some();
    Ok(compared.filter(repaired).map(|it| it.comparison.outcome()))
}

/// A vehicle with its visits of the period, newest first.
fn vehicle(
    summary: &VehicleSummary,
    visits: &[VisitSummary],
    customer: Option<String>,
    local: &dyn Fn(DateTime<Utc>) -> DateTime<FixedOffset>,
) -> FleetVehicle {
    let newest = visits.first();
    let measured = visits.iter().find(|visit| visit.shut_vacuum.is_some());
    let mut costs = Costs::default();
    visits.iter().for_each(|visit| costs.add(visit));
    let parts = visits.iter().rev().flat_map(|visit| &visit.repairs);
    FleetVehicle {
        name: summary.name.clone(),
        vin: summary.vin.clone(),
        customer,
        is_virtual: summary.is_virtual || visits.iter().any(|visit| visit.is_virtual),
        visits: u32::try_from(visits.len()).unwrap_or(u32::MAX),
        last_visit: newest.map(|visit| local(visit.started)),
        verdict: newest
            .and_then(|visit| visit.verdict)
            .map(|verdict| (verdict.outcome, verdict.fault, verdict.probability)),
        codes: newest.map(|visit| visit.codes.clone()).unwrap_or_default(),
        proof: newest.and_then(|visit| visit.proof),
        shut_vacuum: measured.and_then(|visit| visit.shut_vacuum),
        band: measured.and_then(|visit| visit.band),
        repairs: parts.map(|repair| repair.entry.part.clone()).collect(),
        costs: costs.as_text(),
        follow_up: summary.follow_up.map(local),
    }
}

/// What repairs cost, by currency.
#[derive(Debug, Default)]
struct Costs(BTreeMap<String, Decimal>);

impl Costs {
    fn add(&mut self, visit: &VisitSummary) {
        for repair in &visit.repairs {
            let Some(total) = repair.entry.total() else { continue };
            let sum = self.0.entry(repair.entry.currency.clone()).or_default();
            // Amounts of money in one store are far from what a decimal holds.
            *sum = sum.saturating_add(total);
        }
    }

    fn as_text(&self) -> Vec<(String, String)> {
        self.0.iter().map(|(currency, sum)| (currency.clone(), sum.to_string())).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::{Costs, FleetPlan, fill};
    use crate::jobs::MachineClock;
    use crate::report::Paper;
    use crate::store::{NewVehicle, RepairEntry, Store};
    use crate::wording::Style;

    fn repair(part: &str, currency: &str, labour: &str) -> RepairEntry {
        RepairEntry {
            part: part.to_owned(),
            currency: currency.to_owned(),
            labour: Some(labour.parse().unwrap()),
            ..RepairEntry::default()
        }
    }

    /// Noon UTC lies within the day in every time zone but the outermost, which no test runs in.
    fn noon(day: &str) -> chrono::DateTime<chrono::Utc> {
        format!("{day}T12:00:00Z").parse().unwrap()
    }

    #[test]
    fn only_visits_of_the_period_count_and_costs_add_up_by_currency() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::open(&folder.path().join("a.db")).unwrap();
        let mut add = |name: &str| {
            let vehicle = NewVehicle { name: name.to_owned(), ..NewVehicle::default() };
            store.add_vehicle(&vehicle, noon("2026-01-01")).unwrap()
        };
        let (van, lorry) = (add("Van"), add("Lorry"));
        for (vehicle, day, entry) in [
            (van, "2026-02-27", repair("Filter", "EUR", "99.00")),
            (van, "2026-03-01", repair("Valve", "EUR", "10.10")),
            (van, "2026-03-31", repair("Hose", "USD", "0.20")),
            (lorry, "2026-04-01", repair("Cap", "EUR", "5.00")),
        ] {
            let visit = store.start_visit(vehicle, noon(day)).unwrap();
            store.add_repair(visit, &entry, noon(day)).unwrap();
        }
        let plan = FleetPlan {
            from: "2026-03-01".parse().unwrap(),
            to: "2026-03-31".parse().unwrap(),
            name: String::new(),
            private: false,
            paper: Paper::default(),
        };
        let fleet = fill(&store, &plan, MachineClock::start(), Style::default()).unwrap();
        let pair = |currency: &str, sum: &str| (currency.to_owned(), sum.to_owned());
        assert_eq!(fleet.costs, [pair("EUR", "10.10"), pair("USD", "0.20")]);
        assert_eq!(fleet.vehicles.len(), 1);
        let van = &fleet.vehicles[0];
        assert_eq!((van.name.as_str(), van.visits), ("Van", 2));
        assert_eq!(van.repairs, ["Valve", "Hose"]);
        assert_eq!(van.costs, fleet.costs);
        assert!(Costs::default().as_text().is_empty());
    }
}
