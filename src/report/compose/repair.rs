use super::checks::numbers;
use super::overlaid::{figure, table};
use super::savings::savings;
use super::{date_and_time, section};
use crate::evidence::{MeasureName, Outcome};
use crate::report::document::{Block, LeaderLine, Section, Table};
use crate::report::visit::{ProofRecord, RepairRecord, Visit};
use crate::wording::{Language, fault_title, measure_name, measure_value, pressure_value};

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
    let alternative = match language {
        Language::English => {
            format!("Tank pressure before and after the repair. {word}: {sentence}")
        }
        Language::German => {
            format!("Tankdruck vor und nach der Reparatur. {word}: {sentence}")
        }
    };
    let points = (proof.before.as_slice(), proof.after.as_slice());
    let words = (language.of("before", "vorher"), language.of("after", "nachher"));
    blocks.extend(figure(points, words, proof.deeds, Some(proof.limit_pa), alternative, style));
    let limit = pressure_value(proof.limit_pa.abs(), style);
    blocks.extend(compared(proof, &limit, visit).or_else(|| numbers(&proof.result, visit)));
    Some(section(language.of("Proof", "Nachweis"), blocks))
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
    let words = (language.of("Before", "Vorher"), language.of("After", "Nachher"));
    table(words, rows, language)
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
