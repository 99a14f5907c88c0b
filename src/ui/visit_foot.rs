use super::comparison_adapter;
use super::dates;
use super::markup::{FootItem, Mark, Page, Tone};

use super::vehicles_adapter::{lower_first, outcome_look};
use super::visit_adapter::check_look;
use crate::diagnosis::VerdictOutcome;
use crate::jobs::VisitCard;
use crate::wording::{Style, fault_title, hypothesis_title, money, percent, verdict_outcome_word};

/// Rows 5 to 9 of the card.
pub(super) fn map(card: &VisitCard, style: &Style) -> Vec<FootItem> {
    vec![
        verdict(card, style),
        repair(card, style),
        proof(card, style),
        codes(card, style),
        follow_up(card, style),
    ]
}

/// The page that a row opens, by its place.
pub(super) const fn page(index: i32) -> Page {
    match index {
        0 => Page::Verdict,
        1 => Page::Repair,
        2 => Page::Proof,
        3 => Page::Codes,
        _ => Page::FollowUp,
    }
}

fn item(number: &str, title: &str, text: String, open: &str) -> FootItem {
    FootItem {
        number: number.into(),
        title: title.into(),
        text: text.into(),
        short: "".into(),
        tone: Tone::Soft,
        mark: Mark::None,
        time: "".into(),
        action: open.into(),
    }
}

fn verdict(card: &VisitCard, style: &Style) -> FootItem {
    let title = style.of("Verdict", "Urteil");
    let open = style.of("Open", "Öffnen");
    let Some(verdict) = &card.verdict else {
        return item("5", title, style.of("not yet", "noch nicht").to_owned(), "");
    };
    let (mark, tone) = outcome_look(verdict.outcome);
    let language = style.language;
    let sure = percent(verdict.probability, language);
    match (verdict.outcome, verdict.fault) {
        (VerdictOutcome::FaultFound, Some(fault)) => FootItem {
            mark,
            tone,
            ..item("5", title, fault_title(fault, language).to_owned(), open)
        },
        (VerdictOutcome::NoFaultFound, _) => FootItem {
            mark,
            tone,
            ..item("5", title, verdict_outcome_word(verdict.outcome, language).to_owned(), open)
        },
        _ => {
            let leading = lower_first(hypothesis_title(verdict.leading(), language), style);
            let text = style
                .of("not yet; {} {}", "offen; {} {}")
                .replacen("{}", &leading, 1)
                .replacen("{}", &sure, 1);
            let short = style.of("not yet", "noch nicht").into();
            FootItem { short, ..item("5", title, text, open) }
        }
    }
}

fn repair(card: &VisitCard, style: &Style) -> FootItem {
    let title = style.of("Repair", "Reparatur");
    let open = if card.verdict.is_some() { style.of("Open", "Öffnen") } else { "" };
    match &card.repair {
        Some(repair) => FootItem {
            tone: Tone::Ink,
            ..item(
                "6",
                title,
                format!("{}, {}", repair.draft.part, money(&repair.total, style.language)),
                open,
            )
        },
        None => item("6", title, "–".to_owned(), open),
    }
}

fn proof(card: &VisitCard, style: &Style) -> FootItem {
    let title = style.of("Proof", "Nachweis");
    let open = if card.repair.is_some() { style.of("Open", "Öffnen") } else { "" };
    match &card.proof {
        Some(proof) => {
            let (mark, tone) = check_look(proof.result.outcome);
            let word = match proof.result.outcome {
                crate::evidence::Outcome::Pass => style.of("Repair proven", "Nachgewiesen"),
                crate::evidence::Outcome::Fail => style.of("Not repaired", "Nicht behoben"),
                crate::evidence::Outcome::Inconclusive => style.of("Inconclusive", "Offen"),
            };
            FootItem { mark, tone, ..item("7", title, word.to_owned(), open) }
        }
        None if proof_compares(card) => {
            let text = style.of("earlier visit", "Vergleich").to_owned();
            item("7", title, text, style.of("Compare", "Ansehen"))
        }
        None => item("7", title, "–".to_owned(), open),
    }
}

/// Whether the row of the proof leads to an earlier visit: what was replaced since then is proven by
/// this one.
pub(super) fn proof_compares(card: &VisitCard) -> bool {
    card.repair.is_none() && card.proof.is_none() && comparison_adapter::has_earlier(card)
}

fn codes(card: &VisitCard, style: &Style) -> FootItem {
    let title = style.of("Clear codes", "Codes löschen");
    match card.cleared {
        Some(at) => {
            let text = style.of("cleared {}", "gelöscht {}").replace("{}", &dates::clock(at));
            FootItem { tone: Tone::Ink, ..item("8", title, text, "") }
        }
        None => {
            let read = card.car.is_some();
            let open = if read { style.of("Open", "Öffnen") } else { "" };
            item("8", title, style.of("last", "zuletzt").to_owned(), open)
        }
    }
}

fn follow_up(card: &VisitCard, style: &Style) -> FootItem {
    let title = style.of("Follow-up", "Nachkontrolle");
    let open = style.of("Plan", "Planen");
    match card.follow_up {
        Some(at) => FootItem {
            tone: Tone::Ink,
            ..item("9", title, dates::short_day(at, style.language), open)
        },
        None => item("9", title, "–".to_owned(), open),
    }
}
