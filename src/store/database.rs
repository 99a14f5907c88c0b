use std::cell::RefCell;
use std::collections::BTreeMap;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::Read;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use super::schema::{self, APPLICATION_ID, KNOWN_SCHEMA};
use super::uid::UidSource;
use super::{StoreError, VehicleSummary, VisitId, backup, recordings, summaries};

/// The histories in one database file, opened by this instance alone.
///
/// Every call that changes something is one transaction: after a crash it was made whole or not at
/// all. Nothing here reads a clock; times of the wall clock are arguments and are kept to the
/// microsecond.
#[derive(Debug)]
pub struct Store {
    pub(super) connection: Connection,
    pub(super) path: PathBuf,
    pub(super) uids: UidSource,
    /// The recording that this run of the program appends to, for each visit it writes.
    pub(super) recordings: BTreeMap<VisitId, recordings::Appending>,
    /// The list of all vehicles and the count of changes at which it was made: a person comes back to
    /// it far more often than it changes.
    pub(super) listed: RefCell<Option<(u64, Vec<VehicleSummary>)>>,
    /// Held for as long as the store is open; the system lets go of it when the process ends.
    _lock: Lock,
}

/// The lock by which one instance alone has a database open.
///
/// It is given back by word, and not by closing its file alone: a child process that another thread
/// is starting holds a copy of every open file until it runs its own program, and the lock with it.
#[derive(Debug)]
pub(super) struct Lock(File);

impl Drop for Lock {
    fn drop(&mut self) {
        // On a file system without locks there is nothing to give back.
        let _unsupported = self.0.unlock();
    }
}

/// A transaction and what making rows takes.
pub(super) struct Writing<'a> {
    pub(super) sql: &'a Connection,
    uids: &'a mut UidSource,
}

impl Writing<'_> {
    pub(super) fn new_uid(&mut self) -> Result<String, StoreError> {
        Ok(self.uids.next(self.sql)?)
    }
}

impl Store {
    /// Opens a database, makes it if there is none, and brings it to this program's schema.
    ///
    /// A file of an older schema is first copied into the backup folder. A file of a newer schema,
    /// of another program, or a damaged one is refused and left as it is. A visit that was cut off
    /// by a crash keeps everything that had been appended.
    ///
    /// # Errors
    ///
    /// [`StoreError::Locked`], [`StoreError::Newer`], [`StoreError::Damaged`],
    /// [`StoreError::Foreign`], [`StoreError::NotWritable`], [`StoreError::DiskFull`], and what
    /// the engine says beyond these.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder).map_err(|source| not_writable(path, source))?;
        }
        look_before_opening(path)?;
        let lock = lock_out_others(path)?;
        let connection = prepare(path).map_err(|error| error.at(path))?;
        let mut store = Self {
            connection,
            path: path.to_path_buf(),
            uids: UidSource::Random,
            recordings: BTreeMap::new(),
            listed: RefCell::new(None),
            _lock: lock,
        };
        store.seal_interrupted()?;
        Ok(store)
    }

    /// Makes the names of new rows follow from a seed, so that demonstrations and tests repeat.
    /// Two stores that are to be merged must not share a seed.
    pub fn seed_uids(&mut self, seed: u64) {
        self.uids = UidSource::Seeded { seed, made: 0 };
    }

    /// The database file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Reads; engine errors get the facts that a caller can act on.
    pub(super) fn read<T>(
        &self,
        question: impl FnOnce(&Connection) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        question(&self.connection).map_err(|error| error.at(&self.path))
    }

    /// Changes something, whole or not at all.
    pub(super) fn write<T>(
        &mut self,
        change: impl FnOnce(&mut Writing<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let path = self.path.clone();
        self.write_plain(change).map_err(|error| error.at(&path))
    }

    fn write_plain<T>(
        &mut self,
        change: impl FnOnce(&mut Writing<'_>) -> Result<T, StoreError>,
    ) -> Result<T, StoreError> {
        let transaction =
            self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let value = change(&mut Writing { sql: &transaction, uids: &mut self.uids })?;
        summaries::refresh(&transaction)?;
        backup::note_change(&transaction)?;
        transaction.commit()?;
        Ok(value)
    }
}

/// A wall-clock time as stored.
pub(super) fn micros(at: DateTime<Utc>) -> i64 {
    at.timestamp_micros()
}

/// A stored wall-clock time.
pub(super) fn wall_clock(micros: i64) -> Result<DateTime<Utc>, StoreError> {
    DateTime::from_timestamp_micros(micros)
        .ok_or_else(|| StoreError::unreadable("a wall-clock time", &micros.to_string()))
}

/// The path of a file or folder beside the database: its name with `suffix` added.
pub(super) fn beside(path: &Path, suffix: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_os_string();
    name.push(suffix);
    path.with_file_name(name)
}

/// The folder beside a database that holds its photos.
pub(super) fn photo_folder(path: &Path) -> PathBuf {
    beside(path, "-photos")
}

/// Reads the file's header by plain means, so that a refused file is not touched at all.
pub(super) fn look_before_opening(path: &Path) -> Result<(), StoreError> {
    let mut header = [0_u8; 100];
    let mut file = match File::open(path) {
        Ok(file) => file,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(()),
        Err(source) => return Err(StoreError::file(path, source)),
    };
    match file.read_exact(&mut header) {
        Ok(()) => {}
        Err(error) if error.kind() == std::io::ErrorKind::UnexpectedEof => {
            let length = file.metadata().map_or(0, |metadata| metadata.len());
            return if length == 0 { Ok(()) } else { Err(damaged(path, "shorter than a header")) };
        }
        Err(source) => return Err(not_writable(path, source)),
    }
    if !header.starts_with(b"SQLite format 3\0") {
        return Err(damaged(path, "no database header"));
    }
    // SQLite file format, section 1.3: user version at offset 60, application id at offset 68.
    let word = |at: usize| {
        header
            .get(at..at.saturating_add(4))
            .and_then(|bytes| bytes.try_into().ok())
            .map_or(0, u32::from_be_bytes)
    };
    refuse(path, word(60), word(68))
}

fn refuse(path: &Path, version: u32, application: u32) -> Result<(), StoreError> {
    if application != 0 && application != APPLICATION_ID as u32 {
        return Err(StoreError::Foreign { path: path.to_path_buf() });
    }
    if version > KNOWN_SCHEMA {
        let path = path.to_path_buf();
        return Err(StoreError::Newer { path, found: version, known: KNOWN_SCHEMA });
    }
    Ok(())
}

pub(super) fn lock_out_others(path: &Path) -> Result<Lock, StoreError> {
    let lock_path = beside(path, ".lock");
    let lock = OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&lock_path)
        .map_err(|source| not_writable(path, source))?;
    match lock.try_lock() {
        Ok(()) => Ok(Lock(lock)),
        Err(TryLockError::WouldBlock) => Err(StoreError::Locked { path: path.to_path_buf() }),
        // A file system without locks: the engine's own locks still keep the file whole.
        Err(TryLockError::Error(error)) if error.kind() == std::io::ErrorKind::Unsupported => {
            Ok(Lock(lock))
        }
        Err(TryLockError::Error(source)) => Err(StoreError::file(&lock_path, source)),
    }
}

