use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::markup::{AppWindow, BackupItem, BackupsAdapter, Page};
use super::photos_adapter::size;
use super::session::{Known, Session};
use crate::jobs::{BackupLine, Command};
use crate::wording::Style;

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<BackupsAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_backed_up(move || {
        if let Some(session) = to.upgrade() {
            session.send(Command::BackUpNow);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_restored(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<BackupsAdapter>();
        let agreed = adapter.get_agreed();
        adapter.set_agreed(false);
        restore(&session, agreed);
    });
}

/// Opens the page on fresh facts.
pub(super) fn open(session: &Session) {
    session.send(Command::ListBackups);
    session.go(Page::Backups);
}

/// Puts the chosen copy in place, if the person agreed to that.
pub(super) fn restore(session: &Session, agreed: bool) {
    let Some(window) = session.window() else { return };
    let chosen = usize::try_from(window.global::<BackupsAdapter>().get_chosen()).ok();
    let backup = {
        let known = session.known();
        chosen.and_then(|place| known.backups.get(place)).map(|line| line.path.clone())
    };
    if let Some(backup) = backup {
        session.send(Command::Restore { backup, agreed });
    }
}

/// Shows the copies; `news` says what was just done.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let (adapter, style) = (window.global::<BackupsAdapter>(), &known.style);
    let items: Vec<BackupItem> = known.backups.iter().map(|line| item(line, style)).collect();
    let newest = known.backups.iter().find_map(|line| line.day);
    let newest =
        newest.map(|day| style.of("newest {}", "letzte {}").replace("{}", &day.to_string()));
    adapter.set_newest(newest.unwrap_or_default().into());
    adapter.set_copies(ModelRc::new(VecModel::from(items)));
    if usize::try_from(adapter.get_chosen()).is_ok_and(|place| place >= known.backups.len()) {
        adapter.set_chosen(-1);
    }
}

/// Says that a copy is in place now.
pub(super) fn show_restored(window: &AppWindow, style: &Style) {
    let adapter = window.global::<BackupsAdapter>();
    let words = style.of(
        "The copy is in place. What was here before is in the list.",
        "Die Kopie ist eingesetzt. Der Stand davor steht in der Liste.",
    );
    adapter.set_done(words.into());
    adapter.set_chosen(-1);
}

fn item(line: &BackupLine, style: &Style) -> BackupItem {
    let name = line.path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
    let (text, note) = match line.day {
        Some(day) => (day.to_string(), ""),
        None if name.starts_with("before-restore") => (
            style.of("Before a restore", "Vor einer Rückholung").to_owned(),
            name.trim_start_matches("before-restore-"),
        ),
        None => (style.of("Before a change of format", "Vor einer Formatänderung").to_owned(), ""),
    };
    let size = size(line.size_byte, style);
    BackupItem { text: text.into(), note: note.into(), size: size.into() }
}
