use std::path::{Path, PathBuf};

use chrono::NaiveDate;

use super::{Event, JobError, LinkState, MachineClock, Workshop};
use crate::store::{self, Backup, Salvaged, Store, list_backups};

/// A copy of the database in the folder beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BackupLine {
    /// The file.
    pub path: PathBuf,
    /// The day it was made; `None` for the copies made before a change of schema or a restore.
    pub day: Option<NaiveDate>,
    /// Length of the file, bytes.
    pub size_byte: u64,
}

/// The copies beside a database, newest first.
///
/// # Errors
/// What keeps their folder from being read.
pub fn backups(database: &Path) -> Result<Vec<BackupLine>, JobError> {
    let size = |path: &Path| std::fs::metadata(path).map_or(0, |it| it.len());
    let line = |backup: Backup| BackupLine {
        size_byte: size(&backup.path),
        path: backup.path,
        day: backup.day,
    };
    Ok(list_backups(database)?.into_iter().map(line).collect())
}

/// Copies a database that nobody has open.
///
/// # Errors
/// What keeps it from being opened or copied.
pub fn back_up(database: &Path, clock: MachineClock) -> Result<PathBuf, JobError> {
    Ok(Store::open(database)?.back_up(clock.date())?)
}

/// Puts a copy in the place of a database that nobody has open; what stood there is kept, and its
/// new place is returned.
///
/// # Errors
/// That the copy is none, or that the database is open elsewhere; then nothing was changed.
pub fn restore(database: &Path, backup: &Path) -> Result<Option<PathBuf>, JobError> {
    std::fs::metadata(backup).map_err(|error| JobError::file(backup, &error))?;
    Ok(store::restore(database, backup)?)
}

/// Saves what can be read of a damaged database into a new one.
///
/// # Errors
/// That nothing can be read, or that the new file is there already.
pub fn salvage(damaged: &Path, fresh: &Path) -> Result<Salvaged, JobError> {
    std::fs::metadata(damaged).map_err(|error| JobError::file(damaged, &error))?;
    Ok(store::salvage(damaged, fresh)?)
}

/// Saves what can be read of a damaged database into a new one beside it, under a name that is free.
///
/// # Errors
/// That nothing can be read.
pub(super) fn salvage_beside(damaged: &Path) -> Result<(PathBuf, Salvaged), JobError> {
    let stem = damaged.file_stem().and_then(|it| it.to_str()).unwrap_or("database");
    let free = (1..10_000)
        .map(|number| damaged.with_file_name(format!("{stem}-salvaged-{number}.db")))
        .find(|path| !path.exists());
    let fresh = free.unwrap_or_else(|| damaged.with_file_name("salvaged.db"));
    let salvaged = salvage(damaged, &fresh)?;
    Ok((fresh, salvaged))
}

/// Removes a database of which a copy stands elsewhere. What cannot be removed does no harm.
pub(super) fn forget(database: &Path) {
    let name = database.file_name().unwrap_or_default().to_os_string();
    for suffix in ["", ".lock"] {
        let mut name = name.clone();
        name.push(suffix);
        let _stays = std::fs::remove_file(database.with_file_name(name));
    }
}

impl Workshop {
    pub(super) fn show_backups(&mut self) -> Result<(), JobError> {
        self.emit(Event::Backups(backups(self.store.path())?));
        Ok(())
    }

    /// Copies the database now, whether or not something changed today.
    pub(super) fn back_up(&mut self) -> Result<(), JobError> {
        self.save()?;
        self.store.back_up(self.clock.date())?;
        self.show_backups()
    }

    /// Puts a copy in the database's place. What stood there is kept beside it; the visit and the
    /// link are let go of first, since they belong to what stood there.
    pub(super) fn restore(&mut self, backup: &Path, agreed: bool) -> Result<(), JobError> {
        if !agreed {
            return Err(JobError::RestoreNotAgreed);
        }
        self.leave_visit()?;
        self.store.restore_from(backup)?;
        self.emit(Event::Link(LinkState::Idle));
        self.emit(Event::Restored);
        self.read_settings()?;
        self.list_vehicles("")?;
        self.show_backups()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use crate::jobs::{Command, Event, JobError, Workshop};
    use crate::wording::Style;

    #[test]
    fn a_copy_takes_the_database_back_and_what_stood_there_is_kept() {
        let folder = tempfile::tempdir().unwrap();
        let (sender, events) = mpsc::channel();
        let database = folder.path().join("garage.db");
        let mut workshop = Workshop::open(&database, Style::default(), sender).unwrap();
        let add = |name: &str| Command::AddVehicle {
            name: name.to_owned(),
            vin: String::new(),
            notes: String::new(),
        };
        workshop.attempt(add("Blue estate")).unwrap();
        workshop.attempt(Command::BackUpNow).unwrap();
        workshop.attempt(add("Red pickup")).unwrap();
        let listed = |events: &mpsc::Receiver<Event>| {
            events
                .try_iter()
                .filter_map(|event| match event {
                    Event::Backups(lines) => Some(lines),
                    _ => None,
                })
                .last()
        };
        let copies = listed(&events).unwrap();
        assert_eq!((copies.len(), copies[0].day.is_some()), (1, true));
        let restore = |agreed| Command::Restore { backup: copies[0].path.clone(), agreed };
        let refused = workshop.attempt(restore(false));
        assert!(matches!(refused, Err(JobError::RestoreNotAgreed)), "{refused:?}");
        assert_eq!(workshop.store().list_vehicles("").unwrap().len(), 2);
        workshop.attempt(restore(true)).unwrap();
        let left = workshop.store().list_vehicles("").unwrap();
        assert_eq!((left.len(), left[0].name.as_str()), (1, "Blue estate"));
        // The newer state is in the list now, and can be taken back alike.
        let copies = listed(&events).unwrap();
        let kept = copies.iter().find(|it| it.day.is_none()).unwrap();
        let back = Command::Restore { backup: kept.path.clone(), agreed: true };
        workshop.attempt(back).unwrap();
        assert_eq!(workshop.store().list_vehicles("").unwrap().len(), 2);
        // The store still holds its lock and still writes.
        workshop.attempt(add("White minibus")).unwrap();
        let second = Workshop::open(&database, Style::default(), mpsc::channel().0);
        assert!(second.is_err(), "the file is taken");
    }

    #[test]
    fn a_file_that_is_no_copy_changes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("garage.db");
        let mut workshop = Workshop::open(&database, Style::default(), mpsc::channel().0).unwrap();
        let words = folder.path().join("words.db");
        std::fs::write(&words, "words ".repeat(100)).unwrap();
        for backup in [words, folder.path().join("nothing.db")] {
            let refused = workshop.attempt(Command::Restore { backup, agreed: true });
            assert!(matches!(refused, Err(JobError::Store(_))), "{refused:?}");
            assert_eq!(workshop.store().list_vehicles("").unwrap().len(), 0);
        }
    }
}
