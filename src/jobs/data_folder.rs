use std::path::{Path, PathBuf};

use super::JobError;

/// Where the database lives unless the person names a file: in the platform's data folder, which
/// is `XDG_DATA_HOME` on Linux.
///
/// # Errors
/// [`JobError::NoDataFolder`] if the platform names none.
pub fn default_database() -> Result<PathBuf, JobError> {
    let folders = directories::ProjectDirs::from("", "", "stilltank");
    let folders = folders.ok_or(JobError::NoDataFolder)?;
    Ok(folders.data_dir().join("stilltank.db"))
}

/// Where documents go unless the person names a file: beside the database.
pub(super) fn report_folder(database: &Path) -> PathBuf {
    database.parent().unwrap_or(Path::new("")).join("reports")
}
