//! How much room for vapour there is above the fuel.

use crate::analysis::descriptive::median;
use crate::recording::Recording;
use crate::units::Estimate;
use crate::vehicle::Signal;

/// Tank volume where nobody entered it, L, and its spread as a share: tanks hold 45 to 75 L; and how much
/// more goes into one than its manual says, as a share (common practice, no source).
const TANK: f64 = 60.0;
const TANK_SPREAD: f64 = 0.15;
const BRIM_SPREAD: f64 = 0.04;
/// What stores vapour beside the tank, L: the dome that fuel never fills, some 4 L, and the canister with
/// its lines (common practice, no source).
const LINES: f64 = 8.0;
const LINES_SPREAD: f64 = 2.0;
/// How far a fuel gauge is off, as a share of the tank (common practice, no source).
const GAUGE: f64 = 0.04;

/// Room for vapour, L, with 95 % bounds, where the car tells its fuel level or somebody entered what the
/// tank holds; closest with both.
pub(super) fn told(recording: &Recording) -> Option<Estimate> {
    let series = recording.series(Signal::FuelLevel);
    let Some(level) = series.and_then(|series| median(series.values())) else {
        return recording.tank_litre().map(half_full);
    };
    let empty = 1.0 - level.clamp(0.0, 95.0) / 100.0;
    let entered = recording.tank_litre().map(|litre| (litre, BRIM_SPREAD));
    let (tank, spread) = entered.unwrap_or((TANK, TANK_SPREAD));
    let litres = tank * empty + LINES;
    let errors = (tank * empty * spread).hypot(tank * GAUGE).hypot(LINES_SPREAD);
    Some(within(litres, errors / litres))
}

/// The same where nothing is known.
pub(super) fn usual() -> Estimate {
    half_full(TANK)
}

/// Without a level a fifth to four fifths of the tank may be fuel.
fn half_full(tank: f64) -> Estimate {
    within(tank / 2.0 + LINES, 0.3)
}

fn within(litres: f64, spread: f64) -> Estimate {
    Estimate::within_factor(litres, (1.96 * spread).exp())
}

#[cfg(test)]
mod tests {
    use super::{told, usual};
    use crate::recording::Recording;
    use crate::units::Instant;
    use crate::vehicle::Signal;

    fn at_level(percent: f64, tank: Option<f64>) -> Recording {
        let mut recording = Recording::default();
        recording.push(Signal::FuelLevel, Instant::ZERO, percent);
        recording.set_tank_litre(tank);
        recording
    }

    /// By hand: 50 L, a fifth full, leave 40 L, and 8 L more in dome, canister and lines.
    #[test]
    fn a_tank_size_tells_the_space_and_tells_it_closer() {
        let known = told(&at_level(20.0, Some(50.0))).unwrap();
        assert!((known.value - 48.0).abs() < 1e-9, "{known:?}");
        let unknown = told(&at_level(20.0, None)).unwrap();
        assert!(unknown.low < 44.0 && unknown.high > 68.0, "holds 45 to 75 L tanks: {unknown:?}");
        let width = |it: crate::units::Estimate| it.high / it.low;
        assert!(width(known) < width(unknown).sqrt(), "{known:?} {unknown:?}");
    }

    #[test]
    fn without_a_level_anything_from_a_fifth_to_four_fifths_may_be_fuel() {
        let mut recording = Recording::default();
        assert_eq!(told(&recording), None);
        let space = usual();
        assert!(space.low < 0.2 * 60.0 + 10.0 && space.high > 0.8 * 60.0 + 8.0, "{space:?}");
        recording.set_tank_litre(Some(90.0));
        assert!((told(&recording).unwrap().value - 53.0).abs() < 1e-9);
    }
}
