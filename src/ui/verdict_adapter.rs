use std::rc::Rc;

use slint::{ComponentHandle, Image, ModelRc, VecModel};

use super::live_adapter::look;
use super::markup::{AmountItem, AppWindow, EvidenceItem, Mark, Navigation, Page, VerdictAdapter};
use super::next_action::{NextAction, next_action};
use super::plot_model::LiveStrip;
use super::session::{Known, Session};
use super::strip::draw_plain;
use super::vehicles_adapter::outcome_look;
use super::visit_adapter::{act, action_words, check_look};
use super::visit_car::upper_first;
use crate::diagnosis::{Hypothesis, Source, Verdict, VerdictOutcome, Weight};
use crate::evidence::{Check, MeasureName};
use crate::jobs::VisitCard;
use crate::wording::{
    Language, Style, check_title, factor, fault_clause, hypothesis_title, number, observation,
    percent, smallest_leak, verdict_outcome_word, weight_source, why_next, with_hypothesis,
};

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let to = Rc::downgrade(session);
    window.global::<VerdictAdapter>().on_acted(move || {
        let Some(session) = to.upgrade() else { return };
        let action = {
            let known = session.known();
            known
                .card
                .as_ref()
                .map(|card| (card.verdict.clone(), next_action(card, known.link.as_ref())))
        };
        match action {
            Some((Some(verdict), NextAction::SeeVerdict))
                if verdict.outcome == VerdictOutcome::FaultFound =>
            {
                session.go(Page::Repair);
            }
            Some((_, NextAction::SeeVerdict)) | None => session.go(Page::Visit),
            Some((_, action)) => act(&session, action),
        }
    });
}

/// Shows the verdict, if the card has one.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<VerdictAdapter>(), &known.style);
    let note = match style.language {
        Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
        Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
    };
    adapter.set_note(note.into());
    adapter.set_virtual_car(card.vehicle.is_virtual);
    let Some(verdict) = &card.verdict else {
        adapter.set_mark(Mark::Inconclusive);
        adapter.set_stamp(style.of("Not yet", "Noch nicht").into());
        adapter.set_sentence(
            style.of("No check has been made yet.", "Noch keine Prüfung gemacht.").into(),
        );
        adapter.set_evidence(ModelRc::default());
        adapter.set_others(ModelRc::default());
        adapter.set_action(style.of("Back to the card", "Zurück zur Karte").into());
        return;
    };
    show_head(&adapter, verdict, card, style);
    show_limit(&adapter, verdict, card, style);
    show_next(&adapter, verdict, card, known);
    show_evidence(window, verdict, card, known);
}

fn show_head(adapter: &VerdictAdapter<'_>, verdict: &Verdict, card: &VisitCard, style: &Style) {
    let language = style.language;
    let (mark, tone) = outcome_look(verdict.outcome);
    adapter.set_mark(mark);
    adapter.set_tone(tone);
    adapter.set_stamp(verdict_outcome_word(verdict.outcome, language).into());
    let sentence = sentence_of(card, style);
    let detail = match verdict.outcome {
        VerdictOutcome::FaultFound => leak_words(card, style),
        VerdictOutcome::NoFaultFound => String::new(),
        VerdictOutcome::Inconclusive => card.verdict_sentence.clone(),
    };
    adapter.set_sentence(sentence.into());
    adapter.set_detail(detail.into());
    adapter.set_certainty(verdict.probability as f32);
    let decided = verdict.outcome != VerdictOutcome::Inconclusive;
    adapter.set_decided(decided);
    let sure = exact_percent(verdict.probability, style);
    let words = if decided {
        style.of("Sure: {}", "Sicher: {}").replace("{}", &sure)
    } else {
        let leading = hypothesis_title(verdict.leading(), language);
        style.of("{}: {}", "{}: {}").replacen("{}", leading, 1).replacen("{}", &sure, 1)
    };
    adapter.set_certainty_words(words.into());
    let mut others: Vec<(Hypothesis, f64)> =
        verdict.probabilities.iter().filter(|(h, _)| *h != verdict.leading()).copied().collect();
    others.sort_by(|a, b| b.1.total_cmp(&a.1));
    let next = others.first().map(|(hypothesis, share)| {
        let title =
            super::vehicles_adapter::lower_first(hypothesis_title(*hypothesis, language), style);
        let share = exact_percent(*share, style);
        style
            .of("next likeliest: {}, {}", "danach: {}, {}")
            .replacen("{}", &title, 1)
            .replacen("{}", &share, 1)
    });
    adapter.set_next_likeliest(next.unwrap_or_default().into());
    let lines: Vec<AmountItem> = others
        .iter()
        .take(4)
        .map(|(hypothesis, share)| AmountItem {
            text: hypothesis_title(*hypothesis, language).into(),
            amount: exact_percent(*share, style).into(),
            strong: false,
        })
        .collect();
    adapter.set_others(ModelRc::new(VecModel::from(lines)));
}

