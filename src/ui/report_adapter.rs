use std::path::Path;
use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, SharedString, VecModel};

use super::markup::{AppWindow, Mark, Page, ReportAdapter, ReportSection};

use super::session::{Known, Session};
use super::vehicles_adapter::outcome_look;
use super::visit_adapter::complaint;
use super::{comparison_adapter, dates, device_adapter};
use crate::jobs::{Command, Paper, ReportFormat, VisitCard};
use crate::wording::{
    Language, Style, check_title, money, outcome_word, proof_sentence, reason, weight_for,
};

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let to = Rc::downgrade(session);
    window.global::<ReportAdapter>().on_write_pressed(move |format, private, letter| {
        let Some(session) = to.upgrade() else { return };
        let format = match format {
            0 => ReportFormat::Pdf,
            1 => ReportFormat::Html,
            2 => ReportFormat::Csv,
            _ => ReportFormat::Json,
        };
        let visit = session.known().card.as_ref().map(|card| card.id);
        let paper = if letter { Paper::Letter } else { Paper::A4 };
        session.send(Command::WriteReport { visit, format, path: None, private, paper });
    });
    let to = Rc::downgrade(session);
    window.global::<ReportAdapter>().on_handed_over(move || {
        if let Some(session) = to.upgrade() {
            device_adapter::hand_over(&session);
        }
    });
}

/// Says where the report is.
pub(super) fn show_written(window: &AppWindow, path: &Path) {
    window.global::<ReportAdapter>().set_written(path.display().to_string().into());
}

/// A demonstration ends by writing its report: what it came to is shown, where a check was last.
pub(super) fn end_demo(session: &Session) {
    let proven = session.known().card.as_ref().is_some_and(|card| card.proof.is_some());
    if session.known().following {
        session.go(if proven { Page::Proof } else { Page::Verdict });
    }
}

/// Shows what the report will say.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<ReportAdapter>(), &known.style);
    let visit = match style.language {
        Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
        Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
    };
    adapter.set_title(format!("{visit}, {}", dates::day(card.started, style.language)).into());
    adapter.set_note(visit.into());
    adapter.set_virtual_car(card.vehicle.is_virtual);
    let mark = card.verdict.as_ref().map_or(Mark::Expected, |v| outcome_look(v.outcome).0);
    adapter.set_mark(mark);
    let sentence = if card.verdict_sentence.is_empty() {
        style.of("No verdict yet.", "Noch kein Urteil.").to_owned()
    } else {
        crate::ui::verdict_adapter::sentence_of(card, style)
    };
    adapter.set_sentence(sentence.into());
    let sections: Vec<ReportSection> = sections(card, style)
        .into_iter()
        .chain(comparison_adapter::section(card, known))
        .filter(|(_, lines)| !lines.is_empty())
        .map(|(title, lines)| {
            let lines: Vec<SharedString> = lines.into_iter().map(Into::into).collect();
            ReportSection { title: title.into(), lines: ModelRc::new(VecModel::from(lines)) }
        })
        .collect();
    adapter.set_sections(ModelRc::new(VecModel::from(sections)));
}

fn sections(card: &VisitCard, style: &Style) -> Vec<(String, Vec<String>)> {
    let language = style.language;
    let codes = card.car.iter().flat_map(|car| &car.codes);
    let codes = codes.map(|line| format!("{} {}", line.code, line.meaning)).collect();
    let checks = card.results.iter().map(|result| {
        let title = check_title(result.check, language);
        format!("{title}: {}. {}", outcome_word(result.outcome, language), reason(result, style))
    });
    let why = card.verdict.iter().flat_map(|verdict| {
        let leading = verdict.leading();
        verdict.weights.iter().map(move |weight| weight_for(weight, leading, style))
    });
    let repair = card.repair.iter().map(|repair| {
        let total = money(&repair.total, language);
        format!("{}, {} {total}", repair.draft.part, repair.draft.currency)
    });
    let proof = card.proof.iter().map(|proof| {
        let fault = card.verdict.as_ref().and_then(|verdict| verdict.fault);
        proof_sentence(&proof.result, fault, style)
    });
    let sections = [
        (style.of("Complaint", "Beanstandung"), vec![complaint(card, style)]),
        (style.of("What the car says", "Was das Auto sagt"), codes),
        (style.of("Checks", "Prüfungen"), checks.collect()),
        (style.of("Why", "Warum"), why.collect()),
        (style.of("Repair", "Reparatur"), repair.collect()),
        (style.of("Proof", "Nachweis"), proof.collect()),
    ];
    sections.map(|(title, lines)| (title.to_owned(), lines)).into()
}
