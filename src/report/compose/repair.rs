use super::checks::numbers;
use super::savings::savings;
use super::{date_and_time, section};
use crate::evidence::{MeasureName, Outcome};
use crate::report::chart::{Overlay, overlay};
use crate::report::document::{Block, Figure, LeaderLine, Section, Table};
use crate::report::visit::{RepairRecord, Visit};
use crate::wording::{
    Language, fault_title, measure_name, measure_value, pressure_value, signal_name,
};

/// What was replaced, what it cost and what was saved.
pub(super) fn repair(visit: &Visit) -> Option<Section> {
    let language = visit.style.language;
    let repair = visit.repair.as_ref()?;
    let mut blocks = vec![Block::Sentence(visit.shown_text(&repair.part))];
    if let Some(fault) = repair.fault {
        let fault = fault_title(fault, language);
        blocks.push(Block::Text(match language {
            Language::English => format!("Done because of: {fault}."),
            Language::German => format!("Anlass: {fault}."),
        }));
    }
    blocks.extend(prices(visit, repair));
    if !repair.lines.is_empty() {
        blocks.push(heading(language.of("Costs", "Kosten"), &repair.currency));
        let mut lines: Vec<LeaderLine> = repair
            .lines
            .iter()
            .map(|line| leader(&visit.shown_text(&line.text), &line.amount, false, language))
            .collect();
        lines.push(leader(language.of("Total", "Summe"), &repair.total, true, language));
        blocks.push(Block::Leaders(lines));
    }
    blocks.extend(savings(visit, repair));
    if !repair.notes.trim().is_empty() {
        blocks.push(Block::Text(visit.shown_text(&repair.notes)));
    }
    Some(section(language.of("Repair", "Reparatur"), blocks))
}

/// Before and after, laid over each other.
pub(super) fn proof(visit: &Visit) -> Option<Section> {
    let style = &visit.style;
    let language = style.language;
    let proof = visit.proof.as_ref()?;
    let outcome = proof.result.outcome;
    let word = match outcome {
        Outcome::Pass => language.of("Repair proven", "Reparatur nachgewiesen"),
        Outcome::Fail => language.of("Not repaired", "Nicht behoben"),
        Outcome::Inconclusive => language.of("Not proven", "Nicht nachgewiesen"),
    };
    let sentence = visit.proof_sentence(proof);
    let mut blocks = vec![
        Block::Stamp { mark: outcome.into(), word: word.to_owned() },
        Block::Sentence(sentence.clone()),
    ];
    if let (Some(before), Some(after)) = (&proof.before_at, &proof.after_at) {
        let (before, after) = (date_and_time(before, language), date_and_time(after, language));
        blocks.push(Block::Text(match language {
            Language::English => format!("The same checks: before {before}, after {after}."),
            Language::German => format!("Dieselben Prüfungen: vorher {before}, nachher {after}."),
        }));
    }
    let (before_word, after_word) =
        (language.of("before", "vorher"), language.of("after", "nachher"));
    let drawing = overlay(&Overlay {
        before: &proof.before,
        after: &proof.after,
        limit_pa: proof.limit_pa,
        before_word,
        after_word,
        label: signal_name(crate::vehicle::Signal::TankPressure, language),
        style,
    });
    let limit = pressure_value(proof.limit_pa.abs(), style);
    if let Some(drawing) = drawing {
        let (caption, alternative) = match language {
            Language::English => (
                format!(
                    "Before and after on one scale, time downwards. Still means within ±{limit}, between the rails."
                ),
                format!("Tank pressure before and after the repair. {word}: {sentence}"),
            ),
            Language::German => (
                format!(
                    "Vorher und nachher auf einer Skala, Zeit nach unten. Still heißt innerhalb ±{limit}, zwischen den Linien."
                ),
                format!("Tankdruck vor und nach der Reparatur. {word}: {sentence}"),
            ),
        };
        blocks.push(Block::Figure(Figure { drawing, caption, alternative }));
    }
    if let Some((before, after)) = &proof.shut_vacuum {
        let name = MeasureName::VacuumWithPurgeShut;
        blocks.push(Block::Table(Table {
            head: vec![
                language.of("Measured", "Gemessen").to_owned(),
                language.of("Before", "Vorher").to_owned(),
                language.of("After", "Nachher").to_owned(),
                language.of("Must be", "Muss sein").to_owned(),
            ],
            rows: vec![vec![
                measure_name(name, language).to_owned(),
                measure_value(name, before, style),
                measure_value(name, after, style),
                format!("±{limit}"),
            ]],
            widths: vec![0.28, 0.29, 0.28, 0.15],
            right: vec![false, true, true, true],
        }));
    } else {
        blocks.extend(numbers(&proof.result, visit));
    }
    Some(section(language.of("Proof", "Nachweis"), blocks))
}

fn prices(visit: &Visit, repair: &RepairRecord) -> Vec<Block> {
    let language = visit.style.language;
    if repair.prices.is_empty() {
        return Vec::new();
    }
    let rows = repair.prices.iter().map(|price| {
        let chosen = if price.chosen { language.of("bought", "gekauft") } else { "" };
        vec![
            visit.shown_text(&price.seller),
            visit.shown_text(&price.note),
            chosen.to_owned(),
            amount(&price.amount, language),
        ]
    });
    let table = Table {
        head: vec![
            language.of("Seller", "Verkäufer").to_owned(),
            language.of("Note", "Bemerkung").to_owned(),
            language.of("Choice", "Wahl").to_owned(),
            repair.currency.clone(),
        ],
        rows: rows.collect(),
        widths: vec![0.36, 0.34, 0.13, 0.17],
        right: vec![false, false, false, true],
    };
    vec![heading(language.of("Prices asked", "Angefragte Preise"), ""), Block::Table(table)]
}

pub(super) fn heading(text: &str, currency: &str) -> Block {
    let text = if currency.is_empty() { text.to_owned() } else { format!("{text}, {currency}") };
    Block::Subheading { text, outcome: None }
}

pub(super) fn leader(text: &str, value: &str, is_total: bool, language: Language) -> LeaderLine {
    LeaderLine { text: text.to_owned(), amount: amount(value, language), is_total }
}

/// An exact decimal as written, with the language's decimal mark and a true minus.
pub(in crate::report) fn amount(decimal: &str, language: Language) -> String {
    let shown = decimal.trim().replace('.', language.of(".", ","));
    match shown.strip_prefix('-') {
        Some(rest) => format!("−{rest}"),
        None => shown,
    }
}
