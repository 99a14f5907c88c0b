use std::path::PathBuf;

use super::arguments::Import;
use super::{Failure, Output};
use crate::jobs::{MachineClock, import};

/// Merges histories from a file that `export` wrote.
pub(super) fn run(
    arguments: &Import,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let merged = import(&database, &arguments.file, MachineClock::start())?;
    output.message(&format!(
        "{} vehicles and {} visits imported, {} vehicles turned out to be known",
        merged.vehicles, merged.visits, merged.unified
    ));
    Ok(())
}
