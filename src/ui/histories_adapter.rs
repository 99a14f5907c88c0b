use std::path::PathBuf;
use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::markup::{
    AppWindow, DetailsAdapter, FileKind as Asked, FilesAdapter, FoundFile as FoundItem,
    MovingAdapter, Navigation, Page, RescueAdapter, SavedItem, SignalsAdapter,
};
use super::photos_adapter::size;
use super::session::{Known, Session};
use super::{
    backups_adapter, comparison_adapter, dates, details_adapter, moving_adapter, settings_adapter,
};
use crate::jobs::{Command, FileKind, FoundFile, HistoryCommand, HistoryEvent, SalvageReport};
use crate::recording::Recording;
use crate::wording::Style;

/// Connects what the pages about the histories share, and the page of a damaged database.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let to = Rc::downgrade(session);
    window.global::<FilesAdapter>().on_wanted(move |kind| {
        let Some(session) = to.upgrade() else { return };
        let kind = match kind {
            Asked::Pictures => FileKind::Pictures,
            Asked::Bundles => FileKind::Bundles,
            Asked::OwnSignals => FileKind::OwnSignals,
        };
        session.send(Command::Histories(HistoryCommand::FindFiles(kind)));
        if kind == FileKind::Bundles {
            session.send(Command::Histories(HistoryCommand::ListConflicts));
        }
    });
    comparison_adapter::connect(window, session);
    let rescue = window.global::<RescueAdapter>();
    let to = Rc::downgrade(session);
    rescue.on_restore_pressed(move || {
        if let Some(session) = to.upgrade() {
            // The damaged database has nothing that a copy could take away: choosing is agreeing.
            backups_adapter::restore(&session, true);
        }
    });
    let to = Rc::downgrade(session);
    rescue.on_salvage_pressed(move || {
        if let Some(session) = to.upgrade() {
            session.send(Command::Histories(HistoryCommand::Salvage(PathBuf::new())));
        }
    });
    let to = Rc::downgrade(session);
    rescue.on_file_salvaged(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let file = window.global::<RescueAdapter>().get_file();
        let file = PathBuf::from(file.trim());
        session.send(Command::Histories(HistoryCommand::Salvage(file)));
    });
    let to = Rc::downgrade(session);
    rescue.on_went_on(move || {
        if let Some(session) = to.upgrade() {
            session.go(Page::Vehicles);
        }
    });
}

/// Takes note of what the histories report and shows it.
pub(super) fn handle(session: &Session, window: &AppWindow, event: HistoryEvent) {
    match event {
        HistoryEvent::Customers(customers) => {
            session.known_mut().customers = customers;
            details_adapter::show_others(window, &session.known());
        }
        HistoryEvent::Exported(files) => exported(session, window, &files),
        HistoryEvent::Imported(merged) => {
            forget_shown(session, window);
            moving_adapter::show_imported(window, &merged, &session.known().style);
        }
        HistoryEvent::Conflicts(conflicts) => {
            session.known_mut().conflicts = conflicts;
            moving_adapter::show(window, &session.known());
        }
        HistoryEvent::Files(kind, files) => show_files(window, kind, &files, &session.known()),
        HistoryEvent::Salvaged(report) => show_salvaged(window, &report, &session.known().style),
        HistoryEvent::Compared(compared) => comparison_adapter::take(session, window, *compared),
        HistoryEvent::JudgedAgain(judged) => {
            settings_adapter::show_judged(window, &judged, &session.known().style);
        }
        HistoryEvent::Damaged(sentence) => {
            window.global::<RescueAdapter>().set_sentence(sentence.into());
            session.go(Page::Rescue);
        }
        HistoryEvent::Rescued => {
            let style = session.known().style;
            let rescue = window.global::<RescueAdapter>();
            rescue.set_rescued(true);
            rescue.set_summary(
                style
                    .of(
                        "A whole database stands in place again. The damaged one is kept beside it.",
                        "Eine ganze Datenbank steht wieder. Die beschädigte bleibt daneben.",
                    )
                    .into(),
            );
            rescue.set_sentence(style.of("Repaired", "Behoben").into());
        }
    }
}

/// Nothing of what was shown holds any more.
pub(super) fn forget_shown(session: &Session, window: &AppWindow) {
    {
        let mut known = session.known_mut();
        known.card = None;
        known.vehicle = None;
        known.comparison = None;
        known.recording = Recording::default();
    }
    window.global::<Navigation>().set_before(Page::Vehicles);
}

/// Says on the page in view where the files are; the first one can be handed over.
fn exported(session: &Session, window: &AppWindow, files: &[PathBuf]) {
    let Some(first) = files.first() else { return };
    session.known_mut().written = Some(first.clone());
    let style = session.known().style;
    let words = match files.len() {
        1 => style.of("Written: {}", "Geschrieben: {}"),
        _ => style.of("Written, with tables beside it: {}", "Geschrieben, Tabellen daneben: {}"),
    };
    let words = words.replace("{}", &first.display().to_string());
    match window.global::<Navigation>().get_page() {
        Page::Details => window.global::<DetailsAdapter>().set_exported(words.into()),
        Page::Signals => window.global::<SignalsAdapter>().set_written(words.into()),
        _ => window.global::<MovingAdapter>().set_exported(words.into()),
    }
}

fn show_files(window: &AppWindow, kind: FileKind, files: &[FoundFile], known: &Known) {
    let item = |file: &FoundFile| {
        let name = file.path.file_name().map(|it| it.to_string_lossy().into_owned());
        let day = dates::short_day(file.changed, known.style.language);
        FoundItem {
            path: file.path.display().to_string().into(),
            name: name.unwrap_or_default().into(),
            note: format!("{day}, {}", size(file.size_byte, &known.style)).into(),
        }
    };
    let items = ModelRc::new(VecModel::from(files.iter().map(item).collect::<Vec<_>>()));
    let adapter = window.global::<FilesAdapter>();
    match kind {
        FileKind::Pictures => adapter.set_pictures(items),
        FileKind::Bundles => adapter.set_bundles(items),
        FileKind::OwnSignals => adapter.set_own_signals(items),
    }
}

fn show_salvaged(window: &AppWindow, report: &SalvageReport, style: &Style) {
    let unread = |what: &str| report.unreadable.contains(&what);
    let lost = style.of("{} lost", "{} verloren");
    let items = report.rows.iter().map(|row| SavedItem {
        what: row.what.into(),
        saved: row.saved.to_string().into(),
        lost: match (row.lost, unread(row.what)) {
            (0, false) => String::new(),
            (0, true) => style.of("part unreadable", "teils unlesbar").to_owned(),
            (count, _) => lost.replace("{}", &count.to_string()),
        }
        .into(),
    });
    let adapter = window.global::<RescueAdapter>();
    adapter.set_saved(ModelRc::new(VecModel::from(items.collect::<Vec<_>>())));
    let whole = report.unreadable.is_empty() && report.rows.iter().all(|row| row.lost == 0);
    let words = match whole {
        true => style.of("Everything was saved: {}", "Alles gerettet: {}"),
        false => style.of("Saved with holes: {}", "Mit Lücken gerettet: {}"),
    };
    adapter.set_summary(words.replace("{}", &report.path.display().to_string()).into());
}
