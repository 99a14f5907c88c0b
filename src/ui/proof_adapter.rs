use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::comparison_adapter;
use super::live_adapter::render;
use super::markup::{
    AppWindow, LiveAdapter, Mark, OverlayLine, Page, ProofAdapter, StripPlace, StripView,
};
use super::plot_model::{lane_name, span};
use super::session::{Known, Session};
use super::strip::{Event, Extent, Lane, RailSpan, Spec, Total, TotalMark, Trace, TraceKind};
use super::visit_adapter::check_look;
use crate::evidence::{Check, Measure, MeasureName, Outcome};
use crate::jobs::ProofReport;
use crate::units::Estimate;
use crate::vehicle::{Fault, Signal};
use crate::wording::{
    Language, Style, measure_name, measure_unit, measure_value_in, number, proof_sentence,
};

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let to = Rc::downgrade(session);
    window.global::<ProofAdapter>().on_acted(move || {
        let Some(session) = to.upgrade() else { return };
        let proven = {
            let known = session.known();
            known.card.as_ref().is_some_and(|card| card.proof.is_some())
        };
        if proven {
            session.go(Page::Codes);
        } else {
            super::visit_adapter::act(&session, super::next_action::NextAction::Prove);
        }
    });
}

/// Shows the proof, or how to get one.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<ProofAdapter>(), &known.style);
    let note = match style.language {
        Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
        Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
    };
    adapter.set_note(note.into());
    adapter.set_virtual_car(card.vehicle.is_virtual);
    adapter.set_comparable(comparison_adapter::has_earlier(card));
    adapter.set_has_strip(card.proof.as_ref().is_some_and(|p| !p.after.is_empty()));
    let Some(proof) = &card.proof else {
        adapter.set_mark(Mark::Expected);
        adapter.set_stamp(style.of("Not proven yet", "Noch nicht nachgewiesen").into());
        adapter.set_sentence(
            style
                .of("Make the same checks again.", "Dieselben Prüfungen noch einmal machen.")
                .into(),
        );
        adapter.set_lines(ModelRc::default());
        adapter.set_action(style.of("Prove the repair", "Reparatur nachweisen").into());
        return;
    };
    let (mark, tone) = check_look(proof.result.outcome);
    adapter.set_mark(mark);
    adapter.set_tone(tone);
    adapter.set_stamp(
        match proof.result.outcome {
            Outcome::Pass => style.of("Repair proven", "Reparatur nachgewiesen"),
            Outcome::Fail => style.of("Not repaired", "Nicht behoben"),
            Outcome::Inconclusive => style.of("Not proven yet", "Noch nicht nachgewiesen"),
        }
        .into(),
    );
    let fault = card.verdict.as_ref().and_then(|verdict| verdict.fault);
    adapter.set_sentence(proof_sentence(&proof.result, fault, style).into());
    adapter.set_lines(ModelRc::new(VecModel::from(lines(proof, known))));
    show_certainty(&adapter, proof, fault, style);
    show_next(&adapter, known, style);
    if let Some(view) = strip(window, proof, known) {
        window.global::<LiveAdapter>().set_proof_strip(view);
    }
}

fn show_certainty(
    adapter: &ProofAdapter<'_>,
    proof: &ProofReport,
    fault: Option<Fault>,
    style: &Style,
) {
    // The proof is an equivalence test at 95 %: passed or failed it is at least that sure.
    let decided = proof.result.outcome != Outcome::Inconclusive;
    adapter.set_certainty(if decided { 0.95 } else { 0.5 });
    adapter.set_decided(decided);
    let words = if decided {
        style.of("Sure: at least 95 %", "Sicher: mindestens 95 %")
    } else {
        style.of("Not sure yet", "Noch nicht sicher")
    };
    adapter.set_certainty_words(words.into());
    let limit = crate::wording::pressure_value(proof.limit_pa, style);
    // The limit is one of the valve's leak: of another part it says nothing.
    let of_the_valve = fault.is_none_or(|fault| fault.same_part(Fault::PurgeValveLeaking));
    let left = style.of("that less than {} is left", "dass weniger als {} bleibt");
    let left = if of_the_valve { left.replace("{}", &limit) } else { String::new() };
    adapter.set_certainty_note(left.into());
}