/// The verdict as a heading: one sentence, without its certainty.
pub(super) fn sentence_of(card: &VisitCard, style: &Style) -> String {
    let verdict = card.verdict.as_ref();
    match verdict.map(|verdict| (verdict.outcome, verdict.fault)) {
        Some((VerdictOutcome::FaultFound, Some(fault))) => {
            format!("{}.", fault_clause(fault, style.language))
        }
        Some((VerdictOutcome::NoFaultFound, _)) => style
            .of(
                "No fault was found in the vapour system.",
                "Im Tankentlüftungssystem wurde kein Fehler gefunden.",
            )
            .to_owned(),
        _ => style
            .of("The parts cannot be told apart yet.", "Noch lässt sich kein Teil benennen.")
            .to_owned(),
    }
}

/// One decimal near the ends, where whole per cents would hide what matters.
fn exact_percent(share: f64, style: &Style) -> String {
    let hundredth = share * 100.0;
    if (0.1..=99.9).contains(&hundredth) && !(10.0..=90.0).contains(&hundredth) {
        format!("{} %", number(hundredth, 1, style.language))
    } else {
        percent(share, style.language)
    }
}

/// How large the leak is, in units that a person can use.
fn leak_words(card: &VisitCard, style: &Style) -> String {
    let find = |name: MeasureName| card.results.iter().find_map(|result| result.measure(name));
    let language = style.language;
    let share = find(MeasureName::ShareOfPurge).map(|e| number(e.value, 0, language));
    let flow = find(MeasureName::LeakFlow).map(|e| number(e.value, 1, language));
    let hole = find(MeasureName::EquivalentHole).map(|e| number(e.value, 1, language));
    match (share, flow, hole, language) {
        (Some(share), Some(flow), Some(hole), Language::English) => format!(
            "Shut, it still flows like a {share} % command: {flow} L/min, as through a {hole} mm hole."
        ),
        (Some(share), Some(flow), Some(hole), Language::German) => format!(
            "Geschlossen strömt es noch wie bei {share} % Ansteuerung: {flow} L/min, wie durch ein Loch von {hole} mm."
        ),
        (Some(share), _, _, Language::English) => {
            format!("Shut, it still flows like a {share} % command.")
        }
        (Some(share), _, _, Language::German) => {
            format!("Geschlossen strömt es noch wie bei {share} % Ansteuerung.")
        }
        _ => String::new(),
    }
}

