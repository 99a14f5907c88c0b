//! Which check to make next: the one with the most expected information per minute.

use super::population::Car;
use super::verdict::{Hypothesis, NextCheck, VerdictOutcome, WhyNext};
use super::weighing::{Standing, probabilities};
use crate::evidence::{Check, Findings, MeasureName, Outcome, Reason};

/// A check that promises less than this is not worth a person's time, bits.
const WORTH_IT: f64 = 0.02;
/// Outcomes told apart in a forecast.
const BINS: usize = 24;

/// What a check would read on a possible car, on a scale where one unit is about what it can tell
/// apart; and the minutes it takes.
struct Forecast {
    check: Check,
    minutes: f64,
    /// Told how much coarser the sensor is than a good one: its step in units of 8 Pa, at least 1.
    reading: fn(&Car, f64) -> f64,
}

/// The step that the forecasts' scales are meant for, Pa.
const GOOD_STEP: f64 = 8.0;

static FORECASTS: [Forecast; 7] = [
    Forecast {
        check: Check::RestZero,
        minutes: 0.5,
        reading: |car, _| scaled(car.offset + car.trapped, 40.0),
    },
    Forecast {
        check: Check::IdleZero,
        minutes: 0.6,
        reading: |car, coarse| scaled(car.shut, 8.0 * coarse),
    },
    Forecast {
        check: Check::PurgeResponse,
        minutes: 1.0,
        reading: |car, _| {
            if car.flows && car.moves { (-car.purge).max(10.0).ln() / 0.45 } else { 0.0 }
        },
    },
    Forecast {
        check: Check::UnplugRecovery,
        minutes: 1.5,
        reading: |car, _| if car.flows && car.moves { car.recovery.ln() / 0.35 } else { -9.0 },
    },
    Forecast {
        check: Check::ThrottleFollow,
        minutes: 1.5,
        reading: |car, coarse| scaled(car.shut, 4.0 * coarse),
    },
    Forecast {
        check: Check::CapOffZero,
        minutes: 2.0,
        reading: |car, _| {
            if car.moves {
                (car.lag + 0.15).ln() / 0.5
                    + 7.0
                        * scaled(car.offset, 60.0).signum()
                        * f64::from(u8::from(car.offset.abs() > 230.0))
            } else {
                -20.0
            }
        },
    },
    Forecast {
        check: Check::SealedHold,
        minutes: 3.0,
        reading: |car, _| match (car.moves, car.flows) {
            // A leaking valve pulls in the sealed tank, second by second, what it holds against
            // the vent's resistance in the open.
            (true, true) => {
                let vent = (car.recovery - car.lag).max(0.02);
                car.hole / 0.12 + scaled(car.shut / vent, 4.0)
            }
            (true, false) => -6.0,
            (false, _) => -11.0,
        },
    },
];

/// Compresses a pressure so that one unit stays about what a check tells apart near zero.
fn scaled(pressure: f64, resolution: f64) -> f64 {
    2.0 * (pressure / resolution).asinh()
}

