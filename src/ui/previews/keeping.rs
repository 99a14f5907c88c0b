use chrono::NaiveDate;

use super::date;
use crate::jobs::{
    BackupLine, Conflict, ConflictLine, CustomerLine, Event, FileKind, FoundFile, HistoryEvent,
    Merged, SalvageReport, SalvagedRows,
};

/// Copies of the database.
pub(in crate::ui) fn backups() -> Event {
    let line = |name: &str, day: Option<(u32, u32)>, size_byte| BackupLine {
        path: format!("stilltank.db-backups/{name}.db").into(),
        day: day.and_then(|(month, day)| NaiveDate::from_ymd_opt(2026, month, day)),
        size_byte,
    };
    Event::Backups(vec![
        line("2026-03-09", Some((3, 9)), 912_384),
        line("2026-03-07", Some((3, 7)), 873_472),
        line("2026-03-02", Some((3, 2)), 790_528),
        line("before-restore-1", None, 901_120),
        line("before-schema-3", None, 421_888),
    ])
}

/// Invented customers.
pub(in crate::ui) fn customers() -> Vec<CustomerLine> {
    let line = |id, name: &str, phone: &str, notes: &str| CustomerLine {
        id: Some(id),
        name: name.to_owned(),
        phone: phone.to_owned(),
        email: String::new(),
        notes: notes.to_owned(),
    };
    vec![
        line(1, "Corner bakery", "555 0100", "Vans only before seven"),
        line(2, "Neighbour, number 14", "555 0114", ""),
        line(3, "River taxi", "555 0177", ""),
    ]
}

/// Every customer, as the store would tell.
pub(in crate::ui) fn known_customers() -> Event {
    Event::Histories(HistoryEvent::Customers(customers()))
}

/// A file of another device was brought in, and two answers are left to choose.
pub(in crate::ui) fn moved() -> Vec<Event> {
    let conflict = |field: &str, question: &str, shown: &str, also: &str| ConflictLine {
        vehicle: "Grey hatchback".to_owned(),
        question: question.to_owned(),
        answers: vec![(shown.to_owned(), None), (also.to_owned(), Some(date(3, 7, 18, 5)))],
        conflict: Conflict {
            entity: "vehicle".to_owned(),
            vehicle: "Grey hatchback".to_owned(),
            row_uid: "00".to_owned(),
            field: field.to_owned(),
            shown: shown.to_owned(),
            also: vec![(also.to_owned(), date(3, 7, 18, 5))],
        },
    };
    let merged =
        Merged { vehicles: 2, visits: 5, recordings: 5, entries: 41, photos: 3, unified: 1 };
    [
        HistoryEvent::Files(
            FileKind::Bundles,
            vec![
                file("Downloads/all-2026-03-09.stilltank", 9, 1_912_384),
                file("Downloads/red-pickup-2026-03-02.stilltank", 2, 311_296),
            ],
        ),
        HistoryEvent::Imported(merged),
        HistoryEvent::Conflicts(vec![
            conflict("name", "Vehicle’s name", "Grey hatchback", "Old grey"),
            conflict("notes", "Notes on the vehicle", "Tow bar, second owner", "Tow bar"),
        ]),
    ]
    .into_iter()
    .map(Event::Histories)
    .collect()
}

/// Pictures that lie where people keep pictures.
pub(in crate::ui) fn pictures() -> Event {
    let files = vec![
        file("Pictures/valve-old.jpg", 9, 2_311_296),
        file("Pictures/connector.jpg", 9, 1_811_296),
        file("Downloads/hose.png", 7, 911_296),
    ];
    Event::Histories(HistoryEvent::Files(FileKind::Pictures, files))
}

/// The database was found damaged.
pub(in crate::ui) fn damaged() -> Vec<Event> {
    let sentence = "The database is damaged and was left as it is. Take a copy back, or save what can still be read.";
    vec![Event::Histories(HistoryEvent::Damaged(sentence.to_owned())), backups()]
}

/// What could be read of it was saved.
pub(in crate::ui) fn salvaged() -> Vec<Event> {
    let rows = |what, saved, lost| SalvagedRows { what, saved, lost };
    let report = SalvageReport {
        path: "stilltank.db".into(),
        rows: vec![
            rows("Vehicles", 6, 0),
            rows("Visits", 13, 0),
            rows("Pieces of recordings", 148, 9),
            rows("Results of checks", 61, 2),
            rows("Entries in fields", 212, 0),
        ],
        unreadable: vec!["Results of checks"],
    };
    let events = [HistoryEvent::Rescued, HistoryEvent::Salvaged(report)];
    events.into_iter().map(Event::Histories).collect()
}

fn file(path: &str, day: u32, size_byte: u64) -> FoundFile {
    FoundFile { path: path.into(), changed: date(3, day, 12, 0), size_byte }
}