fn show_limit(adapter: &VerdictAdapter<'_>, verdict: &Verdict, card: &VisitCard, style: &Style) {
    let words = smallest_leak(verdict, style).map(|leak| {
        style
            .of(
                "This visit would have shown any leak through the shut valve down to {}.",
                "Dieser Besuch hätte jedes Leck im geschlossenen Ventil ab {} gezeigt.",
            )
            .replace("{}", &leak)
    });
    let found = card.results.iter().find_map(|r| r.measure(MeasureName::VacuumWithPurgeShut));
    let limit = verdict.smallest_leak_pa.filter(|pa| pa.is_finite());
    let shown = |pascal: f64| crate::wording::pressure_value(pascal, style);
    let fails = verdict.outcome == VerdictOutcome::FaultFound;
    adapter.set_limit_found(
        found.filter(|_| fails).map(|e| shown(e.value)).unwrap_or_default().into(),
    );
    adapter
        .set_limit_band(limit.map(|pa| format!("±{}", shown(pa.abs()))).unwrap_or_default().into());
    adapter.set_limit(
        words
            .unwrap_or_else(|| {
                style
                    .of(
                        "How small a leak this visit would have shown is not known yet.",
                        "Wie klein ein Leck sein dürfte, um aufzufallen, ist noch offen.",
                    )
                    .to_owned()
            })
            .into(),
    );
}

fn show_next(adapter: &VerdictAdapter<'_>, verdict: &Verdict, card: &VisitCard, known: &Known) {
    let style = &known.style;
    let found = verdict.outcome == VerdictOutcome::FaultFound && card.repair.is_none();
    let (title, action) = if card.repair.is_some() {
        let words = action_words(next_action(card, known.link.as_ref()), style);
        (
            style.of("The repair is on the card", "Die Reparatur steht auf der Karte").to_owned(),
            words,
        )
    } else if found {
        let title = verdict.next_check.map(|next| why_next(&next, style.language));
        let repair = style.of("Record the repair", "Reparatur eintragen");
        (
            title.unwrap_or_else(|| {
                style.of("Next: the repair", "Als Nächstes: die Reparatur").to_owned()
            }),
            repair.to_owned(),
        )
    } else {
        match verdict.next_check {
            Some(next) => {
                let name = check_title(next.check, style.language);
                (
                    style.of("Next: {}", "Als Nächstes: {}").replace("{}", name),
                    style.of("Go on", "Weiter").to_owned(),
                )
            }
            None => (
                style.of("Nothing more to do", "Nichts weiter zu tun").to_owned(),
                style.of("Back to the card", "Zurück zur Karte").to_owned(),
            ),
        }
    };
    adapter.set_next_title(title.into());
    adapter.set_action(action.into());
    adapter.set_action_repairs(found);
    let costs: Vec<AmountItem> = card
        .repair
        .iter()
        .flat_map(|repair| {
            let total =
                Some((style.of("Repair, paid", "Reparatur, bezahlt"), repair.total.clone()));
            let saved = repair.saved.clone().map(|s| {
                (
                    style.of(
                        "Saved against a shop’s diagnosis",
                        "Gespart gegenüber der Werkstattdiagnose",
                    ),
                    s,
                )
            });
            total.into_iter().chain(saved)
        })
        .map(|(text, amount)| AmountItem {
            text: text.into(),
            amount: amount.into(),
            strong: false,
        })
        .collect();
    adapter.set_costs(ModelRc::new(VecModel::from(costs)));
}

fn show_evidence(window: &AppWindow, verdict: &Verdict, card: &VisitCard, known: &Known) {
    let adapter = window.global::<VerdictAdapter>();
    let style = &known.style;
    let mut weights: Vec<&Weight> = verdict
        .weights
        .iter()
        .filter(|weight| weight.source != Source::Prior && blocks(weight.factor) != 0)
        .collect();
    weights.sort_by(|a, b| b.factor.ln().abs().total_cmp(&a.factor.ln().abs()));
    let against = weights.iter().filter(|weight| weight.factor < 1.0).count();
    let why = style
        .of("Why: {} for, {} against", "Warum: {} dafür, {} dagegen")
        .replacen("{}", &(weights.len() - against).to_string(), 1)
        .replacen("{}", &against.to_string(), 1);
    adapter.set_why(why.into());
    let under = with_hypothesis(verdict.leading(), style.language);
    let strips = window.global::<Navigation>().get_page() == Page::Verdict
        || !known.recording.actions().is_empty();
    let mut seen: Vec<Check> = Vec::new();
    let items: Vec<EvidenceItem> = weights
        .iter()
        .map(|weight| {
            let (mark, title, check) = source(weight, card, style);
            // One small strip a check: the very samples that show it.
            let strip = check.filter(|check| strips && !seen.contains(check)).and_then(|check| {
                seen.push(check);
                small_strip(window, check, card, known)
            });
            EvidenceItem {
                mark,
                title: title.into(),
                sentence: sentence(weight, card, style).into(),
                odds: factor(weight.factor, under, style.language).into(),
                has_strip: strip.is_some(),
                strip: strip.unwrap_or_default(),
                blocks: blocks(weight.factor),
            }
        })
        .collect();
    adapter.set_evidence(ModelRc::new(VecModel::from(items)));
}

