use std::path::{Path, PathBuf};

use chrono::{DateTime, NaiveDate, Utc};
use rusqlite::{Connection, OpenFlags, OptionalExtension, params};

use super::StoreError;
use super::database::{Store, beside, check_integrity, look_before_opening, prepare};
use super::schema;

/// Daily backups kept; older ones make room.
const DAILY_KEPT: usize = 14;

/// A copy of the database in the folder beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backup {
    /// The file.
    pub path: PathBuf,
    /// The day it was made; `None` for the copies made before a change of schema or a restore.
    pub day: Option<NaiveDate>,
}

impl Store {
    /// Copies the database into the backup folder if something changed since the last copy and
    /// none was made on this day. Returns the copy, if one was made.
    pub fn back_up_if_due(&mut self, now: DateTime<Utc>) -> Result<Option<PathBuf>, StoreError> {
        let day = now.date_naive().to_string();
        let due = self.read(|sql| {
            Ok(state(sql, CHANGED)?.as_deref() == Some("1")
                && state(sql, LAST_DAY)?.as_deref() != Some(&day))
        })?;
        if due { self.back_up(now).map(Some) } else { Ok(None) }
    }

    /// Copies the database into the backup folder, whether or not something changed; the copy made
    /// earlier on this day makes room for it.
    pub fn back_up(&mut self, now: DateTime<Utc>) -> Result<PathBuf, StoreError> {
        let day = now.date_naive().to_string();
        let copy = backup_folder(&self.path).join(format!("{day}.db"));
        copy_whole(&self.connection, &copy).map_err(|error| error.at(&copy))?;
        self.read(|sql| {
            set_state(sql, CHANGED, "0")?;
            set_state(sql, LAST_DAY, &day)
        })?;
        let daily = list_backups(&self.path)?.into_iter().filter(|backup| backup.day.is_some());
        for old in daily.skip(DAILY_KEPT) {
            std::fs::remove_file(&old.path).map_err(|error| StoreError::file(&old.path, error))?;
        }
        Ok(copy)
    }

    /// Puts a copy in this database's place and goes on with it, under the same lock. What stood
    /// there is kept in the backup folder; its path is returned.
    ///
    /// # Errors
    ///
    /// Those of [`restore`]; then everything is as it was.
    pub fn restore_from(&mut self, backup: &Path) -> Result<Option<PathBuf>, StoreError> {
        let source = usable(backup)?;
        let path = self.path.clone();
        let fresh = beside(&path, ".restoring");
        copy_whole(&source, &fresh).map_err(|error| error.at(&fresh))?;
        // The file is let go of while it changes; nothing writes to what stands in meanwhile.
        drop(std::mem::replace(&mut self.connection, Connection::open_in_memory()?));
        let kept = put_in_place(&path, &fresh);
        self.connection = prepare(&path).map_err(|error| error.at(&path))?;
        self.recordings.clear();
        *self.listed.borrow_mut() = None;
        self.seal_interrupted()?;
        kept
    }
}

/// The backups beside a database, newest first; those without a day last.
pub fn list_backups(database: &Path) -> Result<Vec<Backup>, StoreError> {
    let folder = backup_folder(database);
    let entries = match std::fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(StoreError::file(&folder, error)),
    };
    let mut backups = Vec::new();
    for entry in entries {
        let path = entry.map_err(|error| StoreError::file(&folder, error))?.path();
        if path.extension().is_some_and(|extension| extension == "db") {
            let day = path.file_stem().and_then(|stem| stem.to_str()?.parse().ok());
            backups.push(Backup { path, day });
        }
    }
    backups.sort_by(|a, b| b.day.cmp(&a.day).then_with(|| b.path.cmp(&a.path)));
    Ok(backups)
}

/// Puts a backup in the place of a database that is not open. What stood there is kept in the
/// backup folder; its path is returned.
///
/// # Errors
///
/// [`StoreError::Newer`], [`StoreError::Damaged`] or [`StoreError::Foreign`] if the backup itself
/// cannot be used, [`StoreError::Locked`] if the database is open; then nothing was changed.
pub fn restore(database: &Path, backup: &Path) -> Result<Option<PathBuf>, StoreError> {
    let source = usable(backup)?;
    let _lock = super::database::lock_out_others(database)?;
    let fresh = beside(database, ".restoring");
    copy_whole(&source, &fresh).map_err(|error| error.at(&fresh))?;
    put_in_place(database, &fresh)
}