fn show_next(adapter: &ProofAdapter<'_>, known: &Known, style: &Style) {
    let card = known.card.as_ref();
    let codes: Vec<&str> = card
        .and_then(|card| card.car.as_ref())
        .map(|car| car.codes.iter().map(|line| line.code.as_str()).collect())
        .unwrap_or_default();
    adapter.set_next_title(style.of("Next: clear codes", "Als Nächstes: Codes löschen").into());
    let words = style
        .of(
            "Erases {} and resets readiness. An inspection then has to wait for the monitors; a permanent code stays until they pass.",
            "Löscht {} und setzt die Bereitschaft zurück. Eine Untersuchung muss dann auf die Überwachungen warten; ein permanenter Code bleibt, bis sie bestehen.",
        )
        .replace("{}", &if codes.is_empty() { style.of("the codes", "die Codes").to_owned() } else { codes.join(", ") });
    adapter.set_next_words(words.into());
    adapter.set_action(style.of("Clear codes …", "Codes löschen …").into());
}

/// A measure as a row of the table is headed: with its unit, unless that is Pa.
pub(super) fn headed(name: MeasureName, style: &Style) -> String {
    let (title, unit) = (measure_name(name, style.language), measure_unit(name, style));
    if unit.is_empty() || unit == "Pa" { title.to_owned() } else { format!("{title}, {unit}") }
}

/// A number and half its bounds in the unit that its row is headed with.
pub(super) fn told(name: MeasureName, estimate: Estimate, style: &Style) -> (String, String) {
    let estimate = measure_value_in(name, &estimate, style);
    let is_fine = estimate.value.abs() < 10.0 && measure_unit(name, style) != "Pa";
    let decimals = usize::from(is_fine) * 2;
    let shown = |value| number(value, decimals, style.language);
    (shown(estimate.value), shown(estimate.half_width()))
}

/// A number with its bounds, unless they are narrower than what is shown of it.
pub(super) fn told_with_bounds(name: MeasureName, estimate: Estimate, style: &Style) -> String {
    let (value, half) = told(name, estimate, style);
    if half == "0" { value } else { format!("{value} ±{half}") }
}

/// The numbers of the proof; where an earlier check of this visit gave the same one, it is before.
fn lines(proof: &ProofReport, known: &Known) -> Vec<OverlayLine> {
    let style = &known.style;
    let results = known.card.as_ref().map(|card| card.results.as_slice()).unwrap_or_default();
    let line = |measure: &Measure| {
        let before = results
            .iter()
            .filter(|result| result.check != proof.result.check)
            .find_map(|result| result.measure(measure.name));
        let still = measure_unit(measure.name, style) == "Pa" && before.is_some();
        let limit = number(proof.limit_pa, 0, style.language);
        OverlayLine {
            name: headed(measure.name, style).into(),
            before: before
                .map_or_else(|| "–".to_owned(), |estimate| told(measure.name, estimate, style).0)
                .into(),
            after: told_with_bounds(measure.name, measure.estimate, style).into(),
            limit: if still { format!("±{limit}") } else { String::new() }.into(),
            mark: if still && measure.estimate.value.abs() <= proof.limit_pa {
                Mark::Pass
            } else if still {
                Mark::Fail
            } else {
                Mark::None
            },
        }
    };
    proof.result.measures.iter().map(line).collect()
}

/// Before and after in one strip.
fn strip(window: &AppWindow, proof: &ProofReport, known: &Known) -> Option<StripView> {
    let style = &known.style;
    let (earlier, later) = proof.deeds;
    let title = comparison_adapter::pair_title(proof.deeds, style);
    window.global::<ProofAdapter>().set_strip_title(title.into());
    let deed = comparison_adapter::pair_deed(proof.deeds, style.language);
    // Only what nothing may pull on has rails, and one reading that stands for the rest.
    let still = [Check::ThrottleFollow, Check::IdleZero];
    let is_still = still.contains(&earlier) && still.contains(&later);
    let overlaid = Overlaid {
        before: &proof.before,
        after: &proof.after,
        names: (style.of("Before", "Vorher").to_owned(), style.of("After", "Nachher").to_owned()),
        limit_pa: is_still.then_some(proof.limit_pa),
        deed: deed.as_deref(),
    };
    overlay_strip(window, StripPlace::Proof, &overlaid, known)
}

