use std::rc::Rc;

use rust_decimal::Decimal;
use slint::{ComponentHandle, ModelRc, VecModel};

use super::dates;
use super::markup::{AppWindow, AxisFigure, Mark, Page, TimelineItem, Tone, VehicleAdapter};
use super::session::{Known, Session};
use super::strip::{nice_step, ticks};
use super::vehicles_adapter::{lower_first, outcome_look};
use crate::diagnosis::VerdictOutcome;
use crate::jobs::{Command, RepairReport, VehiclePage, VisitRow};
use crate::wording::{Language, Style, fault_title, number, verdict_outcome_word};

/// Width of the lane on the tablet, logical pixels: axis figures are spaced for it.
const LANE: f64 = 548.0;

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
    let scale = scale(&page.visits, style);
    show_axis(&adapter, page, &scale, style);
    let mut visits: Vec<&VisitRow> = page.visits.iter().collect();
    visits.sort_by_key(|row| row.started);
    adapter.set_year(newest.map(|row| dates::year(row.started)).unwrap_or_default().into());
    let rows: Vec<TimelineItem> = visits
        .into_iter()
        .flat_map(|row| {
            let repair = repair_row(row, style);
            std::iter::once(visit_row(row, &scale, style)).chain(repair)
        })
        .collect();
    adapter.set_rows(ModelRc::new(VecModel::from(rows)));
    let next = page.vehicle.follow_up.map(|at| {
        style
            .of("Next: look again on {}", "Als Nächstes: Nachkontrolle am {}")
            .replace("{}", &dates::short_day(at, language))
    });
    adapter.set_next(next.unwrap_or_default().into());
}

fn show_costs(adapter: &VehicleAdapter<'_>, page: &VehiclePage, known: &Known) {
    let repairs: Vec<&RepairReport> =
        page.visits.iter().filter_map(|row| row.repair.as_ref()).collect();
    let currency =
        repairs.first().map_or(known.currency.as_str(), |repair| repair.draft.currency.as_str());
    let label = known.style.of("Cost, {}", "Kosten, {}").replace("{}", currency);
    adapter.set_cost_label(label.into());
    // Amounts of other currencies are not added up.
    let total: Decimal = repairs
        .iter()
        .filter(|repair| repair.draft.currency == currency)
        .filter_map(|repair| repair.total.parse::<Decimal>().ok())
        .sum();
    let spent = if repairs.is_empty() { String::new() } else { format!("{currency} {total}") };
    adapter.set_spent(spent.into());
    let saved: Decimal = repairs
        .iter()
        .filter(|repair| repair.draft.currency == currency)
        .filter_map(|repair| repair.saved.as_ref()?.parse::<Decimal>().ok())
        .sum();
    let saved = if saved.is_zero() { String::new() } else { format!("{currency} {saved}") };
    adapter.set_saved(saved.into());
}

/// Ends of the lane, in the person's unit.
fn scale(visits: &[VisitRow], style: &Style) -> (f64, f64) {
    let factor = 1.0 / style.pressure.pascal();
    let values = visits.iter().flat_map(|row| {
        let estimate = row.shut_vacuum.into_iter().flat_map(|e| [e.low, e.value, e.high]);
        let band = row.band.into_iter().flat_map(|band| [-band * 2.0, band * 2.0]);
        estimate.chain(band).map(|value| value * factor).collect::<Vec<_>>()
    });
    super::plot_model::span(values, factor)
}

fn share(value: f64, scale: &(f64, f64)) -> f32 {
    ((value - scale.0) / (scale.1 - scale.0)).clamp(0.0, 1.0) as f32
}

