use super::checks::numbers;
use super::savings::savings;
use super::{date_and_time, section};
use crate::evidence::{Check, MeasureName, Outcome};
use crate::report::chart::{Overlay, overlay};
use crate::report::document::{Block, Figure, LeaderLine, Section, Table};
use crate::report::visit::{ProofRecord, RepairRecord, Visit};
use crate::wording::{
    Language, fault_title, measure_name, measure_value, pressure_value, proof_caption, signal_name,
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

/// How a proof ended, as on its stamp.
pub(in crate::report) fn proof_word(outcome: Outcome, language: Language) -> &'static str {
    match outcome {
        Outcome::Pass => language.of("Repair proven", "Reparatur nachgewiesen"),
        Outcome::Fail => language.of("Not repaired", "Nicht behoben"),
        Outcome::Inconclusive => language.of("Not proven", "Nicht nachgewiesen"),
    }
}

/// Before and after, laid over each other.
pub(super) fn proof(visit: &Visit) -> Option<Section> {
    let style = &visit.style;
    let language = style.language;
    let proof = visit.proof.as_ref()?;
    let outcome = proof.result.outcome;
    let word = proof_word(outcome, language);
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
        limit_pa: has_rails(proof.deeds).then_some(proof.limit_pa),
        before_word,
        after_word,
        label: signal_name(crate::vehicle::Signal::TankPressure, language),
        style,
    });
    let limit = pressure_value(proof.limit_pa.abs(), style);
    if let Some(drawing) = drawing {
        let mut caption = proof_caption(proof.deeds, language).to_owned();
        if has_rails(proof.deeds) {
            caption = match language {
                Language::English => {
                    format!("{caption} Still means within ±{limit}, between the rails.")
                }
                Language::German => {
                    format!("{caption} Still heißt innerhalb ±{limit}, zwischen den Linien.")
                }
            };
        }
        let alternative = match language {
            Language::English => {
                format!("Tank pressure before and after the repair. {word}: {sentence}")
            }
            Language::German => {
                format!("Tankdruck vor und nach der Reparatur. {word}: {sentence}")
            }
        };
        blocks.push(Block::Figure(Figure { drawing, caption, alternative }));
    }
    blocks.extend(compared(proof, &limit, visit).or_else(|| numbers(&proof.result, visit)));
    Some(section(language.of("Proof", "Nachweis"), blocks))
}

/// Whether the tank must stay between rails after these deeds: nothing may pull on it.
fn has_rails(deeds: (Check, Check)) -> bool {
    let still = [Check::ThrottleFollow, Check::IdleZero];
    still.contains(&deeds.0) && still.contains(&deeds.1)
}

/// The numbers before and after, side by side; `None` where nothing was measured before.
fn compared(proof: &ProofRecord, limit: &str, visit: &Visit) -> Option<Block> {
    let style = &visit.style;
    let language = style.language;
    let rows: Vec<Vec<String>> = proof
        .numbers
        .iter()
        .filter_map(|number| {
            // The limit of a proof is what it must stay within: it stands in the last column.
            let before = number.before.filter(|_| number.name != MeasureName::DetectionLimit)?;
            let is_limited = number.name == MeasureName::VacuumWithPurgeShut;
            Some(vec![
                measure_name(number.name, language).to_owned(),
                measure_value(number.name, &before, style),
                measure_value(number.name, &number.after, style),
                if is_limited { format!("±{limit}") } else { String::new() },
            ])
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            head: vec![
                language.of("Measured", "Gemessen").to_owned(),
                language.of("Before", "Vorher").to_owned(),
                language.of("After", "Nachher").to_owned(),
                language.of("Must be", "Muss sein").to_owned(),
            ],
            rows,
            widths: vec![0.28, 0.29, 0.28, 0.15],
            right: vec![false, true, true, true],
        })
    })
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
