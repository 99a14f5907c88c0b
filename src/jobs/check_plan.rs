use std::collections::BTreeMap;

use crate::diagnosis::Verdict;
use crate::evidence::Check;

/// How many checks are made before the verdict is left as it stands.
const MOST_CHECKS: u32 = 16;

/// How often one check is made in a row of wishes for it before another has its turn, how often at most,
/// and how many bits it must promise to be made so often without a break.
const TURNS: u32 = 3;
const MOST_OF_ONE: u32 = 5;
const PROMISING: f64 = 0.1;

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
        let bits = verdict.next_check.map_or(0.0, |next| next.expected_bits);
        let in_a_row = if bits >= PROMISING { MOST_OF_ONE } else { TURNS };
        // Nobody makes the same check for ever: what was made least comes first.
        let check = if self.times(recommended) < in_a_row {
            recommended
        } else {
            OTHERS
                .into_iter()
                .chain([recommended])
                .filter(|other| self.times(*other) < MOST_OF_ONE)
                .min_by_key(|other| self.times(*other))?
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

#[cfg(test)]
mod tests {
    use super::{CheckPlan, MOST_CHECKS, MOST_OF_ONE};
    use crate::diagnosis::{NextCheck, Verdict, WhyNext, weigh};
    use crate::evidence::{Check, Findings};

    fn asking_for(check: Check, expected_bits: f64) -> Verdict {
        let open = weigh(&Findings::default());
        let why = WhyNext::MoreOfIt;
        Verdict { next_check: Some(NextCheck { check, why, expected_bits, minutes: 1.0 }), ..open }
    }

    #[test]
    fn a_check_made_three_times_gives_way_to_those_made_less() {
        let mut plan = CheckPlan::default();
        let verdict = asking_for(Check::SealedHold, 0.05);
        let taken: Vec<Check> = std::iter::from_fn(|| plan.take_next(&verdict)).collect();
        assert_eq!(
            taken[..8],
            [
                Check::SealedHold,
                Check::SealedHold,
                Check::SealedHold,
                Check::CapOffZero,
                Check::PurgeResponse,
                Check::UnplugRecovery,
                Check::ThrottleFollow,
                Check::CapOffZero,
            ]
        );
        assert_eq!(taken.len() as u32, MOST_CHECKS);
        assert!(taken.iter().filter(|it| **it == Check::SealedHold).count() as u32 <= MOST_OF_ONE);
    }

    #[test]
    fn a_check_that_promises_much_is_made_five_times_in_a_row() {
        let mut plan = CheckPlan::default();
        let verdict = asking_for(Check::SealedHold, 0.2);
        let taken: Vec<Check> = std::iter::from_fn(|| plan.take_next(&verdict)).take(6).collect();
        assert_eq!(taken[..5], [Check::SealedHold; 5]);
        assert_ne!(taken[5], Check::SealedHold);
    }

    #[test]
    fn nothing_is_made_once_the_verdict_asks_for_nothing() {
        let mut plan = CheckPlan::default();
        let verdict = Verdict { next_check: None, ..asking_for(Check::RestZero, 0.1) };
        assert_eq!(plan.take_next(&verdict), None);
        assert_eq!(plan.count(), 0);
    }
}
