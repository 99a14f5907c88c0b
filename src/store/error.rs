use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;
use thiserror::Error;

use super::VehicleId;

/// SQLITE_IOERR_SHMSIZE of the engine's result codes.
const IOERR_SHMSIZE: std::ffi::c_int = 10 | 19 << 8;

/// What can go wrong with stored histories. Variants hold what a caller can act on.
#[derive(Debug, Error)]
pub enum StoreError {
    /// The file, or the folder it would live in, cannot be written.
    #[error("{} cannot be written", path.display())]
    NotWritable {
        /// The database file.
        path: PathBuf,
    },
    /// Another instance of the program has the database open.
    #[error("{} is open in another instance", path.display())]
    Locked {
        /// The database file.
        path: PathBuf,
    },
    /// A newer program wrote the file; it was left untouched.
    #[error("{} has schema {found}, newer than {known}", path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Schema of the file.
        found: u32,
        /// Newest schema this program knows.
        known: u32,
    },
    /// The file is a database, but not one of this program.
    #[error("{} is not a database of this program", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
    },
    /// The file's content is damaged; a backup or [`super::salvage`] may help.
    #[error("{} is damaged: {detail}", path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// The first thing found wrong.
        detail: String,
    },
    /// No space left; nothing of the last step was kept.
    #[error("no space left for {}", path.display())]
    DiskFull {
        /// The database file.
        path: PathBuf,
    },
    /// There is no row with this number.
    #[error("no {what} with number {id}")]
    Unknown {
        /// Kind of row, in English.
        what: &'static str,
        /// The number asked for.
        id: i64,
    },
    /// Another vehicle already has this VIN.
    #[error("VIN {vin} belongs to vehicle {}", vehicle.0)]
    VinKnown {
        /// The VIN.
        vin: String,
        /// The vehicle that has it.
        vehicle: VehicleId,
    },
    /// The value would not come back from the store as it went in.
    #[error("{what} holds a number that cannot be stored")]
    NotStorable {
        /// Kind of value, in English.
        what: &'static str,
    },
    /// A stored text is not what its column promises, as after damage or a foreign hand.
    #[error("unreadable {column}: {text}")]
    Unreadable {
        /// Table and column.
        column: &'static str,
        /// The stored text, cut short.
        text: String,
    },
    /// The file is no bundle, or not the one that was written.
    #[error("{} is not an intact bundle: {}", path.display(), fault)]
    BadBundle {
        /// The bundle file.
        path: PathBuf,
        /// What is wrong with it.
        fault: BundleFault,
    },
    /// A file beside the database could not be read or written.
    #[error("{}: {source}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// The database engine refused a statement.
    #[error("database: {0}")]
    Database(#[source] rusqlite::Error),
}

/// What is wrong with a bundle.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum BundleFault {
    /// It cannot be read as a database.
    #[error("not a readable database")]
    NotReadable,
    /// It has no manifest of this program.
    #[error("no manifest")]
    NoManifest,
    /// Its tables are not those of the schema it names.
    #[error("other tables than its schema has")]
    OtherTables,
    /// Its content does not match the digest in its manifest.
    #[error("content changed since it was written")]
    ContentChanged,
    /// A field holds a value that its column cannot hold.
    #[error("a field holds an impossible value")]
    ImpossibleValue,
    /// A row says something that this program cannot read, although it is as it was written.
    #[error("a row cannot be read")]
    Unreadable,
    /// A row points to a row that is not there.
    #[error("a row points nowhere")]
    LooseEnd,
}

impl StoreError {
    /// Gives an engine error the facts that a caller can act on.
    pub(super) fn at(self, path: &Path) -> Self {
        let Self::Database(rusqlite::Error::SqliteFailure(failure, message)) = self else {
            return self;
        };
        let path = path.to_path_buf();
        match failure.code {
            ErrorCode::DiskFull => Self::DiskFull { path },
            // The index of the write-ahead log, a file beside it, found no room to grow.
            ErrorCode::SystemIoFailure if failure.extended_code == IOERR_SHMSIZE => {
                Self::DiskFull { path }
            }
            ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied => {
                Self::NotWritable { path }
            }
            ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked => Self::Locked { path },
            ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase => {
                Self::Damaged { path, detail: message.unwrap_or_else(|| failure.to_string()) }
            }
            _ => Self::Database(rusqlite::Error::SqliteFailure(failure, message)),
        }
    }

    /// A stored text that this program cannot read.
    pub(super) fn unreadable(column: &'static str, text: &str) -> Self {
        Self::Unreadable { column, text: text.chars().take(60).collect() }
    }

    /// An input or output error on a file beside the database.
    pub(super) fn file(path: &Path, source: std::io::Error) -> Self {
        use std::io::ErrorKind;
        let path = path.to_path_buf();
        match source.kind() {
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded => Self::DiskFull { path },
            ErrorKind::PermissionDenied | ErrorKind::ReadOnlyFilesystem => {
                Self::NotWritable { path }
            }
            _ => Self::File { path, source },
        }
    }
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        Self::Database(error)
    }
}
