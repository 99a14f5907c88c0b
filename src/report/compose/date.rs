use chrono::{DateTime, Datelike, FixedOffset, Timelike};

use crate::wording::Language;

const MONTHS: [(&str, &str); 12] = [
    ("January", "Januar"),
    ("February", "Februar"),
    ("March", "März"),
    ("April", "April"),
    ("May", "Mai"),
    ("June", "Juni"),
    ("July", "Juli"),
    ("August", "August"),
    ("September", "September"),
    ("October", "Oktober"),
    ("November", "November"),
    ("December", "Dezember"),
];

/// The day in words: no reader takes the day for the month.
pub(in crate::report) fn date(at: &DateTime<FixedOffset>, language: Language) -> String {
    let (english, german) = MONTHS.get(at.month0() as usize).copied().unwrap_or(("–", "–"));
    match language {
        Language::English => format!("{} {english} {}", at.day(), at.year()),
        Language::German => format!("{}. {german} {}", at.day(), at.year()),
    }
}

/// The day in words and the time.
pub(in crate::report) fn date_and_time(at: &DateTime<FixedOffset>, language: Language) -> String {
    let (day, hour, minute) = (date(at, language), at.hour(), at.minute());
    match language {
        Language::English => format!("{day}, {hour}:{minute:02}"),
        Language::German => format!("{day}, {hour}:{minute:02} Uhr"),
    }
}