/// Two traces of tank pressure on one scale.
pub(super) struct Overlaid<'a> {
    /// Seconds, Pa.
    pub(super) before: &'a [(f64, f64)],
    /// Alike.
    pub(super) after: &'a [(f64, f64)],
    /// What the two are called.
    pub(super) names: (String, String),
    /// Limit within which the tank counts as still, Pa; `None` where it must move.
    pub(super) limit_pa: Option<f64>,
    /// What was done at zero, where both are laid at the same.
    pub(super) deed: Option<&'a str>,
}

/// Draws both in the strip at this place; `None` without a size or without anything to draw.
pub(super) fn overlay_strip(
    window: &AppWindow,
    place: StripPlace,
    overlaid: &Overlaid<'_>,
    known: &Known,
) -> Option<StripView> {
    let size = *known.sizes.get(&(place as u8))?;
    let style = &known.style;
    let factor = 1.0 / style.pressure.pascal();
    let scaled =
        |points: &[(f64, f64)]| points.iter().map(|(t, v)| (*t, v * factor)).collect::<Vec<_>>();
    let (before, after) = (scaled(overlaid.before), scaled(overlaid.after));
    let all = before.iter().chain(&after);
    let times = all.clone().map(|(time, _)| *time);
    let (first, last) = times.fold((f64::MAX, f64::MIN), |(a, b), t| (a.min(t), b.max(t)));
    if last <= first {
        return None;
    }
    let limit = overlaid.limit_pa.map(|it| it * factor);
    let reach = limit.unwrap_or(0.0);
    let (low, high) = span(all.map(|(_, value)| *value).chain([-reach, reach]), factor);
    let trace = |kind, points: &[(f64, f64)], name: &str| Trace {
        kind,
        pieces: vec![points.to_vec()],
        name: name.to_owned(),
    };
    let mark = |points: &[(f64, f64)], fails: bool| {
        let mut values: Vec<f64> = points.iter().map(|(_, value)| *value).collect();
        values.sort_by(f64::total_cmp);
        let at = |share: f64| {
            let index = (values.len().saturating_sub(1) as f64 * share).round() as usize;
            values.get(index).copied().unwrap_or_default()
        };
        TotalMark {
            low: at(0.25),
            value: at(0.5),
            high: at(0.75),
            words: number(at(0.5), usize::from(factor < 1.0) * 2, style.language),
            fails,
        }
    };
    let marks = [(&before, true), (&after, false)];
    let marks = marks.into_iter().filter(|(points, _)| !points.is_empty());
    let spec = Spec {
        seconds: (first, last),
        events: overlaid
            .deed
            .map(|words| Event { at: 0.0, words: words.to_owned() })
            .into_iter()
            .collect(),
        total: limit.is_some().then(|| Total {
            words: (
                style.of("Half of the", "Die Hälfte").to_owned(),
                style.of("readings", "der Werte").to_owned(),
            ),
            marks: marks.map(|(points, fails)| mark(points, fails)).collect(),
            zero: None,
        }),
        lanes: vec![Lane {
            name: lane_name(Signal::TankPressure, style),
            extent: Extent::Rest,
            low,
            high,
            traces: vec![
                trace(TraceKind::Before, &before, &overlaid.names.0),
                trace(TraceKind::Plain, &after, &overlaid.names.1),
            ],
            rails: limit
                .map(|limit| RailSpan {
                    from: first,
                    until: f64::INFINITY,
                    low: -limit,
                    high: limit,
                })
                .into_iter()
                .collect(),
            landing: Vec::new(),
            landing_words: String::new(),
            scale_words: String::new(),
            dimension: None,
        }],
        decimal_comma: style.language == Language::German,
        ..Spec::default()
    };
    Some(render(window, &spec, size, known))
}
