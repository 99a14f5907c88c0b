use super::repair::{heading, leader};
use crate::report::document::{Block, LeaderLine, Table};
use crate::report::visit::{GuessRecord, RepairRecord, ToolRecord, Visit};
use crate::wording::{Language, part_title, percent};

/// What the diagnosis saved: against a shop's, against buying by guess, and towards the adapter.
pub(super) fn savings(visit: &Visit, repair: &RepairRecord) -> Vec<Block> {
    let language = visit.style.language;
    let mut lines: Vec<LeaderLine> = Vec::new();
    if let Some(shop) = &repair.shop_diagnosis {
        let text =
            language.of("A shop's diagnosis would have cost", "Werkstattdiagnose hätte gekostet");
        lines.push(leader(text, shop, false, language));
    }
    if let Some(saved) = &repair.saved {
        let text = language.of(
            "Saved against a shop's diagnosis",
            "Gespart gegenüber der Diagnose einer Werkstatt",
        );
        lines.push(leader(text, saved, false, language));
    }
    if let Some(average) = repair.guess.as_ref().and_then(|guess| guess.average.as_ref()) {
        let text =
            language.of("Guessing would have cost, on average", "Raten hätte im Mittel gekostet");
        lines.push(leader(text, average, false, language));
    }
    if let Some(saved) = repair.guess.as_ref().and_then(|guess| guess.saved.as_ref()) {
        let text = language.of("Saved against guessing", "Gespart gegenüber Raten");
        lines.push(leader(text, saved, false, language));
    }
    // What the own adapter cost is no business of a customer's.
    let tool = visit.tool.as_ref().filter(|_| visit.vehicle.customer.is_none() && !visit.private);
    if lines.is_empty() && repair.guess.is_none() && tool.is_none() {
        return Vec::new();
    }
    let mut blocks = vec![heading(language.of("Savings", "Ersparnis"), &repair.currency)];
    if !lines.is_empty() {
        blocks.push(Block::Leaders(lines));
    }
    if let Some(guess) = &repair.guess {
        blocks.push(Block::Small(how(language).to_owned()));
        blocks.push(parts(guess, &repair.currency, language));
    }
    blocks.extend(tool.map(|tool| Block::Text(words(tool, language))));
    blocks
}

const fn how(language: Language) -> &'static str {
    language.of(
        "Who guesses buys the part that the codes make likeliest, then the next, until the fault is gone; the average is taken over the odds of the verdict.",
        "Wer rät, kauft das Teil, das die Codes am wahrscheinlichsten machen, dann das nächste, bis der Fehler weg ist; gemittelt wird über die Wahrscheinlichkeiten des Urteils.",
    )
}

fn parts(guess: &GuessRecord, currency: &str, language: Language) -> Block {
    let unknown = || "–".to_owned();
    let rows = guess.parts.iter().map(|line| {
        let price = line.price.as_ref();
        vec![
            part_title(line.part, language).to_owned(),
            percent(f64::from(line.per_mille) / 1000.0, language),
            price.map_or_else(unknown, |price| super::repair::amount(price, language)),
        ]
    });
    Block::Table(Table {
        head: vec![
            language.of("Bought in this order", "Gekauft in dieser Folge").to_owned(),
            language.of("Ends the fault", "Beendet den Fehler").to_owned(),
            currency.to_owned(),
        ],
        rows: rows.collect(),
        widths: vec![0.5, 0.28, 0.22],
        right: vec![false, true, true],
    })
}

fn words(tool: &ToolRecord, language: Language) -> String {
    let amount = |text: &str| super::repair::amount(text, language);
    let (cost, saved, currency) = (amount(&tool.cost), amount(&tool.saved), &tool.currency);
    match (&tool.left, language) {
        (Some(left), Language::English) => format!(
            "The adapter cost {cost} {currency}; diagnoses saved {saved} {currency} so far, {} {currency} to go.",
            amount(left)
        ),
        (Some(left), Language::German) => format!(
            "Der Adapter kostete {cost} {currency}; Diagnosen haben bisher {saved} {currency} gespart, {} {currency} fehlen noch.",
            amount(left)
        ),
        (None, Language::English) => format!(
            "The adapter cost {cost} {currency} and is paid back: diagnoses saved {saved} {currency} so far."
        ),
        (None, Language::German) => format!(
            "Der Adapter kostete {cost} {currency} und ist bezahlt: Diagnosen haben bisher {saved} {currency} gespart."
        ),
    }
}
