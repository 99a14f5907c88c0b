use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::JobError;
use crate::vehicle::CustomSignal;

/// The file beside a database that describes requests of the person's own.
fn place(database: &Path) -> PathBuf {
    database.with_file_name("own_signals.toml")
}

/// The person's own requests, from `own_signals.toml` beside a database; none if there is no such
/// file.
///
/// # Errors
/// [`JobError::Decode`] if the file describes something impossible.
pub fn own_signals_beside(database: &Path) -> Result<Vec<CustomSignal>, JobError> {
    let path = place(database);
    match fs::read_to_string(&path) {
        Ok(text) => Ok(CustomSignal::read_all(&text)?),
        Err(error) if error.kind() == ErrorKind::NotFound => Ok(Vec::new()),
        Err(error) => Err(JobError::file(&path, &error)),
    }
}
