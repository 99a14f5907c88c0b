use std::path::PathBuf;

use super::arguments::Export;
use super::{Failure, Output};
use crate::jobs::{MachineClock, export};

/// Writes histories to a file or a folder.
pub(super) fn run(
    arguments: &Export,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let clock = MachineClock::start();
    let files = export(&database, &arguments.out, arguments.vehicle.as_deref(), clock)?;
    for file in &files {
        output.data(&file.display().to_string());
    }
    Ok(())
}
