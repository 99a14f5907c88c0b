use std::io::{BufRead, IsTerminal};
use std::path::PathBuf;

use super::arguments::CloseVent;
use super::{Failure, Output};
use crate::jobs::{JobError, MachineClock, VentWords, as_remembered, close_vent_of, vent_words};
use crate::wording::Language;

/// What has to be typed to agree.
const AGREED: &str = "yes";

/// Has the car close its vent once, after saying what that means and hearing a yes.
pub(super) fn run(
    arguments: &CloseVent,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let VentWords { what, limit, way_out, caution, .. } = vent_words(Language::English);
    for words in [what, limit, way_out, caution] {
        output.message(words);
    }
    let consent = arguments.agree || asked(output);
    if !consent {
        return Err(JobError::VentConsentNeeded.into());
    }
    let clock = MachineClock::start();
    close_vent_of(&as_remembered(&arguments.link, &database)?, clock)?;
    output.message("The car accepted: the vent is closed. Key off opens it.");
    Ok(())
}

/// Asks where somebody sits in front of it; elsewhere nobody has agreed.
fn asked(output: &mut Output) -> bool {
    if !std::io::stdin().is_terminal() {
        return false;
    }
    output.message("Type yes to send this one request:");
    let mut line = String::new();
    let read = std::io::stdin().lock().read_line(&mut line);
    read.is_ok() && line.trim().eq_ignore_ascii_case(AGREED)
}
