use super::overlaid::{figure, table};
use super::{date, section};
use crate::evidence::{ComparisonEnd, MeasureName};
use crate::report::comparison::{ComparisonRecord, VisitBeside};
use crate::report::document::{Block, Section};
use crate::report::visit::Visit;
use crate::wording::{
    Language, comparison_sentence, comparison_stamp, comparison_wants, fault_title, measure_name,
    measure_value, number, verdict_outcome_word,
};

/// An earlier visit laid under this one, with the proof in words.
pub(super) fn comparison(visit: &Visit) -> Option<Section> {
    let style = &visit.style;
    let language = style.language;
    let record = visit.comparison.as_ref()?;
    let comparison = &record.comparison;
    let word = comparison_stamp(comparison.end, language);
    let sentence = comparison_sentence(comparison, style);
    let mut blocks = vec![
        Block::Stamp { mark: comparison.outcome().into(), word: word.to_owned() },
        Block::Sentence(sentence.clone()),
    ];
    let wants = comparison_wants(&comparison.missing, language);
    blocks.extend(wants.filter(|_| comparison.end != ComparisonEnd::Proven).map(Block::Text));
    blocks.push(Block::Facts(facts(record, visit)));
    let names = (name(&record.earlier, language), name(&record.later, language));
    // What passed before and fails now tells most of what got worse.
    let newly = comparison.newly_failing.first().map(|it| it.check);
    let wanted = record.traces.iter().find(|it| Some(it.check) == newly);
    if let Some(traces) = wanted.or(record.traces.first()) {
        let alternative = match language {
            Language::English => {
                format!(
                    "Tank pressure at {} and at {}. {word}: {sentence}",
                    lower(&names.0),
                    lower(&names.1)
                )
            }
            Language::German => {
                format!("Tankdruck bei {} und bei {}. {word}: {sentence}", names.0, names.1)
            }
        };
        let deeds = (traces.check, traces.later_check);
        let points = (traces.earlier.as_slice(), traces.later.as_slice());
        let words = (names.0.as_str(), names.1.as_str());
        blocks.extend(figure(points, words, deeds, traces.limit_pa, alternative, style));
    }
    blocks.extend(numbers(record, (&names.0, &names.1), visit));
    let title = match language {
        Language::English => format!("Compared with {}", lower(&names.0)),
        Language::German => format!("Verglichen mit {}", names.0),
    };
    Some(section(&title, blocks))
}

/// When each visit was, what it found and what was replaced at it.
fn facts(record: &ComparisonRecord, visit: &Visit) -> Vec<(String, String)> {
    let language = visit.style.language;
    let found = |it: &VisitBeside| match it.verdict {
        Some((_, Some(fault), _)) => fault_title(fault, language),
        Some((outcome, None, _)) => verdict_outcome_word(outcome, language),
        None => language.of("No verdict", "Ohne Urteil"),
    };
    let mut facts: Vec<(String, String)> = [&record.earlier, &record.later]
        .map(|it| {
            (
                format!("{}, {}", name(it, language), date(&it.started, language)),
                found(it).to_owned(),
            )
        })
        .into();
    let replaced = record.later.repaired.as_ref().or(record.earlier.repaired.as_ref());
    let replaced = replaced.map_or_else(
        || language.of("No repair was noted", "Keine Reparatur vermerkt").to_owned(),
        |part| visit.shown_text(part),
    );
    facts.push((language.of("Replaced", "Erneuert").to_owned(), replaced));
    facts
}

fn name(visit: &VisitBeside, language: Language) -> String {
    let place = number(f64::from(visit.number), 0, language);
    language.of("Visit {}", "Besuch {}").replace("{}", &place)
}

/// Within an English sentence a visit is written small.
fn lower(name: &str) -> String {
    name.replacen('V', "v", 1)
}

/// The numbers of both visits, side by side; `None` where they share none.
fn numbers(record: &ComparisonRecord, names: (&str, &str), visit: &Visit) -> Option<Block> {
    let style = &visit.style;
    // Only what a shut valve lets through has a limit that was stated beforehand.
    let proof = record.comparison.proof.as_ref();
    let limit = proof.and_then(|it| it.measure(MeasureName::DetectionLimit));
    let rows = record.numbers.iter().map(|it| {
        let limit = limit.filter(|_| it.name == MeasureName::VacuumWithPurgeShut);
        let limit = limit
            .map(|limit| format!("±{}", crate::wording::pressure_value(limit.value.abs(), style)));
        vec![
            measure_name(it.name, style.language).to_owned(),
            measure_value(it.name, &it.earlier, style),
            measure_value(it.name, &it.later, style),
            limit.unwrap_or_default(),
        ]
    });
    table(names, rows.collect(), style.language)
}
