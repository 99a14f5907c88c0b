use serde::{Deserialize, Serialize};

use super::Signal;
use crate::units::Instant;

/// What readings of one signal look like. A parameter that a car lists may still be frozen,
/// substituted by a fixed value, or read through a wrong scaling.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Plausibility {
    /// Nothing speaks against them.
    Plausible,
    /// Too few to say.
    TooFewReadings,
    /// A reading that no sound car gives.
    OutOfRange {
        /// The reading.
        value: f64,
    },
    /// All readings are the value that cars send in place of a missing sensor.
    Substituted {
        /// The reading.
        value: f64,
    },
    /// A signal that cannot stand still did.
    Frozen {
        /// The reading.
        value: f64,
    },
}

/// What can be expected of a signal. Ranges are wide: they catch wrong scalings and missing
/// sensors, not faults (common practice, no source).
struct Expectation {
    signal: Signal,
    low: f64,
    high: f64,
    /// Values sent for a sensor that is not there: the raw ends of the parameter.
    substitutes: &'static [f64],
    /// Whether it cannot stand still to the last digit while the engine runs.
    restless: bool,
}

const EXPECTATIONS: &[Expectation] = &[
    row(Signal::TankPressure, -8000.0, 8000.0),
    row(Signal::TankSensor, 0.0, 5.5),
    row(Signal::ManifoldPressure, 5.0, 400.0),
    row(Signal::BarometricPressure, 45.0, 110.0),
    row(Signal::Throttle, 0.0, 100.0),
    row(Signal::PurgeCommand, 0.0, 100.0),
    row(Signal::VentCommand, 0.0, 100.0),
    Expectation { restless: true, ..row(Signal::EngineSpeed, 0.0, 12_000.0) },
    row(Signal::VehicleSpeed, 0.0, 254.0),
    row(Signal::EngineLoad, 0.0, 100.0),
    Expectation { substitutes: &[-40.0, 215.0], ..row(Signal::Coolant, -50.0, 215.0) },
    Expectation { substitutes: &[-40.0, 215.0], ..row(Signal::IntakeAir, -50.0, 215.0) },
    Expectation { substitutes: &[-40.0, 215.0], ..row(Signal::AmbientAir, -50.0, 215.0) },
    row(Signal::FuelLevel, 0.0, 100.0),
    Expectation { substitutes: &[-100.0, 99.218_75], ..row(Signal::ShortTrim1, -100.0, 100.0) },
    Expectation { substitutes: &[-100.0, 99.218_75], ..row(Signal::LongTrim1, -100.0, 100.0) },
    Expectation { substitutes: &[-100.0, 99.218_75], ..row(Signal::ShortTrim2, -100.0, 100.0) },
    Expectation { substitutes: &[-100.0, 99.218_75], ..row(Signal::LongTrim2, -100.0, 100.0) },
    row(Signal::Supply, 5.0, 36.0),
];

const LEAST_READINGS: usize = 5;

/// Readings of a running engine's speed that never agree by chance.
const FROZEN_READINGS: usize = 10;

/// Looks at the readings of a signal, in its unit.
pub fn plausibility(signal: Signal, values: &[f64], engine_runs: bool) -> Plausibility {
    let Some(expected) = EXPECTATIONS.iter().find(|row| row.signal == signal) else {
        return Plausibility::Plausible;
    };
    let outside = |value: &&f64| !(expected.low..=expected.high).contains(*value);
    if let Some(value) = values.iter().find(outside) {
        return Plausibility::OutOfRange { value: *value };
    }
    let Some(first) = values.first() else { return Plausibility::TooFewReadings };
    let same = values.iter().all(|value| value == first);
    // One reading is enough: what such sensors measure is asked for once in ten seconds.
    if same && expected.substitutes.contains(first) {
        return Plausibility::Substituted { value: *first };
    }
    if values.len() < LEAST_READINGS {
        return Plausibility::TooFewReadings;
    }
    if same && engine_runs && expected.restless && values.len() >= FROZEN_READINGS {
        return Plausibility::Frozen { value: *first };
    }
    Plausibility::Plausible
}

/// Smallest difference between two values seen; `None` if all are equal.
pub fn smallest_step(values: &[f64]) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|value| value.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    sorted
        .iter()
        .zip(sorted.iter().skip(1))
        .map(|(lower, higher)| higher - lower)
        .filter(|step| *step > 0.0)
        .min_by(f64::total_cmp)
}

