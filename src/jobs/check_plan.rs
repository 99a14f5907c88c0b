use std::collections::BTreeMap;

use crate::diagnosis::Verdict;
use crate::evidence::Check;

/// How many checks are made before the verdict is left as it stands.
const MOST_CHECKS: u32 = 12;

/// How often one check is made because more of it would help.
const MOST_OF_ONE: u32 = 3;

/// What is left to try, in this order, once a check was made that often.
const OTHERS: [Check; 5] = [
    Check::SealedHold,
    Check::CapOffZero,
    Check::PurgeResponse,
    Check::UnplugRecovery,
    Check::ThrottleFollow,
];

/// Which checks a visit makes that nobody steers, the demonstration's and the validation's: how often
/// each was made.
#[derive(Clone, Debug, Default)]
pub(super) struct CheckPlan {
    made: BTreeMap<Check, u32>,
}

impl CheckPlan {
    /// The check to make next, counted as made; `None` when the verdict stands or nothing is left
    /// to try.
    pub(super) fn take_next(&mut self, verdict: &Verdict) -> Option<Check> {
        let recommended = verdict.goes_on_with()?;
        if self.count() >= MOST_CHECKS {
            return None;
        }
        // Nobody makes the same check for ever: what was not made at all comes first.
        let check = if self.times(recommended) < MOST_OF_ONE {
            recommended
        } else {
            OTHERS.into_iter().find(|other| self.times(*other) == 0)?
        };
        *self.made.entry(check).or_default() += 1;
        Some(check)
    }

    /// How many checks were made.
    pub(super) fn count(&self) -> u32 {
        self.made.values().sum()
    }

    fn times(&self, check: Check) -> u32 {
        self.made.get(&check).copied().unwrap_or(0)
    }
}
