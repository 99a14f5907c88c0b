use std::path::PathBuf;

use super::arguments::Record;
use super::{Failure, Output};
use crate::jobs::{MachineClock, as_remembered, own_signals_beside, record};
use crate::wording;

/// Polls the check signals into a recording file.
pub(super) fn run(
    arguments: &Record,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let own = own_signals_beside(&database)?;
    let clock = MachineClock::start();
    let Record { link, seconds, out } = arguments;
    let link = as_remembered(link, &database)?;
    let recorded = record(&link, *seconds, out, clock, &own, &mut |done, samples| {
        let share = wording::percent(done, wording::Language::English);
        output.progress(&format!("{share} recorded, {samples} samples"));
    })?;
    if recorded.samples == 0 {
        return Err(Failure::Work(
            "The car gave no sample. Turn the key on and record again.".to_owned(),
        ));
    }
    output.message(&format!("{} samples in {}", recorded.samples, out.display()));
    Ok(())
}
