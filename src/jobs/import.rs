use std::path::Path;

use super::{JobError, MachineClock};
use crate::store::{Merged, Store};

/// Merges the histories of a file that `export` wrote into a database. Nothing doubles, and
/// nothing is half-imported.
///
/// # Errors
/// What keeps the database from being opened, or the file from being an intact export.
pub fn import(database: &Path, file: &Path, clock: MachineClock) -> Result<Merged, JobError> {
    // Found out first, so that a mistyped name does not create a database.
    std::fs::metadata(file).map_err(|error| JobError::file(file, &error))?;
    let mut store = Store::open(database)?;
    store.back_up_if_due(clock.date())?;
    Ok(store.import(file)?)
}
