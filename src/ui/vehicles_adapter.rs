use std::rc::Rc;

use chrono::{DateTime, Utc};
use slint::{ComponentHandle, ModelRc, SharedString, VecModel};

use super::dates;
use super::markup::{
    AppWindow, Mark, Navigation, Page, RailsView, Tone, VehicleItem, VehiclesAdapter,
};
use super::session::{Known, Session};
use crate::diagnosis::VerdictOutcome;
use crate::jobs::{Command, VehicleRow};
use crate::wording::{Style, fault_title, number, pressure_value, verdict_outcome_word};

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<VehiclesAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_searched(move |words| {
        if let Some(session) = to.upgrade() {
            session.send(Command::ListVehicles { search: words.to_string() });
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_opened(move |id| {
        if let Some(session) = to.upgrade() {
            session.send(Command::OpenVehicle(i64::from(id)));
            session.go(Page::Vehicle);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_practised(move || {
        if let Some(session) = to.upgrade() {
            session.start_demo(None, None);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_vin_edited(move |text| {
        let Some(session) = to.upgrade() else { return };
        let problem = vin_problem(&text, &session.known().style);
        if let Some(window) = session.window() {
            window.global::<VehiclesAdapter>().set_vin_problem(problem.into());
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_added(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<VehiclesAdapter>();
        let name = adapter.get_new_name().trim().to_owned();
        if name.is_empty() || !adapter.get_vin_problem().is_empty() {
            return;
        }
        session.known_mut().adding = true;
        session.send(Command::AddVehicle {
            name,
            vin: adapter.get_new_vin().trim().to_uppercase(),
            notes: adapter.get_new_notes().trim().to_owned(),
        });
    });
}

/// Opens a vehicle that was added just now, once it is kept; until then what was entered stays in the form.
pub(super) fn open_added(session: &Session, window: &AppWindow) {
    if !std::mem::take(&mut session.known_mut().adding) {
        return;
    }
    let adapter = window.global::<VehiclesAdapter>();
    adapter.set_adding(false);
    adapter.set_new_name(SharedString::new());
    adapter.set_new_vin(SharedString::new());
    adapter.set_new_notes(SharedString::new());
    session.go(Page::Vehicle);
}

/// Shows the list.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let adapter = window.global::<VehiclesAdapter>();
    let Some(rows) = &known.vehicles else { return };
    let items: Vec<VehicleItem> = rows.iter().map(|row| map_vehicle(row, &known.style)).collect();
    adapter.set_vehicles(ModelRc::new(VecModel::from(items)));
    adapter.set_loaded(true);
}

/// Says what failed, where the person is sure to see it.
pub(super) fn show_notice(window: &AppWindow, sentence: &str) {
    window.global::<Navigation>().set_notice(sentence.into());
}

/// A VIN has 17 signs and neither I, O nor Q (ISO 3779); a wrong one is told while it is typed.
fn vin_problem(text: &str, style: &Style) -> String {
    let vin = text.trim().to_uppercase();
    let odd = vin.chars().find(|c| !c.is_ascii_alphanumeric() || matches!(c, 'I' | 'O' | 'Q'));
    match odd {
        Some(sign) => match style.language {
            crate::wording::Language::English => format!("A VIN has no “{sign}”."),
            crate::wording::Language::German => format!("Eine FIN enthält kein „{sign}“."),
        },
        None if vin.is_empty() || vin.len() == 17 => String::new(),
        None => match style.language {
            crate::wording::Language::English => format!("{} of 17 characters.", vin.len()),
            crate::wording::Language::German => format!("{} von 17 Zeichen.", vin.len()),
        },
    }
}

fn map_vehicle(row: &VehicleRow, style: &Style) -> VehicleItem {
    let language = style.language;
    let (mark, tone, verdict) = match row.last_verdict {
        Some((outcome, fault, _)) => {
            let word = verdict_outcome_word(outcome, language);
            let text = match fault {
                Some(fault) => {
                    format!("{word}: {}", lower_first(fault_title(fault, language), style))
                }
                None => word.to_owned(),
            };
            let (mark, tone) = outcome_look(outcome);
            (mark, tone, text)
        }
        None if row.visits > 0 => {
            (Mark::Empty, Tone::Soft, style.of("No verdict yet", "Noch kein Urteil").to_owned())
        }
        None => (Mark::Empty, Tone::Soft, style.of("No visit yet", "Noch kein Besuch").to_owned()),
    };
    VehicleItem {
        id: i32::try_from(row.id).unwrap_or(i32::MAX),
        name: row.name.as_str().into(),
        verdict: verdict.into(),
        tone,
        mark,
        when: row.last_visit.map(|at| dates::day(at, language)).unwrap_or_default().into(),
        reminder: row.follow_up.map(|due| reminder(due, style)).unwrap_or_default().into(),
        virtual_car: row.is_virtual,
        rails: map_rails(row, style),
    }
}

/// That a look after a fill-up is planned, and until when.
fn reminder(due: DateTime<Utc>, style: &Style) -> String {
    style
        .of("Recheck at a fill-up, by {}", "Kontrolle beim Tanken, bis {}")
        .replace("{}", &dates::short_day(due, style.language))
}

/// Mark and tone of a verdict.
pub(super) fn outcome_look(outcome: VerdictOutcome) -> (Mark, Tone) {
    match outcome {
        VerdictOutcome::FaultFound => (Mark::Fail, Tone::Fail),
        VerdictOutcome::NoFaultFound => (Mark::Pass, Tone::Form),
        VerdictOutcome::Inconclusive => (Mark::Inconclusive, Tone::Inconclusive),
    }
}

fn map_rails(row: &VehicleRow, style: &Style) -> RailsView {
    let (Some(estimate), Some(band)) = (row.last_shut_vacuum, row.band.filter(|band| *band > 0.0))
    else {
        let words = style.of("No reading yet", "Noch kein Wert");
        return RailsView {
            known: row.band.is_some(),
            words: words.into(),
            ..RailsView::default()
        };
    };
    let open = matches!(row.last_verdict, Some((VerdictOutcome::Inconclusive, ..)) | None);
    let at = estimate.value / band;
    let reading = if open {
        3
    } else if at.abs() <= 1.0 {
        1
    } else {
        2
    };
    let value = pressure_value(estimate.value, style);
    let limit = number(band / style.pressure.pascal(), 0, style.language);
    RailsView {
        known: true,
        reading,
        at: at as f32,
        low: (estimate.low / band).max(-9.0) as f32,
        high: (estimate.high / band).min(9.0) as f32,
        interval: estimate.half_width() / band > 0.73,
        words: format!("{value}; ±{limit}").into(),
    }
}

/// English headings go on in lower case inside a line; German nouns keep their capital.
pub(super) fn lower_first(text: &str, style: &Style) -> String {
    let mut signs = text.chars();
    match (style.language, signs.next()) {
        (crate::wording::Language::English, Some(first)) => {
            first.to_lowercase().chain(signs).collect()
        }
        _ => text.to_owned(),
    }
}
