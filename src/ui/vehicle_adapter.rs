use std::rc::Rc;

use rust_decimal::Decimal;
use slint::{ComponentHandle, ModelRc, VecModel};

use super::dates;
use super::markup::{AppWindow, Page, TimelineItem, Tone, VehicleAdapter};

use super::session::{Known, Session};
use super::vehicle_lanes::Lanes;
use super::vehicles_adapter::outcome_look;
use crate::jobs::{Command, FillUpDraft, RepairReport, VehiclePage, VisitRow};
use crate::wording::{Style, money, number, verdict_outcome_word};

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<VehicleAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_opened(move |visit| {
        if let Some(session) = to.upgrade() {
            session.send(Command::OpenVisit(i64::from(visit)));
            session.go(Page::Visit);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_started(move || {
        let Some(session) = to.upgrade() else { return };
        let vehicle = session.known().vehicle.as_ref().map(|page| page.vehicle.id);
        if let Some(vehicle) = vehicle {
            session.send(Command::StartVisit { vehicle });
        }
    });
    connect_filling(window, session);
}

/// Connects the form for a fill-up.
fn connect_filling(window: &AppWindow, session: &Rc<Session>) {
    let to = Rc::downgrade(session);
    window.global::<VehicleAdapter>().on_filled(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<VehicleAdapter>();
        let vehicle = session.known().vehicle.as_ref().map(|page| page.vehicle.id);
        if let Some(vehicle) = vehicle {
            let fill_up = FillUpDraft {
                litre: adapter.get_litre().into(),
                cost: adapter.get_fill_cost().into(),
                currency: session.known().currency.clone(),
                odometer_km: adapter.get_fill_odometer().into(),
                note: adapter.get_fill_note().into(),
            };
            session.send(Command::AddFillUp { vehicle, fill_up });
        }
        adapter.set_filling(false);
        adapter.set_litre("".into());
        adapter.set_fill_cost("".into());
        adapter.set_fill_odometer("".into());
        adapter.set_fill_note("".into());
    });
}

/// Shows the vehicle and its timeline.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(page) = &known.vehicle else { return };
    let (adapter, style) = (window.global::<VehicleAdapter>(), &known.style);
    let language = style.language;
    adapter.set_name(page.vehicle.name.as_str().into());
    adapter.set_virtual_car(page.vehicle.is_virtual);
    adapter.set_vin(page.vehicle.vin.as_deref().unwrap_or("–").into());
    let odometer = page.odometer_km.map(|km| format!("{} km", number(f64::from(km), 0, language)));
    adapter.set_odometer(odometer.unwrap_or_else(|| "–".to_owned()).into());
    let newest = page.visits.first();
    let (last, tone) = match newest.and_then(|row| Some((row, row.verdict?))) {
        Some((row, (outcome, ..))) => {
            let word = verdict_outcome_word(outcome, language);
            let day = dates::short_day(row.started, language);
            (format!("{word}, {day}"), outcome_look(outcome).1)
        }
        None => ("–".to_owned(), Tone::Soft),
    };
    adapter.set_last(last.into());
    adapter.set_last_tone(tone);
    show_costs(&adapter, page, known);
    let customer = page.customer.as_ref().map(|it| it.name.as_str());
    adapter.set_customer(customer.unwrap_or_default().into());
    adapter.set_currency(known.currency.as_str().into());
    adapter.set_comparable(page.visits.len() > 1);
    let lanes = Lanes::new(page, style);
    adapter.set_pressure_lane(lanes.pressure_view(page));
    adapter.set_trim_lane(lanes.trim_view(page));
    adapter.set_year(newest.map(|row| dates::year(row.started)).unwrap_or_default().into());
    adapter.set_rows(ModelRc::new(VecModel::from(rows(page, &lanes, currency_of(page, known)))));
    adapter.set_next(next(page, style).into());
}

/// What is planned: a look at a fill-up wants the measure from before it, so the visit begins first.
fn next(page: &VehiclePage, style: &Style) -> String {
    let Some(due) = page.vehicle.follow_up else { return String::new() };
    let since = page.visits.first().map(|visit| visit.started);
    let filled = page.fill_ups.first().is_some_and(|it| since.is_none_or(|at| it.filled > at));
    let words = if filled {
        style.of(
            "Filled up since the last visit: look again now",
            "Seit dem letzten Besuch getankt: jetzt nachsehen",
        )
    } else {
        style.of(
            "Next: recheck at a fill-up, by {}; start before you fill up",
            "Als Nächstes: Kontrolle beim Tanken, bis {}; vor dem Tanken beginnen",
        )
    };
    words.replace("{}", &dates::short_day(due, style.language))
}

/// Everything that happened, oldest first.
fn rows(page: &VehiclePage, lanes: &Lanes<'_>, currency: &str) -> Vec<TimelineItem> {
    let visits = page.visits.iter().flat_map(|row| {
        // A trim that stands at its fill-up is not said twice.
        let told = page.fill_ups.iter().any(|it| it.trim.is_some() && it.trim == row.trim);
        let visit = lanes.visit_row(row, if told { None } else { row.trim });
        let repair = repair_row(row, lanes.style);
        std::iter::once((row.started, visit)).chain(repair.map(|item| (row.started, item)))
    });
    let fill_ups = page.fill_ups.iter().map(|it| (it.filled, lanes.fill_up_row(it, currency)));
    let mut rows: Vec<_> = visits.chain(fill_ups).collect();
    rows.sort_by_key(|(at, _)| *at);
    rows.into_iter().map(|(_, item)| item).collect()
}

/// The currency of the column of costs: that of the newest repair, else the settings' own.
fn currency_of<'a>(page: &'a VehiclePage, known: &'a Known) -> &'a str {
    let mut repairs = page.visits.iter().filter_map(|row| row.repair.as_ref());
    repairs.next().map_or(known.currency.as_str(), |repair| repair.draft.currency.as_str())
}

fn show_costs(adapter: &VehicleAdapter<'_>, page: &VehiclePage, known: &Known) {
    let repairs: Vec<&RepairReport> =
        page.visits.iter().filter_map(|row| row.repair.as_ref()).collect();
    let currency = currency_of(page, known);
    let label = known.style.of("Cost, {}", "Kosten, {}").replace("{}", currency);
    adapter.set_cost_label(label.into());
    // Amounts of other currencies are not added up.
    let total: Decimal = repairs
        .iter()
        .filter(|repair| repair.draft.currency == currency)
        .filter_map(|repair| repair.total.parse::<Decimal>().ok())
        .sum();
    let told =
        |sum: Decimal| format!("{currency} {}", money(&sum.to_string(), known.style.language));
    let spent = if repairs.is_empty() { String::new() } else { told(total) };
    adapter.set_spent(spent.into());
    let saved: Decimal = repairs
        .iter()
        .filter(|repair| repair.draft.currency == currency)
        .filter_map(|repair| repair.saved.as_ref()?.parse::<Decimal>().ok())
        .sum();
    let saved = if saved.is_zero() { String::new() } else { told(saved) };
    adapter.set_saved(saved.into());
}

fn repair_row(row: &VisitRow, style: &Style) -> Option<TimelineItem> {
    let RepairReport { draft, total, .. } = row.repair.as_ref()?;
    let title = style.of("{} replaced", "{} erneuert").replace("{}", &draft.part);
    Some(TimelineItem {
        date: dates::short_day(row.started, style.language).into(),
        repair: true,
        title: title.into(),
        cost: money(total, style.language).into(),
        strong: true,
        ..TimelineItem::default()
    })
}
