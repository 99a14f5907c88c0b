use crate::evidence::Check;
use crate::vehicle::Signal;

/// What each check cannot do without. Each entry is a choice: one signal of it is enough, the
/// first is the one to name.
const NEEDED: [(Check, &[&[Signal]]); 9] = [
    (Check::RestZero, &[&[Signal::TankPressure]]),
    (Check::IdleZero, &[&[Signal::TankPressure], &[Signal::EngineSpeed]]),
    (Check::PurgeResponse, &[&[Signal::TankPressure], &[Signal::PurgeCommand]]),
    (Check::UnplugRecovery, &[&[Signal::TankPressure]]),
    (
        Check::ThrottleFollow,
        &[
            &[Signal::TankPressure],
            &[Signal::ManifoldPressure, Signal::EngineLoad, Signal::Throttle],
        ],
    ),
    (Check::CapOffZero, &[&[Signal::TankPressure]]),
    (Check::AfterFillUp, &[&[Signal::ShortTrim1], &[Signal::EngineSpeed]]),
    (Check::SealedHold, &[&[Signal::TankPressure]]),
    (
        Check::RepairProof,
        &[
            &[Signal::TankPressure],
            &[Signal::ManifoldPressure, Signal::EngineLoad, Signal::Throttle],
        ],
    ),
];

/// The signals that `check` lacks when the car offers only `offered`; empty if it can be made.
pub(super) fn missing_signals(check: Check, offered: &[Signal]) -> Vec<Signal> {
    let choices = NEEDED.iter().filter(|(it, _)| *it == check).flat_map(|(_, choices)| *choices);
    choices
        .filter(|choice| !choice.iter().any(|signal| offered.contains(signal)))
        .filter_map(|choice| choice.first().copied())
        .collect()
}

/// The checks that the offered signals do not allow.
pub(super) fn impossible_checks(offered: &[Signal]) -> Vec<Check> {
    Check::ALL.into_iter().filter(|check| !missing_signals(*check, offered).is_empty()).collect()
}

#[cfg(test)]
mod tests {
    use super::{impossible_checks, missing_signals};
    use crate::evidence::Check;
    use crate::vehicle::Signal;

    #[test]
    fn a_car_that_offers_everything_allows_every_check() {
        assert_eq!(impossible_checks(&Signal::ALL), []);
    }

    #[test]
    fn without_tank_pressure_only_the_fill_up_is_left() {
        let offered: Vec<Signal> =
            Signal::ALL.into_iter().filter(|it| *it != Signal::TankPressure).collect();
        let possible: Vec<Check> = Check::ALL
            .into_iter()
            .filter(|check| missing_signals(*check, &offered).is_empty())
            .collect();
        assert_eq!(possible, [Check::AfterFillUp]);
    }

    #[test]
    fn a_stand_in_for_manifold_pressure_will_do() {
        let offered = [Signal::TankPressure, Signal::EngineLoad];
        assert_eq!(missing_signals(Check::ThrottleFollow, &offered), []);
        let offered = [Signal::TankPressure];
        let missing = missing_signals(Check::ThrottleFollow, &offered);
        assert_eq!(missing, [Signal::ManifoldPressure]);
    }
}