/// Typical time between two changes of a signal, in seconds: the middle one. A car may refresh a
/// value slower than it is asked for, and then many readings are one. `None` with fewer than two
/// changes.
pub fn update_interval(times: &[Instant], values: &[f64]) -> Option<f64> {
    let readings: Vec<(Instant, f64)> = times.iter().copied().zip(values.iter().copied()).collect();
    let changes: Vec<Instant> = readings
        .iter()
        .zip(readings.iter().skip(1))
        .filter(|(before, after)| before.1 != after.1)
        .map(|(_, after)| after.0)
        .collect();
    let mut intervals: Vec<f64> = changes
        .iter()
        .zip(changes.iter().skip(1))
        .map(|(before, after)| after.seconds_since(*before))
        .collect();
    intervals.sort_by(f64::total_cmp);
    intervals.get(intervals.len() / 2).copied()
}

const fn row(signal: Signal, low: f64, high: f64) -> Expectation {
    Expectation { signal, low, high, substitutes: &[], restless: false }
}

#[cfg(test)]
mod tests {
    use super::{EXPECTATIONS, Plausibility, plausibility, smallest_step, update_interval};
    use crate::units::Instant;
    use crate::vehicle::Signal;

    #[test]
    fn every_signal_has_an_expectation() {
        let signals: Vec<Signal> = EXPECTATIONS.iter().map(|row| row.signal).collect();
        assert_eq!(signals, Signal::ALL);
    }

    /// A few pascals of vacuum read without their sign: FF FC as 16383 Pa.
    #[test]
    fn readings_through_a_wrong_rule_are_out_of_range() {
        assert_eq!(
            plausibility(Signal::TankPressure, &[0.0, 16383.0, 16382.75], false),
            Plausibility::OutOfRange { value: 16383.0 }
        );
        let nan = plausibility(Signal::Coolant, &[f64::NAN], false);
        assert!(matches!(nan, Plausibility::OutOfRange { .. }));
    }

    #[test]
    fn a_missing_sensor_shows_by_its_substitute() {
        assert_eq!(
            plausibility(Signal::AmbientAir, &[-40.0; 6], true),
            Plausibility::Substituted { value: -40.0 }
        );
        let once = plausibility(Signal::Coolant, &[-40.0], true);
        assert_eq!(once, Plausibility::Substituted { value: -40.0 });
        assert_eq!(plausibility(Signal::Coolant, &[-39.0], true), Plausibility::TooFewReadings);
        let cold = [-40.0, -40.0, -39.0, -40.0, -40.0];
        assert_eq!(plausibility(Signal::AmbientAir, &cold, true), Plausibility::Plausible);
    }

    #[test]
    fn a_running_engine_never_turns_evenly() {
        let even = [750.0; 20];
        assert_eq!(
            plausibility(Signal::EngineSpeed, &even, true),
            Plausibility::Frozen { value: 750.0 }
        );
        assert_eq!(plausibility(Signal::EngineSpeed, &[0.0; 20], false), Plausibility::Plausible);
        // A tank may stand still, and a coarse sensor shows it as one value.
        assert_eq!(plausibility(Signal::TankPressure, &[0.0; 99], true), Plausibility::Plausible);
        assert_eq!(
            plausibility(Signal::EngineSpeed, &[750.0; 4], true),
            Plausibility::TooFewReadings
        );
    }

    #[test]
    fn a_value_refreshed_slower_than_asked_shows_its_own_rhythm() {
        let times: Vec<Instant> = (0..60).map(|n| Instant::from_micros(n * 100_000)).collect();
        let values: Vec<f64> = (0..60).map(|n| f64::from(n / 5)).collect();
        assert_eq!(update_interval(&times, &values), Some(0.5));
        assert_eq!(update_interval(&times, &[1.0; 60]), None);
        assert_eq!(update_interval(&[], &[]), None);
    }

    #[test]
    fn the_smallest_step_is_found_among_unordered_values() {
        assert_eq!(smallest_step(&[5.0, 0.0, 2.5, 0.0, 5.0]), Some(2.5));
        assert_eq!(smallest_step(&[1.0, 1.0]), None);
        assert_eq!(smallest_step(&[]), None);
    }
}
