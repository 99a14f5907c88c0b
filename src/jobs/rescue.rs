use std::path::{Path, PathBuf};
use std::sync::mpsc::{Receiver, Sender};

use super::history_command::{HistoryCommand, HistoryEvent};
use super::{Command, Event, JobError, Workshop, backups, explain};
use crate::store::Salvaged;
use crate::wording::{Language, Style};

/// Rows of one kind that were saved of a damaged database.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SalvagedRows {
    /// What they are, in plain words.
    pub what: &'static str,
    /// How many were saved.
    pub saved: usize,
    /// How many are known to be lost.
    pub lost: usize,
}

/// What was saved of a damaged database.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SalvageReport {
    /// The new database.
    pub path: PathBuf,
    /// What it holds and what it lacks, the kinds that people know.
    pub rows: Vec<SalvagedRows>,
    /// Kinds of which nothing could be read.
    pub unreadable: Vec<&'static str>,
}

/// Words for the tables that people know; the others stand together in the last line.
fn what(table: &str, language: Language) -> &'static str {
    match table {
        "customers" => language.of("Customers", "Kunden"),
        "vehicles" => language.of("Vehicles", "Fahrzeuge"),
        "visits" => language.of("Visits", "Besuche"),
        "recordings" | "sample_chunks" | "chunk_series" | "sample_tails" => {
            language.of("Pieces of recordings", "Teile von Aufzeichnungen")
        }
        "check_results" | "measures" | "check_rails" => {
            language.of("Results of checks", "Ergebnisse von Prüfungen")
        }
        "verdicts" => language.of("Verdicts", "Urteile"),
        "repairs" | "quotes" => language.of("Repairs and prices", "Reparaturen und Preise"),
        "fill_ups" => language.of("Fill-ups", "Tankfüllungen"),
        "follow_ups" => language.of("Planned looks", "Geplante Nachprüfungen"),
        "photos" => language.of("Photos", "Fotos"),
        "edits" | "edit_replacements" => language.of("Entries in fields", "Einträge in Feldern"),
        _ => language.of("Everything else", "Alles andere"),
    }
}

fn report(path: PathBuf, salvaged: &Salvaged, language: Language) -> SalvageReport {
    let mut rows: Vec<SalvagedRows> = Vec::new();
    let counts = salvaged.saved.iter().map(|(table, count)| (table, *count, 0));
    let counts = counts.chain(salvaged.lost.iter().map(|(table, count)| (table, 0, *count)));
    for (table, saved, lost) in counts {
        let what = what(table, language);
        match rows.iter_mut().find(|row| row.what == what) {
            Some(row) => (row.saved, row.lost) = (row.saved + saved, row.lost + lost),
            None => rows.push(SalvagedRows { what, saved, lost }),
        }
    }
    rows.retain(|row| row.saved + row.lost > 0);
    let mut unreadable: Vec<&'static str> =
        salvaged.unreadable.iter().map(|table| what(table, language)).collect();
    unreadable.dedup();
    SalvageReport { path, rows, unreadable }
}

impl Workshop {
    /// Saves what can be read of a damaged database, which need not be this one's earlier state.
    pub(super) fn salvage_beside(&mut self, damaged: &Path) -> Result<(), JobError> {
        let (path, salvaged) = backups::salvage_beside(damaged)?;
        let report = report(path, &salvaged, self.style.language);
        self.emit(Event::Histories(HistoryEvent::Salvaged(report)));
        Ok(())
    }
}

/// What is done while the database is damaged: its copies are shown, one of them or what was salvaged
/// is put in its place, and the damaged one is kept beside it.
pub(super) struct Rescue {
    database: PathBuf,
    style: Style,
    events: Sender<Event>,
}

impl Rescue {
    pub(super) fn new(database: &Path, style: Style, events: Sender<Event>) -> Self {
        Self { database: database.to_path_buf(), style, events }
    }

    /// Serves until a whole database stands in the damaged one's place, which is then opened; `None`
    /// when the asker goes away first.
    pub(super) fn serve(&mut self, orders: &Receiver<Command>) -> Option<Workshop> {
        self.show();
        while let Ok(command) = orders.recv() {
            if command == Command::Quit {
                return None;
            }
            match self.attempt(command) {
                Ok(None) => {}
                Ok(Some(workshop)) => return Some(workshop),
                Err(error) => self.emit(Event::Failed(explain(&error, &self.style))),
            }
        }
        None
    }

    fn attempt(&mut self, command: Command) -> Result<Option<Workshop>, JobError> {
        match command {
            // The window asks for these when it opens and when its look changes.
            Command::ReadSettings
            | Command::ListVehicles { .. }
            | Command::Histories(HistoryCommand::ListConflicts | HistoryCommand::FindFiles(_)) => {
                Ok(None)
            }
            Command::SetStyle(style) => {
                self.style = style;
                self.show();
                Ok(None)
            }
            Command::ListBackups => {
                self.emit(Event::Backups(backups(&self.database)?));
                Ok(None)
            }
            Command::Restore { agreed: false, .. } => Err(JobError::RestoreNotAgreed),
            Command::Restore { backup, agreed: true } => {
                backups::restore(&self.database, &backup)?;
                self.reopen().map(Some)
            }
            Command::Histories(HistoryCommand::Salvage(_)) => {
                let (fresh, salvaged) = backups::salvage_beside(&self.database)?;
                let report = report(self.database.clone(), &salvaged, self.style.language);
                backups::restore(&self.database, &fresh)?;
                backups::forget(&fresh);
                let workshop = self.reopen()?;
                self.emit(Event::Histories(HistoryEvent::Salvaged(report)));
                Ok(Some(workshop))
            }
            _ => Err(JobError::OnlyRescue),
        }
    }