fn show_axis(adapter: &VehicleAdapter<'_>, page: &VehiclePage, scale: &(f64, f64), style: &Style) {
    let label = style.of("Tank with the purge shut, {}", "Tank bei geschlossener Spülung, {}");
    adapter.set_lane_label(label.replace("{}", style.pressure.symbol()).into());
    let step = nice_step(LANE / (scale.1 - scale.0), 70.0);
    let decimals = if step < 1.0 { 2 } else { 0 };
    let figures: Vec<AxisFigure> = ticks(scale.0, scale.1, step)
        .into_iter()
        .map(|value| AxisFigure {
            text: number(value, decimals, style.language).into(),
            at: share(value, scale),
        })
        .collect();
    adapter.set_axis(ModelRc::new(VecModel::from(figures)));
    let band = page.visits.iter().find_map(|row| row.band).or(page.vehicle.band);
    let band = band.map(|band| band / style.pressure.pascal());
    adapter.set_band_known(band.is_some());
    adapter.set_band_low(share(-band.unwrap_or_default(), scale));
    adapter.set_band_high(share(band.unwrap_or_default(), scale));
}

fn visit_row(row: &VisitRow, scale: &(f64, f64), style: &Style) -> TimelineItem {
    let language = style.language;
    let (mark, tone, word) = match row.verdict {
        Some((outcome, ..)) => {
            let (mark, tone) = outcome_look(outcome);
            (mark, tone, lower_first(verdict_outcome_word(outcome, language), style))
        }
        None => (Mark::Empty, Tone::Soft, style.of("open", "offen").to_owned()),
    };
    let title = match language {
        Language::English => format!("Visit {}: {word}", row.number),
        Language::German => format!("Besuch {}: {word}", row.number),
    };
    let note = match row.verdict {
        Some((VerdictOutcome::FaultFound, Some(fault), probability)) => {
            let sure = crate::wording::percent(probability, language);
            let fault = fault_title(fault, language);
            style
                .of("{}, {} sure", "{}, {} sicher")
                .replacen("{}", fault, 1)
                .replacen("{}", &sure, 1)
        }
        _ if !row.codes.is_empty() => row.codes.join(", "),
        _ => row.complaint.clone(),
    };
    let factor = 1.0 / style.pressure.pascal();
    let decimals = if factor == 1.0 { 0 } else { 2 };
    let shown = |value: f64| number(value * factor, decimals, language);
    let open = !matches!(
        row.verdict,
        Some((VerdictOutcome::FaultFound | VerdictOutcome::NoFaultFound, ..))
    );
    let (reading, figure) = match (row.shut_vacuum, row.band) {
        (None, _) => (0, String::new()),
        (Some(e), _) if open => (3, format!("{} ± {}", shown(e.value), shown(e.half_width()))),
        (Some(e), Some(band)) if e.value.abs() > band => (2, shown(e.value)),
        (Some(e), _) => (1, shown(e.value)),
    };
    let estimate =
        row.shut_vacuum.unwrap_or(crate::units::Estimate { value: 0.0, low: 0.0, high: 0.0 });
    let wide = share(estimate.high * factor, scale) - share(estimate.low * factor, scale);
    TimelineItem {
        visit: i32::try_from(row.id).unwrap_or(0),
        date: dates::short_day(row.started, language).into(),
        mark,
        repair: false,
        title: title.into(),
        tone,
        note: note.into(),
        cost: "–".into(),
        strong: false,
        reading,
        at: share(estimate.value * factor, scale),
        low: share(estimate.low * factor, scale),
        high: share(estimate.high * factor, scale),
        // Drawn only when wider than 16 pixels.
        interval: reading != 0 && f64::from(wide) * LANE > 16.0,
        figure: figure.into(),
    }
}

fn repair_row(row: &VisitRow, style: &Style) -> Option<TimelineItem> {
    let RepairReport { draft, total, .. } = row.repair.as_ref()?;
    let title = style.of("{} replaced", "{} erneuert").replace("{}", &draft.part);
    Some(TimelineItem {
        date: dates::short_day(row.started, style.language).into(),
        repair: true,
        title: title.into(),
        cost: total.as_str().into(),
        strong: true,
        ..TimelineItem::default()
    })
}
