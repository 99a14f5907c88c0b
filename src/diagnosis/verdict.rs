use serde::{Deserialize, Serialize};

use crate::evidence::{Check, MeasureName, Observation};
use crate::units::Estimate;
use crate::vehicle::Fault;

/// What may be the case: one of the faults, or none.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Hypothesis {
    /// Nothing this program knows is wrong.
    None,
    /// This fault.
    Fault(Fault),
}

impl Hypothesis {
    /// Every hypothesis: the faults in the order of the contract, then none.
    pub fn all() -> impl Iterator<Item = Self> {
        Fault::ALL.into_iter().map(Self::Fault).chain([Self::None])
    }

    /// The stable name: the fault's, or `none`.
    pub const fn name(self) -> &'static str {
        match self {
            Self::None => "none",
            Self::Fault(fault) => fault.name(),
        }
    }
}

/// The visit's conclusion.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum VerdictOutcome {
    /// One fault is above 95 %.
    FaultFound,
    /// No fault is above 95 %.
    NoFaultFound,
    /// Neither.
    Inconclusive,
}

impl VerdictOutcome {
    /// The stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::FaultFound => "fault_found",
            Self::NoFaultFound => "no_fault_found",
            Self::Inconclusive => "inconclusive",
        }
    }
}

/// Where a factor comes from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// How common the faults are before anything was read.
    Prior,
    /// A trouble code.
    Code(String),
    /// A number of a check.
    Measure(Check, MeasureName),
    /// What the person observed.
    Observation(Observation),
}

/// One factor of the verdict: how much likelier one fact is under the leading hypothesis than
/// under the others, taken as they stood when the fact was weighed. The factors in their order
/// multiply to the odds of the verdict.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Weight {
    /// The fact.
    pub source: Source,
    /// The factor on the odds of the leading hypothesis; above 1 speaks for it.
    pub factor: f64,
    /// The number behind it, where there is one.
    pub estimate: Option<Estimate>,
}

/// Why a check comes next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyNext {
    /// It tells these two apart.
    TellsApart(Hypothesis, Hypothesis),
    /// It has not been made and the verdict needs it.
    NotYetMade,
    /// It was made, and more of it would narrow the bounds.
    MoreOfIt,
    /// It proves the repair.
    ProvesRepair,
}

/// The check to make next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct NextCheck {
    /// Which.
    pub check: Check,
    /// Why.
    pub why: WhyNext,
    /// Expected information, in bits.
    pub expected_bits: f64,
    /// About how long it takes, in minutes.
    pub minutes: f64,
}

/// The conclusion with its odds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Verdict {
    /// Found, not found, or open.
    pub outcome: VerdictOutcome,
    /// The fault, if found.
    pub fault: Option<Fault>,
    /// A second fault that the numbers show beside it, and how sure it is given the first.
    #[serde(default)]
    pub also: Option<(Fault, f64)>,
    /// Probability of the conclusion; of the leading hypothesis while inconclusive.
    pub probability: f64,
    /// Probability of every hypothesis, in the order of [`Hypothesis::all`]; they sum to 1.
    pub probabilities: Vec<(Hypothesis, f64)>,
    /// The factors that lead to the leading hypothesis, in the order they were multiplied.
    pub weights: Vec<Weight>,
    /// What to do next, unless nothing would change the conclusion.
    pub next_check: Option<NextCheck>,
    /// Smallest leak through the shut valve that would have shown, as a share of purge in percent
    /// where the visit allows that scale, and in pascal.
    pub smallest_leak_percent: Option<f64>,
    /// The same in pascal.
    pub smallest_leak_pa: Option<f64>,
}

impl Verdict {
    /// The check that a visit goes on with: the next one while the verdict is open, and the sealed
    /// hold before a car is sent home as sound, since leaks to the outside show in no other check.
    pub fn goes_on_with(&self) -> Option<Check> {
        let next = self.next_check?.check;
        let open = match self.outcome {
            VerdictOutcome::Inconclusive => true,
            VerdictOutcome::NoFaultFound => next == Check::SealedHold,
            VerdictOutcome::FaultFound => false,
        };
        open.then_some(next)
    }

    /// The most probable hypothesis.
    pub fn leading(&self) -> Hypothesis {
        self.probabilities
            .iter()
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .map_or(Hypothesis::None, |(hypothesis, _)| *hypothesis)
    }
}