pub(super) fn prepare(path: &Path) -> Result<Connection, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
        | OpenFlags::SQLITE_OPEN_CREATE
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(path, flags)?;
    if connection.is_readonly("main")? {
        return Err(StoreError::NotWritable { path: path.to_path_buf() });
    }
    // Asked again through the engine: the newest header may still stand in the write-ahead log.
    let version = schema::schema_version(&connection)?;
    let application: i32 =
        connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
    refuse(path, version, application as u32)?;
    if version == 0 && !schema::objects(&connection)?.is_empty() {
        return Err(StoreError::Foreign { path: path.to_path_buf() });
    }
    configure(&connection)?;
    check_integrity(&connection, path)?;
    if version > 0 && version < KNOWN_SCHEMA {
        backup::before_migration(&connection, path, version)?;
    }
    schema::migrate(&mut connection)?;
    summaries::refresh(&connection)?;
    Ok(connection)
}

/// Write-ahead log, each commit on the disk before the call returns, foreign keys held.
pub(super) fn configure(connection: &Connection) -> Result<(), StoreError> {
    connection.pragma_update_and_check(None, "journal_mode", "WAL", |_| Ok(()))?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "trusted_schema", false)?;
    connection.pragma_update(None, "cell_size_check", true)?;
    connection.set_prepared_statement_cache_capacity(64);
    Ok(())
}

/// Refuses a file whose pages do not fit together.
pub(super) fn check_integrity(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let found: String =
        connection.query_row("PRAGMA quick_check(1)", [], |row| row.get("quick_check"))?;
    if found == "ok" { Ok(()) } else { Err(damaged(path, &found)) }
}

fn damaged(path: &Path, detail: &str) -> StoreError {
    StoreError::Damaged { path: path.to_path_buf(), detail: detail.to_owned() }
}

fn not_writable(path: &Path, source: std::io::Error) -> StoreError {
    use std::io::ErrorKind;
    match source.kind() {
        ErrorKind::NotADirectory
        | ErrorKind::IsADirectory
        | ErrorKind::AlreadyExists
        | ErrorKind::NotFound => StoreError::NotWritable { path: path.to_path_buf() },
        _ => StoreError::file(path, source),
    }
}
