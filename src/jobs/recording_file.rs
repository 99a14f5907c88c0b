use std::fs::{self, File};
use std::path::{Path, PathBuf};

use super::{JobError, MachineClock};
use crate::recording::csv::{self, Imported};
use crate::recording::{ColumnMap, Recording, RecordingError};
use crate::store::{Definition, Store};

/// A recording from a file: our own format, or another program's log through a column map.
///
/// # Errors
/// [`JobError::File`] if it cannot be read, [`JobError::Recording`] with line and column if it is
/// no sound recording; nothing is half-imported.
pub fn read_recording(path: &Path, map: Option<&ColumnMap>) -> Result<Imported, JobError> {
    let file = File::open(path).map_err(|error| JobError::file(path, &error))?;
    csv::read(file, map).map_err(|fault| JobError::Recording { path: path.to_path_buf(), fault })
}

/// A recording from somebody's log. A map that is named is used and remembered in the database; else
/// a file that is none of ours is tried with the maps remembered from before.
///
/// # Errors
/// [`JobError::File`] if a file cannot be read, [`JobError::Recording`] with what is wrong with the
/// log or the map, [`JobError::Store`] if the map cannot be remembered.
pub fn read_log(
    path: &Path,
    map: Option<&Path>,
    database: &Path,
    clock: MachineClock,
) -> Result<Imported, JobError> {
    let Some(map_path) = map else { return read_with_known_maps(path, database) };
    let text = fs::read_to_string(map_path).map_err(|error| JobError::file(map_path, &error))?;
    let map = ColumnMap::from_toml(&text)
        .map_err(|fault| JobError::Recording { path: map_path.to_path_buf(), fault })?;
    let imported = read_recording(path, Some(&map))?;
    let name = map_path.file_stem().and_then(|it| it.to_str()).unwrap_or_default();
    Store::open(database)?.define(Definition::ColumnMap, name, &text, clock.date())?;
    Ok(imported)
}

fn read_with_known_maps(path: &Path, database: &Path) -> Result<Imported, JobError> {
    let as_ours = read_recording(path, None);
    let foreign = matches!(
        &as_ours,
        Err(JobError::Recording {
            fault: RecordingError::NoTimeColumn { .. }
                | RecordingError::NothingKnown
                | RecordingError::Delimiter { .. },
            ..
        })
    );
    // A database that another instance has open cannot be asked; then the file speaks for itself.
    if !foreign || !database.exists() {
        return as_ours;
    }
    let Ok(store) = Store::open(database) else { return as_ours };
    let known = store.definitions(Definition::ColumnMap)?;
    let maps = known.iter().filter_map(|(_, text)| ColumnMap::from_toml(text).ok());
    maps.into_iter().find_map(|map| read_recording(path, Some(&map)).ok()).map_or(as_ours, Ok)
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