/// The check to make next; `None` once the conclusion stands and no check would change it.
pub(super) fn choose(
    findings: &Findings,
    standings: &[Standing],
    outcome: VerdictOutcome,
) -> Option<NextCheck> {
    if outcome == VerdictOutcome::FaultFound {
        return None;
    }
    let chances = probabilities(standings);
    let coarse =
        (findings.measure(Check::RestZero, MeasureName::Step).map_or(0.0, |step| step.value)
            / GOOD_STEP)
            .max(1.0);
    let shares: Vec<Vec<f64>> = standings.iter().map(Standing::shares).collect();
    let worth = |forecast: &'static Forecast| {
        let bits = information(forecast, coarse, standings, &shares, &chances);
        // Sealing the vent and opening the cap take hands and time: the plain checks come first.
        let plain_made = findings.check(Check::PurgeResponse).is_some()
            && findings.check(Check::UnplugRecovery).is_some();
        if matches!(forecast.check, Check::SealedHold | Check::CapOffZero) && !plain_made {
            return (0.0, forecast);
        }
        // A check that was made and could not say is worth making again, less so; one that spoke
        // is not.
        let share = match findings.check(forecast.check) {
            None => 1.0,
            // No repetition tells what the car does not.
            Some(result) if result.reason == Reason::ZeroTaken => 0.0,
            Some(result) if result.outcome == Outcome::Inconclusive => 0.4,
            // With the vent sealed, as the person has learnt meanwhile, it times the sensor alone.
            Some(_)
                if forecast.check == Check::CapOffZero
                    && findings.check(Check::SealedHold).is_some()
                    && findings.measure(Check::CapOffZero, MeasureName::CapOffTime).is_none() =>
            {
                0.6
            }
            // Every hold is a new draw of what fuel and gas do meanwhile: that is most of its doubt.
            Some(_) if forecast.check == Check::SealedHold => 0.4,
            Some(_) => 0.15,
        };
        (bits * share, forecast)
    };
    // Leaks to the outside show in no other check: before a car is called sound, that one is made.
    let unsealed = findings.measure(Check::SealedHold, MeasureName::SealedHole).is_none();
    if outcome == VerdictOutcome::NoFaultFound && unsealed {
        let sealed = FORECASTS.iter().find(|forecast| forecast.check == Check::SealedHold)?;
        return Some(NextCheck {
            check: sealed.check,
            why: WhyNext::NotYetMade,
            expected_bits: information(sealed, coarse, standings, &shares, &chances),
            minutes: sealed.minutes,
        });
    }
    let mut ranked: Vec<(f64, &Forecast)> = FORECASTS.iter().map(worth).collect();
    ranked.sort_by(|a, b| (b.0 / b.1.minutes).total_cmp(&(a.0 / a.1.minutes)));
    let (bits, forecast) = ranked.first().copied()?;
    let (first, second) = leading_pair(standings, &chances);
    let made = findings.check(forecast.check).is_some();
    if bits < WORTH_IT && outcome == VerdictOutcome::NoFaultFound {
        return None;
    }
    // Still open and little to expect of any: more of the one with the widest say is all there is.
    let why = if made {
        WhyNext::MoreOfIt
    } else if chances.iter().copied().fold(0.0, f64::max) > 0.5 || findings.checks.len() > 2 {
        WhyNext::TellsApart(first, second)
    } else {
        WhyNext::NotYetMade
    };
    Some(NextCheck { check: forecast.check, why, expected_bits: bits, minutes: forecast.minutes })
}

fn leading_pair(standings: &[Standing], chances: &[f64]) -> (Hypothesis, Hypothesis) {
    let mut order: Vec<usize> = (0..standings.len()).collect();
    order.sort_by(|a, b| chances[*b].total_cmp(&chances[*a]));
    let name = |place: usize| {
        order
            .get(place)
            .and_then(|index| standings.get(*index))
            .map_or(Hypothesis::None, |standing| standing.hypothesis)
    };
    (name(0), name(1))
}

/// Mutual information of hypothesis and forecast reading, bits (Lindley 1956, Ann. Math. Statist.
/// 27:986), over bins one unit wide with the reading's own blur.
fn information(
    forecast: &Forecast,
    coarse: f64,
    standings: &[Standing],
    shares: &[Vec<f64>],
    chances: &[f64],
) -> f64 {
    let of =
        |(standing, shares): (&Standing, &Vec<f64>)| histogram(forecast, coarse, standing, shares);
    let tables: Vec<[f64; BINS]> = standings.iter().zip(shares).map(of).collect();
    let mut bits = 0.0;
    for bin in 0..BINS {
        let total: f64 = tables.iter().zip(chances).map(|(t, chance)| t[bin] * chance).sum();
        for (table, chance) in tables.iter().zip(chances) {
            if table[bin] > 1e-12 && *chance > 1e-12 && total > 0.0 {
                bits += chance * table[bin] * (table[bin] / total).log2();
            }
        }
    }
    bits.max(0.0)
}

fn histogram(forecast: &Forecast, coarse: f64, standing: &Standing, shares: &[f64]) -> [f64; BINS] {
    let mut table = [0.0; BINS];
    for (share, car) in shares.iter().zip(standing.cars.iter()).step_by(3) {
        let place =
            ((forecast.reading)(car, coarse) + BINS as f64 / 2.0).clamp(0.0, BINS as f64 - 1.0);
        let (low, rest) = (place.floor(), place.fract());
        let low = low as usize;
        table[low] += share * (1.0 - rest);
        table[(low + 1).min(BINS - 1)] += share * rest;
    }
    let total: f64 = table.iter().sum();
    if total > 0.0 {
        table.iter_mut().for_each(|entry| *entry /= total);
    }
    table
}
