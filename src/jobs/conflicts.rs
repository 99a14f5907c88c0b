use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rust_decimal::Decimal;

use super::history_command::HistoryEvent;
use super::{Complaint, Event, JobError, Workshop, explain};
use crate::evidence::Check;
use crate::store::{Conflict, Quote, Store};
use crate::vehicle::{CustomSignal, Part, TankSource};
use crate::wording::{self, Language, Style};

/// A field that two devices answered differently, for a person to settle.
#[derive(Clone, Debug, PartialEq)]
pub struct ConflictLine {
    /// The vehicle it belongs to; empty where it belongs to none.
    pub vehicle: String,
    /// What was asked, in plain words.
    pub question: String,
    /// The answers in plain words, the one that is shown first, with when it was given where that
    /// is known.
    pub answers: Vec<(String, Option<DateTime<Utc>>)>,
    /// As the database holds it.
    pub conflict: Conflict,
}

/// Every field with more than one answer.
pub(super) fn conflicts(store: &Store, style: &Style) -> Result<Vec<ConflictLine>, JobError> {
    let line = |conflict: Conflict| {
        let words = |value: &str| in_words(store, &conflict, value, style.language);
        let first = (words(&conflict.shown)?, None);
        let others = conflict.also.iter().map(|(value, at)| Ok((words(value)?, Some(*at))));
        let others = others.collect::<Result<Vec<_>, JobError>>()?;
        let question = wording::entered_field(&conflict.entity, &conflict.field, style.language);
        Ok(ConflictLine {
            vehicle: conflict.vehicle.clone(),
            question: question.to_owned(),
            answers: std::iter::once(first).chain(others).collect(),
            conflict,
        })
    };
    store.conflicts()?.into_iter().map(line).collect()
}

/// What a field holds, for reading.
fn in_words(
    store: &Store,
    conflict: &Conflict,
    value: &str,
    language: Language,
) -> Result<String, JobError> {
    if value.is_empty() {
        return Ok(language.of("left empty", "leer gelassen").to_owned());
    }
    let words = match (conflict.entity.as_str(), conflict.field.as_str()) {
        ("vehicle", "customer") => store.customer_named(value)?.map(|it| it.name),
        ("vehicle", "tank_source") => TankSource::from_name(value)
            .map(|source| super::tank_choice::name(source, language).to_owned()),
        ("vehicle", "own_signals") => CustomSignal::read_all(value).ok().map(|signals| {
            let names = signals.iter().map(|it| wording::signal_name(it.signal, language));
            names.collect::<Vec<_>>().join(", ")
        }),
        ("visit", "complaint_kinds") => {
            let known = value.split(',').filter_map(Complaint::from_name);
            let phrases = known.map(|kind| explain::complaint_phrase(kind, language));
            Some(phrases.collect::<Vec<_>>().join(", "))
        }
        ("visit", "skipped_checks") => {
            let known = value.split(',').filter_map(Check::from_name);
            let titles = known.map(|check| wording::check_title(check, language));
            Some(titles.collect::<Vec<_>>().join(", "))
        }
        ("repair", "quotes") => serde_json::from_str::<Vec<Quote>>(value).ok().map(|quotes| {
            let prices = quotes.iter().map(|it| format!("{} {}", it.seller, it.amount));
            prices.collect::<Vec<_>>().join(", ")
        }),
        ("repair", "part_prices") => {
            serde_json::from_str::<BTreeMap<Part, Decimal>>(value).ok().map(|prices| {
                let prices = prices
                    .iter()
                    .map(|(part, it)| format!("{} {it}", wording::part_title(*part, language)));
                prices.collect::<Vec<_>>().join(", ")
            })
        }
        ("follow_up", "due") => value
            .parse()
            .ok()
            .and_then(DateTime::from_timestamp_micros)
            .map(|due| due.date_naive().to_string()),
        (_, "state") => Some(state(value, language).to_owned()),
        ("visit", _) if matches!(value, "0" | "1") => {
            let yes = value == "1";
            Some(if yes { language.of("yes", "ja") } else { language.of("no", "nein") }.to_owned())
        }
        _ => None,
    };
    Ok(words.filter(|it| !it.is_empty()).unwrap_or_else(|| value.to_owned()))
}

fn state(name: &str, language: Language) -> &str {
    match name {
        "kept" => language.of("kept", "behalten"),
        "removed" => language.of("taken out", "herausgenommen"),
        "open" => language.of("open", "offen"),
        "closed" => language.of("closed", "abgeschlossen"),
        "done" => language.of("done", "erledigt"),
        other => other,
    }
}

impl Workshop {
    /// Shows the fields that two devices answered differently.
    pub(super) fn list_conflicts(&mut self) -> Result<(), JobError> {
        let lines = conflicts(&self.store, &self.style)?;
        self.emit(Event::Histories(HistoryEvent::Conflicts(lines)));
        Ok(())
    }

    /// Settles one of them with one of its answers.
    pub(super) fn settle(&mut self, line: &ConflictLine, answer: usize) -> Result<(), JobError> {
        let conflict = &line.conflict;
        let others = conflict.also.iter().map(|(value, _)| value);
        let value = std::iter::once(&conflict.shown).chain(others).nth(answer);
        if let Some(value) = value {
            let date = self.date();
            self.store.settle(conflict, value, date)?;
        }
        self.list_conflicts()?;
        self.list_vehicles("")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::entered_fields;

    #[test]
    fn every_field_has_words_of_its_own_in_both_languages() {
        for language in Language::ALL {
            let mut seen: Vec<&str> = Vec::new();
            for (entity, field) in entered_fields() {
                let words = wording::entered_field(entity, field, language);
                assert!(!seen.contains(&words), "{entity}.{field}: {words}");
                assert!(!words.contains("newer") && !words.contains("neueren"), "{entity}.{field}");
                seen.push(words);
            }
            let unknown = wording::entered_field("vehicle", "colour_of_2040", language);
            assert!(!seen.contains(&unknown));
        }
    }
}
