use crate::checks;
use crate::diagnosis::{self, Verdict};
use crate::evidence::{Findings, Observation};
use crate::recording::Recording;

/// What a recording shows and what follows from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// Results of the checks, codes, observations, warnings.
    pub findings: Findings,
    /// The conclusion.
    pub verdict: Verdict,
}

/// Judges a recording and what the person observed. The app's visits, the command line and the
/// validation all come through here, so that a number means the same everywhere.
pub fn judge(recording: &Recording, observations: &[Observation]) -> Judgement {
    let mut findings = checks::examine(recording);
    findings.observations = observations.to_vec();
    let verdict = diagnosis::weigh(&findings);
    Judgement { findings, verdict }
}