    fn reopen(&self) -> Result<Workshop, JobError> {
        let mut workshop = Workshop::open(&self.database, self.style, self.events.clone())?;
        self.emit(Event::Histories(HistoryEvent::Rescued));
        workshop.read_settings()?;
        workshop.list_vehicles("")?;
        workshop.list_conflicts()?;
        workshop.show_backups()?;
        Ok(workshop)
    }

    fn show(&self) {
        let language = self.style.language;
        let words = language.of(
            "The database is damaged and was left as it is. Take a copy back, or save what can still be read.",
            "Die Datenbank ist beschädigt und blieb, wie sie ist. Eine Kopie zurückholen oder retten, was sich noch lesen lässt.",
        );
        self.emit(Event::Histories(HistoryEvent::Damaged(words.to_owned())));
        // Without a readable folder there are no copies to show; salvage is left.
        let copies = backups(&self.database).unwrap_or_default();
        self.emit(Event::Backups(copies));
    }

    fn emit(&self, event: Event) {
        let _nobody_listens = self.events.send(event);
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::Receiver;
    use std::time::Duration;

    use super::*;
    use crate::jobs::Worker;
    use crate::store::{NewVehicle, Store};

    /// A database of some vehicles with a copy from before the last one, and holes where one of
    /// them stands.
    fn damaged(folder: &Path) -> PathBuf {
        let database = folder.join("garage.db");
        let mut store = Store::open(&database).unwrap();
        let now = chrono::DateTime::UNIX_EPOCH;
        for number in 0..40 {
            let name = format!("Vehicle {number}");
            let notes = "tow bar ".repeat(40);
            let vehicle = NewVehicle { name, notes, ..NewVehicle::default() };
            store.add_vehicle(&vehicle, now).unwrap();
            if number == 38 {
                store.back_up(now).unwrap();
            }
        }
        drop(store);
        let mut bytes = std::fs::read(&database).unwrap();
        let holds = |page: &[u8]| page.windows(10).any(|it| it == b"Vehicle 20");
        bytes.chunks_mut(4096).filter(|page| holds(page)).for_each(|page| page.fill(0xA5));
        std::fs::write(&database, &bytes).unwrap();
        database
    }

    /// The next event that is of use.
    #[track_caller]
    fn wait<T>(events: &Receiver<Event>, pick: impl Fn(Event) -> Option<T>) -> T {
        loop {
            let event = events.recv_timeout(Duration::from_secs(60)).unwrap();
            if let Some(found) = pick(event) {
                return found;
            }
        }
    }

    fn names(events: &Receiver<Event>) -> usize {
        wait(events, |event| match event {
            Event::Vehicles(rows) => Some(rows.len()),
            _ => None,
        })
    }

    #[test]
    fn a_damaged_database_opens_the_window_on_its_copies_and_one_is_taken_back() {
        let folder = tempfile::tempdir().unwrap();
        let database = damaged(folder.path());
        let (worker, events) = Worker::start(database.clone(), Style::default()).unwrap();
        let copies = wait(&events, |event| match event {
            Event::Backups(copies) => Some(copies),
            _ => None,
        });
        worker.send(Command::StartVisit { vehicle: 1 });
        let refused = wait(&events, |event| match event {
            Event::Failed(words) => Some(words),
            _ => None,
        });
        assert!(refused.contains("damaged"), "{refused}");
        worker.send(Command::Restore { backup: copies[0].path.clone(), agreed: true });
        assert_eq!(names(&events), 39, "as on the day of the copy");
        worker.send(Command::StartVisit { vehicle: 1 });
        wait(&events, |event| matches!(event, Event::Visit(_)).then_some(()));
        drop(worker);
        assert_eq!(Store::open(&database).unwrap().list_vehicles("").unwrap().len(), 39);
    }

    #[test]
    fn what_can_be_read_of_a_damaged_database_is_saved_and_said() {
        let folder = tempfile::tempdir().unwrap();
        let database = damaged(folder.path());
        let before = std::fs::read(&database).unwrap();
        let (worker, events) = Worker::start(database.clone(), Style::default()).unwrap();
        worker.send(Command::Histories(HistoryCommand::Salvage(PathBuf::new())));
        let left = names(&events);
        let report = wait(&events, |event| match event {
            Event::Histories(HistoryEvent::Salvaged(report)) => Some(report),
            _ => None,
        });
        let vehicles = report.rows.iter().find(|row| row.what == "Vehicles").unwrap();
        assert_eq!(vehicles.saved, left);
        let lost: usize = report.rows.iter().map(|row| row.lost).sum();
        assert!(left > 0 && (lost > 0 || !report.unreadable.is_empty()), "{report:?}");
        drop(worker);
        // The damaged one is kept byte by byte.
        let kept = folder.path().join("garage.db-backups/before-restore-1.db");
        assert_eq!(std::fs::read(kept).unwrap(), before);
    }
}
