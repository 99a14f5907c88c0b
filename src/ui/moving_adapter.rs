use std::path::PathBuf;
use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::markup::{AnswerItem, AppWindow, ConflictItem, MovingAdapter, SettingsAdapter};
use super::session::{Known, Session};
use super::{dates, device_adapter};
use crate::jobs::{Command, ConflictLine, HistoryCommand, Merged};
use crate::wording::Style;

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<MovingAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_export_pressed(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<MovingAdapter>();
        adapter.set_exported("".into());
        let to = named(&adapter.get_to());
        session.send(Command::Histories(HistoryCommand::Export { vehicle: None, to }));
    });
    let to = Rc::downgrade(session);
    adapter.on_handed_over(move || {
        if let Some(session) = to.upgrade() {
            device_adapter::hand_over(&session);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_import_pressed(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<MovingAdapter>();
        adapter.set_imported("".into());
        if let Some(file) = named(&adapter.get_file()) {
            session.send(Command::Histories(HistoryCommand::Import(file)));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_settled(move |question, answer| {
        let Some(session) = to.upgrade() else { return };
        let place = usize::try_from(question).unwrap_or(usize::MAX);
        let conflict = session.known().conflicts.get(place).cloned().map(Box::new);
        if let (Some(conflict), Ok(answer)) = (conflict, usize::try_from(answer)) {
            session.send(Command::Histories(HistoryCommand::Settle { conflict, answer }));
        }
    });
}

fn named(text: &str) -> Option<PathBuf> {
    let text = text.trim();
    (!text.is_empty()).then(|| PathBuf::from(text))
}

/// Shows the fields that two devices answered differently.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let style = &known.style;
    let items: Vec<ConflictItem> = known.conflicts.iter().map(|it| item(it, style)).collect();
    let count = items.len();
    window.global::<MovingAdapter>().set_conflicts(ModelRc::new(VecModel::from(items)));
    let words = match count {
        0 => String::new(),
        1 => style.of("1 answer to choose", "1 Antwort zu wählen").to_owned(),
        _ => style
            .of("{} answers to choose", "{} Antworten zu wählen")
            .replace("{}", &count.to_string()),
    };
    window.global::<SettingsAdapter>().set_conflicts(words.into());
}

/// Says what a file brought.
pub(super) fn show_imported(window: &AppWindow, merged: &Merged, style: &Style) {
    let Merged { vehicles, visits, recordings, entries, photos, unified } = *merged;
    let nothing = [vehicles, visits, recordings, entries, photos, unified] == [0; 6];
    let words = if nothing {
        style.of("Nothing new: all of it was here.", "Nichts Neues: Alles war schon da.").to_owned()
    } else {
        let mut words = style
            .of(
                "New here: vehicles {}, visits {}, recordings {}, photos {}, entries {}.",
                "Neu hier: Fahrzeuge {}, Besuche {}, Aufzeichnungen {}, Fotos {}, Einträge {}.",
            )
            .to_owned();
        for count in [vehicles, visits, recordings, photos, entries] {
            words = words.replacen("{}", &count.to_string(), 1);
        }
        let same = style.of(
            " Found to be one and the same by their VIN: {}.",
            " Nach der FIN dasselbe Fahrzeug: {}.",
        );
        if unified > 0 {
            words.push_str(&same.replace("{}", &unified.to_string()));
        }
        words
    };
    window.global::<MovingAdapter>().set_imported(words.into());
}

fn item(line: &ConflictLine, style: &Style) -> ConflictItem {
    let answers = line.answers.iter().map(|(text, at)| AnswerItem {
        text: text.as_str().into(),
        note: match at {
            Some(at) => dates::short_day(*at, style.language),
            None => style.of("shown now", "gezeigt").to_owned(),
        }
        .into(),
    });
    ConflictItem {
        question: line.question.as_str().into(),
        vehicle: line.vehicle.as_str().into(),
        answers: ModelRc::new(VecModel::from(answers.collect::<Vec<_>>())),
    }
}