/// Opens a copy after making sure that it is one.
fn usable(backup: &Path) -> Result<Connection, StoreError> {
    look_before_opening(backup)?;
    let source = Connection::open_with_flags(backup, OpenFlags::SQLITE_OPEN_READ_ONLY)
        .map_err(|error| StoreError::from(error).at(backup))?;
    check_integrity(&source, backup).map_err(|error| error.at(backup))?;
    if schema::schema_version(&source).map_err(|error| StoreError::from(error).at(backup))? == 0 {
        return Err(StoreError::Foreign { path: backup.to_path_buf() });
    }
    Ok(source)
}

/// Gives a whole file the database's name; where that fails, what was set aside gets it back.
fn put_in_place(database: &Path, fresh: &Path) -> Result<Option<PathBuf>, StoreError> {
    let kept = set_aside(database)?;
    let placed = std::fs::rename(fresh, database);
    if let (Err(_), Some(kept)) = (&placed, &kept) {
        let back = std::fs::rename(kept, database);
        back.map_err(|error| StoreError::file(kept, error))?;
    }
    placed.map_err(|error| StoreError::file(database, error))?;
    Ok(kept)
}

/// Moves a database and its log out of the way; nothing if there is none.
fn set_aside(database: &Path) -> Result<Option<PathBuf>, StoreError> {
    if !database.exists() {
        return Ok(None);
    }
    let folder = backup_folder(database);
    std::fs::create_dir_all(&folder).map_err(|error| StoreError::file(&folder, error))?;
    let free = (1..)
        .map(|number| folder.join(format!("before-restore-{number}.db")))
        .find(|path| !path.exists())
        .unwrap_or_else(|| folder.join("before-restore.db"));
    for suffix in ["", "-wal", "-shm"] {
        let from = beside(database, suffix);
        if from.exists() {
            let to = beside(&free, suffix);
            std::fs::rename(&from, &to).map_err(|error| StoreError::file(&from, error))?;
        }
    }
    Ok(Some(free))
}

/// Copies a file of an older schema before it is changed.
pub(super) fn before_migration(
    connection: &Connection,
    path: &Path,
    version: u32,
) -> Result<(), StoreError> {
    let copy = backup_folder(path).join(format!("before-schema-{}.db", version.saturating_add(1)));
    copy_whole(connection, &copy).map_err(|error| error.at(&copy))
}

/// Remembers that there is something to back up.
pub(super) fn note_change(sql: &Connection) -> Result<(), StoreError> {
    sql.prepare_cached(
        "INSERT INTO store_state (name, value) VALUES (?1, '1')
         ON CONFLICT (name) DO UPDATE SET value = '1' WHERE value <> '1'",
    )?
    .execute([CHANGED])?;
    Ok(())
}

/// The folder beside a database that holds its backups.
pub(super) fn backup_folder(database: &Path) -> PathBuf {
    beside(database, "-backups")
}

/// Writes a whole, compact copy under another name and only then gives it its own.
fn copy_whole(connection: &Connection, to: &Path) -> Result<(), StoreError> {
    if let Some(folder) = to.parent() {
        std::fs::create_dir_all(folder).map_err(|error| StoreError::file(folder, error))?;
    }
    let unfinished = beside(to, ".unfinished");
    match std::fs::remove_file(&unfinished) {
        Ok(()) => {}
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
        Err(error) => return Err(StoreError::file(&unfinished, error)),
    }
    let name =
        unfinished.to_str().ok_or_else(|| StoreError::NotWritable { path: unfinished.clone() })?;
    connection.execute("VACUUM INTO ?1", [name])?;
    std::fs::File::open(&unfinished)
        .and_then(|file| file.sync_all())
        .and_then(|()| std::fs::rename(&unfinished, to))
        .map_err(|error| StoreError::file(to, error))
}

const CHANGED: &str = "changed_since_backup";
const LAST_DAY: &str = "last_backup_day";

fn state(sql: &Connection, name: &str) -> Result<Option<String>, StoreError> {
    Ok(sql
        .query_row("SELECT value FROM store_state WHERE name = ?1", [name], |row| row.get("value"))
        .optional()?)
}

fn set_state(sql: &Connection, name: &str, value: &str) -> Result<(), StoreError> {
    sql.execute(
        "INSERT INTO store_state (name, value) VALUES (?1, ?2)
         ON CONFLICT (name) DO UPDATE SET value = excluded.value",
        params![name, value],
    )?;
    Ok(())
}
