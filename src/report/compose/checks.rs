use super::plot::plots;
use super::section;
use crate::evidence::{Check, CheckResult, MeasureName};
use crate::report::document::{Block, Section, Table};
use crate::report::visit::{CheckRecord, Visit};
use crate::wording::{
    Language, check_title, measure_name, measure_value, outcome_word, reason, warning,
};

/// Every check that was made: outcome, sentence, plot, numbers.
pub(super) fn checks(visit: &Visit) -> Option<Section> {
    let language = visit.style.language;
    let mut blocks = Vec::new();
    for record in &visit.checks {
        // The proof has its own section, with the overlay.
        if record.result.check == Check::RepairProof && visit.proof.is_some() {
            continue;
        }
        blocks.extend(check(visit, record));
    }
    if !visit.warnings.is_empty() && !blocks.is_empty() {
        let text =
            language.of("What weakens these numbers", "Was diese Zahlen schwächt").to_owned();
        blocks.push(Block::Subheading { text, outcome: None });
        let warnings = visit.warnings.iter().map(|it| warning(*it, &visit.style));
        blocks.push(Block::List(warnings.collect()));
    }
    (!blocks.is_empty()).then(|| section(language.of("Checks", "Prüfungen"), blocks))
}

fn check(visit: &Visit, record: &CheckRecord) -> Vec<Block> {
    let style = &visit.style;
    let language = style.language;
    let result = &record.result;
    let title = check_title(result.check, language);
    let word = outcome_word(result.outcome, language);
    let sentence = reason(result, style);
    let mut blocks = vec![
        Block::Subheading {
            text: title.to_owned(),
            outcome: Some((result.outcome.into(), word.to_owned())),
        },
        Block::Text(sentence.clone()),
    ];
    let alternative = match language {
        Language::English => format!("Strip chart of {title}. {word}: {sentence}"),
        Language::German => format!("Streifenschrieb zu {title}. {word}: {sentence}"),
    };
    blocks.extend(plots(visit, record, &alternative).into_iter().map(Block::Figure));
    blocks.extend(numbers(result, visit));
    blocks
}

/// The numbers of a check, in its own order. The detection limit stands among them.
pub(super) fn numbers(result: &CheckResult, visit: &Visit) -> Option<Block> {
    let style = &visit.style;
    let language = style.language;
    let rows: Vec<Vec<String>> = result
        .measures
        .iter()
        // A step of zero means that none was seen.
        .filter(|measure| measure.name != MeasureName::Step || measure.estimate.value > 0.0)
        .map(|measure| {
            let name = measure_name(measure.name, language).to_owned();
            vec![name, measure_value(measure.name, &measure.estimate, style)]
        })
        .collect();
    (!rows.is_empty()).then(|| {
        Block::Table(Table {
            head: vec![
                language.of("Measured", "Gemessen").to_owned(),
                language.of("Value (95\u{a0}% bounds)", "Wert (95-%-Grenzen)").to_owned(),
            ],
            rows,
            widths: vec![0.58, 0.42],
            right: vec![false, true],
        })
    })
}