/// One block for each factor of about three, five at most.
fn blocks(factor: f64) -> i32 {
    let blocks = (factor.max(1e-9).ln() / 3.0_f64.ln()).round();
    blocks.clamp(-3.0, 5.0) as i32
}

fn source(weight: &Weight, card: &VisitCard, style: &Style) -> (Mark, String, Option<Check>) {
    let language = style.language;
    match &weight.source {
        Source::Prior => (Mark::None, style.of("How common", "Häufigkeit").to_owned(), None),
        Source::Code(code) => {
            (Mark::Fail, style.of("Code {}", "Code {}").replace("{}", code), None)
        }
        Source::Observation(seen) => {
            (Mark::Inconclusive, observation(*seen, language).to_owned(), None)
        }
        Source::Measure(check, _) => {
            let result = card.results.iter().find(|result| result.check == *check);
            let mark = result.map_or(Mark::Inconclusive, |result| check_look(result.outcome).0);
            (mark, check_title(*check, language).to_owned(), Some(*check))
        }
    }
}

/// What was seen, beyond the title of the line.
fn sentence(weight: &Weight, card: &VisitCard, style: &Style) -> String {
    match &weight.source {
        Source::Code(code) => {
            let lines = card.car.iter().flat_map(|car| &car.codes);
            let meaning = lines.filter(|line| line.code == *code).map(|line| line.meaning.clone());
            meaning.map(|meaning| upper_first(meaning.trim_end_matches('.')) + ".").collect()
        }
        Source::Observation(_) => style.of("Seen by you.", "Von Ihnen gesehen.").to_owned(),
        _ => format!("{}.", weight_source(weight, style)),
    }
}

fn small_strip(window: &AppWindow, check: Check, card: &VisitCard, known: &Known) -> Option<Image> {
    let result = card.results.iter().find(|result| result.check == check)?;
    let (from, until) = result.window;
    let seconds = until.seconds_since(from);
    if seconds <= 0.5 {
        return None;
    }
    let rails = known.rails.get(&check).map(Vec::as_slice).unwrap_or_default();
    let mut spec = LiveStrip::still(&known.recording, result.window, rails, &known.style).spec();
    spec.seconds = (0.0, seconds);
    let scale = f64::from(window.window().scale_factor());
    let empty =
        spec.lanes.iter().all(|lane| lane.traces.iter().all(|trace| trace.pieces.is_empty()));
    (!empty).then(|| Image::from_rgb8(draw_plain(&spec, &look(window), 150.0, 66.0, scale)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_block_is_a_factor_of_about_three() {
        assert_eq!(blocks(3.0), 1);
        assert_eq!(blocks(27.0), 3);
        assert_eq!(blocks(1.2), 0);
        assert_eq!(blocks(1.0 / 9.0), -2);
        assert_eq!(blocks(1e9), 5);
        assert_eq!(blocks(0.0), -3);
    }

    #[test]
    fn certainty_near_the_ends_keeps_its_tenths() {
        let style = Style::default();
        assert_eq!(exact_percent(0.984, &style), "98.4 %");
        assert_eq!(exact_percent(0.007, &style), "0.7 %");
        assert_eq!(exact_percent(0.9999, &style), percent(0.9999, Language::English));
    }
}
