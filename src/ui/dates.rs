use chrono::{DateTime, Datelike, Local, Timelike, Utc};

use crate::wording::Language;

const ENGLISH: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];
const GERMAN: [&str; 12] = [
    "Januar",
    "Februar",
    "März",
    "April",
    "Mai",
    "Juni",
    "Juli",
    "August",
    "September",
    "Oktober",
    "November",
    "Dezember",
];

fn month(at: &DateTime<Local>, language: Language) -> &'static str {
    let names = match language {
        Language::English => ENGLISH,
        Language::German => GERMAN,
    };
    names[at.month0() as usize % 12]
}

/// Day and month, with the year: `9 March 2026`.
pub(super) fn day(at: DateTime<Utc>, language: Language) -> String {
    let at = at.with_timezone(&Local);
    let month = month(&at, language);
    match language {
        Language::English => format!("{} {month} {}", at.day(), at.year()),
        Language::German => format!("{}. {month} {}", at.day(), at.year()),
    }
}

/// Day and short month: `9 Mar`.
pub(super) fn short_day(at: DateTime<Utc>, language: Language) -> String {
    let at = at.with_timezone(&Local);
    let month: String = month(&at, language).chars().take(3).collect();
    match language {
        Language::English => format!("{} {month}", at.day()),
        Language::German => format!("{}. {month}", at.day()),
    }
}

/// Hour and minute: `9:41`.
pub(super) fn clock(at: DateTime<Utc>) -> String {
    let at = at.with_timezone(&Local);
    format!("{}:{:02}", at.hour(), at.minute())
}

/// The year.
pub(super) fn year(at: DateTime<Utc>) -> String {
    at.with_timezone(&Local).year().to_string()
}
