use slint::{ModelRc, SharedString, VecModel};

use super::markup::{CodeItem, FactItem, VisitAdapter};
use super::vehicles_adapter::lower_first;
use crate::jobs::{CarReport, LinkState};
use crate::vehicle::Signal;
use crate::wording::{Style, number, signal_name};

/// Shows row 3: what the car says.
pub(super) fn show(
    adapter: &VisitAdapter<'_>,
    car: Option<&CarReport>,
    link: Option<&LinkState>,
    style: &Style,
) {
    let linked = matches!(link, Some(LinkState::Linked { .. }));
    let Some(car) = car else {
        adapter.set_codes(ModelRc::default());
        adapter.set_facts(ModelRc::default());
        adapter.set_car_note("–".into());
        adapter.set_car_more(SharedString::new());
        adapter.set_car_action(
            if linked { style.of("Read the car", "Auto auslesen") } else { "" }.into(),
        );
        return;
    };
    let codes: Vec<CodeItem> = car
        .codes
        .iter()
        .map(|line| CodeItem {
            code: line.code.as_str().into(),
            meaning: upper_first(&line.meaning).into(),
            stored: line.stored,
            pending: line.pending,
            permanent: line.permanent,
        })
        .collect();
    let note =
        if codes.is_empty() { style.of("No trouble codes.", "Keine Fehlercodes.") } else { "" };
    adapter.set_codes(ModelRc::new(VecModel::from(codes)));
    adapter.set_car_note(note.into());
    adapter.set_car_action(SharedString::new());
    adapter.set_car_more(style.of("All that the car says", "Alles, was das Auto sagt").into());
    adapter.set_facts(ModelRc::new(VecModel::from(facts(car, style))));
}

fn facts(car: &CarReport, style: &Style) -> Vec<FactItem> {
    let fact = |label: &str, text: String| FactItem { label: label.into(), text: text.into() };
    let mut facts = Vec::new();
    if !car.freeze_frame.is_empty() {
        let frame = telling(&car.freeze_frame, style);
        facts.push(fact(style.of("When it was set", "Beim Setzen"), frame.join(", ")));
    }
    if !car.readiness.is_empty() {
        let ready = car.readiness.iter().filter(|line| line.complete).count();
        let open: Vec<&str> =
            car.readiness.iter().filter(|l| !l.complete).map(|l| l.name.as_str()).collect();
        let count = style
            .of("{} of {} ready", "{} von {} bereit")
            .replacen("{}", &ready.to_string(), 1)
            .replacen("{}", &car.readiness.len().to_string(), 1);
        let text = match open.as_slice() {
            [] => count,
            names => {
                format!("{count}; {}: {}", style.of("not yet", "noch nicht"), names.join(", "))
            }
        };
        facts.push(fact(style.of("Readiness", "Bereitschaft"), text));
    }
    if let Some(line) = car.monitors.iter().find(|line| !line.passed).or(car.monitors.first()) {
        let shown = |value: f64| number(value, 2, style.language);
        let word = if line.passed {
            style.of("passed", "bestanden")
        } else {
            style.of("failed", "nicht bestanden")
        };
        let limit = if line.value < line.low { line.low } else { line.high };
        let text = format!(
            "{} {}, {} {}: {word}",
            shown(line.value),
            line.unit,
            style.of("limit", "Grenze"),
            shown(limit)
        );
        facts.push(fact(&line.name, text));
    }
    facts
}

/// How the engine stood when the code was set: speed, warmth, load and fuel, of what was kept.
fn telling(frame: &[(String, String)], style: &Style) -> Vec<String> {
    let first = [Signal::EngineSpeed, Signal::Coolant, Signal::ManifoldPressure, Signal::FuelLevel];
    let named: Vec<String> = first
        .into_iter()
        .filter_map(|signal| {
            let name = signal_name(signal, style.language);
            frame.iter().find(|(known, _)| known == name)
        })
        .map(|(name, value)| format!("{} {value}", lower_first(name, style)))
        .collect();
    if !named.is_empty() {
        return named;
    }
    frame.iter().take(4).map(|(name, value)| format!("{name} {value}").trim().to_owned()).collect()
}

/// A meaning as the head of a line.
pub(super) fn upper_first(text: &str) -> String {
    let mut signs = text.chars();
    signs.next().map(|first| first.to_uppercase().chain(signs).collect()).unwrap_or_default()
}
