use std::process::ExitCode;

use crate::jobs::{JobError, explain};
use crate::wording::Style;

/// Why a command did not do its work, in a sentence that says what to do.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Failure {
    /// The work failed.
    Work(String),
    /// The words or the input were wrong.
    Input(String),
}

impl Failure {
    /// The sentence.
    pub(super) fn sentence(&self) -> &str {
        match self {
            Self::Work(sentence) | Self::Input(sentence) => sentence,
        }
    }

    /// The exit status.
    pub(super) fn status(&self) -> ExitCode {
        ExitCode::from(match self {
            Self::Work(_) => 1,
            Self::Input(_) => 2,
        })
    }
}

impl From<JobError> for Failure {
    fn from(error: JobError) -> Self {
        let sentence = explain(&error, &Style::default());
        if error.is_wrong_input() { Self::Input(sentence) } else { Self::Work(sentence) }
    }
}
