use super::{Check, CheckResult, Outcome};
use crate::vehicle::Fault;

/// How a later visit stands to an earlier one of the same vehicle.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ComparisonEnd {
    /// What failed at the earlier visit passes now.
    Proven,
    /// It fails again, passes not surely enough, or was not looked at again.
    NotProven,
    /// More fails than before, or the tank moves more with the valve shut.
    Worse,
    /// Nothing failed at either visit.
    StillSound,
}

/// What two visits say of each other.
#[derive(Clone, Debug, PartialEq)]
pub struct Comparison {
    /// How it ended.
    pub end: ComparisonEnd,
    /// What the earlier visit found.
    pub fault: Option<Fault>,
    /// The proof over both recordings; `None` where one of them holds no tank pressure.
    pub proof: Option<CheckResult>,
    /// What passed at the earlier visit and fails now.
    pub newly_failing: Vec<CheckResult>,
    /// What failed at the earlier visit and was not made since.
    pub missing: Vec<Check>,
}

impl ComparisonEnd {
    /// The stable name in files and in JSON.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Proven => "proven",
            Self::NotProven => "not_proven",
            Self::Worse => "worse",
            Self::StillSound => "still_sound",
        }
    }
}

impl Comparison {
    /// How it ended, as a check ends: not proven is a failure only where the fault was seen again.
    pub fn outcome(&self) -> Outcome {
        let seen = self.proof.as_ref().map(|it| it.outcome);
        match (self.end, seen) {
            (ComparisonEnd::Proven | ComparisonEnd::StillSound, _) => Outcome::Pass,
            (ComparisonEnd::Worse, _) | (ComparisonEnd::NotProven, Some(Outcome::Fail)) => {
                Outcome::Fail
            }
            (ComparisonEnd::NotProven, _) => Outcome::Inconclusive,
        }
    }
}
