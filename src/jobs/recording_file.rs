use std::fs::{self, File};
use std::path::{Path, PathBuf};

use super::JobError;
use crate::recording::csv::{self, Imported};
use crate::recording::{ColumnMap, Recording};

/// A recording from a file: our own format, or another program's log through a column map.
///
/// # Errors
/// [`JobError::File`] if it cannot be read, [`JobError::Recording`] with line and column if it is
/// no sound recording; nothing is half-imported.
pub fn read_recording(path: &Path, map: Option<&ColumnMap>) -> Result<Imported, JobError> {
    let file = File::open(path).map_err(|error| JobError::file(path, &error))?;
    csv::read(file, map).map_err(|fault| JobError::Recording { path: path.to_path_buf(), fault })
}

/// A column map from a file.
///
/// # Errors
/// [`JobError::File`] if it cannot be read, [`JobError::Recording`] if it is no column map.
pub fn read_column_map(path: &Path) -> Result<ColumnMap, JobError> {
    let text = fs::read_to_string(path).map_err(|error| JobError::file(path, &error))?;
    ColumnMap::from_toml(&text)
        .map_err(|fault| JobError::Recording { path: path.to_path_buf(), fault })
}

/// Writes a recording so that the file is at every moment either the old one or the new one.
///
/// # Errors
/// [`JobError::File`] if it cannot be written.
pub(super) fn write_recording(path: &Path, recording: &Recording) -> Result<(), JobError> {
    let bytes = csv::write(recording);
    let mut beside = path.as_os_str().to_owned();
    beside.push(".part");
    let beside = PathBuf::from(beside);
    fs::write(&beside, bytes).map_err(|error| JobError::file(path, &error))?;
    fs::rename(&beside, path).map_err(|error| JobError::file(path, &error))
}
