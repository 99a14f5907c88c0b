//! What sealing and opening the vent tell besides a leak: how fast the vent path alone is, and
//! whether the reading follows the tank at all.

use super::examination::Examination;
use super::sealed_hold::{USUAL_DEAD_BAND, WORD};
use super::shut_flow::rounding_error;
use super::spans::Span;
use crate::units::Estimate;

/// Vacuum drawn in the sealed tank that is deep enough to time, Pa and steps of the reading.
const DRAWN: f64 = 300.0;
const DRAWN_STEPS: f64 = 8.0;
/// Between these shares of the way down the fall is timed: before, the hand may still be at the vent;
/// after, the vacuum slows the purge itself.
const TIMED: (f64, f64) = (0.15, 0.75);
/// Parts in which the way is looked at, and how much quicker than the whole one of them is where the purge
/// ended on the way.
const PARTS: f64 = 3.0;
const ENDED: f64 = 2.5;
/// Standard error, in the logarithm, of taking vent and valve for straight lines.
const MODEL_LOG: f64 = 0.12;

/// Readings of this long before the vent is opened, and after the tank came back, are averaged, s.
const AVERAGED: f64 = 5.0;
/// A sealed change tells something once it is this many times its own error.
const CLEAR: f64 = 4.0;

/// Time constant, s, of the vapour space against the open vent: the vacuum that purge holds against
/// the open vent, over the speed at which the same purge draws the sealed tank down. Both come from
/// `C dp/dt = -q` and `p = -R q`, so that flow and volume drop out and `R C` is left; a sensor that
/// lags reads the same slope a little later. `None` where purge draws no clear vacuum.
pub(super) fn vent_time(examination: &Examination, sealed: &[usize]) -> Option<Estimate> {
    let gain = examination.purge().filter(|gain| gain.vacuum.high < 0.0)?;
    let (full, reading) = draw(examination, sealed)?;
    let value = -gain.vacuum.value / full;
    let error = (gain.vacuum.standard_error() / gain.vacuum.value).hypot(reading).hypot(MODEL_LOG);
    Some(Estimate::within_factor(value, (1.96 * error).exp()))
}

/// Speed, Pa/s, at which full purge would draw the sealed tank down.
pub(super) fn full_draw(examination: &Examination, sealed: &[usize]) -> Option<Estimate> {
    let (full, reading) = draw(examination, sealed)?;
    Some(Estimate::from_standard_error(full, full * reading.hypot(MODEL_LOG)))
}

/// The same with the error, as a share, that the readings put on it.
fn draw(examination: &Examination, sealed: &[usize]) -> Option<(f64, f64)> {
    let scene = &examination.scene;
    let dead_band = examination.purge().map_or(USUAL_DEAD_BAND, |gain| gain.dead_band);
    let purging: Vec<usize> =
        sealed.iter().copied().filter(|&i| !scene.shut[i] && scene.purge[i] > 0.05).collect();
    let pressures = || purging.iter().map(|&i| scene.pressure[i]);
    let (highest, lowest) =
        (pressures().fold(f64::NEG_INFINITY, f64::max), pressures().fold(f64::INFINITY, f64::min));
    let range = highest - lowest;
    if range.is_nan() || range < DRAWN.max(DRAWN_STEPS * scene.step) {
        return None;
    }
    let between = |from: f64, to: f64| {
        let (place, begin) = crossing(examination, &purging, highest - from * range)?;
        let (last, end) = crossing(examination, &purging, highest - to * range)?;
        let opened = purging
            .get(place..=last)?
            .iter()
            .map(|&i| ((scene.purge[i] - dead_band) / (1.0 - dead_band)).max(0.0));
        let opened = opened.sum::<f64>() / (last + 1 - place) as f64;
        (end > begin && opened > 0.0).then(|| (to - from) * range / (end - begin) / opened)
    };
    let whole = between(TIMED.0, TIMED.1)?;
    // Where the fall all but ends on the way, purge did, whatever command is still reported.
    let part = (TIMED.1 - TIMED.0) / PARTS;
    let quickest = (0..PARTS as u32)
        .filter_map(|place| {
            let from = TIMED.0 + f64::from(place) * part;
            between(from, from + part)
        })
        .fold(whole, f64::max);
    let full = if quickest > ENDED * whole { quickest } else { whole };
    let timed = (TIMED.1 - TIMED.0) * range;
    let reading = scene.noise.max(scene.noise_floor()) * std::f64::consts::SQRT_2 / timed;
    Some((full, reading))
}

/// Where and when the reading first falls below `level`, in a straight line between two readings.
fn crossing(examination: &Examination, purging: &[usize], level: f64) -> Option<(usize, f64)> {
    let scene = &examination.scene;
    let place = purging.iter().position(|&i| scene.pressure[i] < level)?;
    let i = *purging.get(place)?;
    let before = *purging.get(place.checked_sub(1)?)?;
    let share = (scene.pressure[before] - level) / (scene.pressure[before] - scene.pressure[i]);
    let time = scene.times[before] + share * (scene.times[i] - scene.times[before]);
    Some((place, time))
}

/// Share, in per cent, of what the sealed reading had moved that it gave back once the vent was open:
/// all of it where the reading is the tank's, nothing where it wanders by itself. `None` where the
/// sealed reading had hardly moved.
pub(super) fn given_back(
    examination: &Examination,
    seal: Span,
    rest: Estimate,
) -> Option<Estimate> {
    let scene = &examination.scene;
    let lag = examination.vented.or(examination.recovery).map_or(0.6, |tau| tau.value).min(6.0);
    let next = |spans: &[Span]| {
        spans.iter().map(|span| span.0).filter(|from| *from > seal.1).fold(f64::INFINITY, f64::min)
    };
    let ends = next(&scene.seals).min(next(&scene.caps));
    let from = seal.1 + WORD + 3.0 * lag;
    let mean = |from: f64, to: f64| {
        let chosen = scene.select(|i| {
            scene.times[i] >= from && scene.times[i] < to && (scene.shut[i] || scene.unplugged[i])
        });
        (chosen.len() >= 3)
            .then(|| chosen.iter().map(|&i| scene.pressure[i]).sum::<f64>() / chosen.len() as f64)
    };
    let last = mean((seal.1 - WORD - AVERAGED).max(seal.0), seal.1 - WORD)?;
    let after = mean(from, (from + AVERAGED).min(ends))?;
    let noise = scene.noise.max(scene.noise_floor());
    // Neighbouring readings share slow movement.
    let single = (0.4 * noise).hypot(rounding_error(scene.noise, scene.step));
    let error = rest.standard_error().hypot(single);
    let moved = last - rest.value;
    if moved.abs() < CLEAR * error.hypot(single) {
        return None;
    }
    let value = (last - after) / moved;
    let spread = error.hypot(single) * value.abs().max(1.0) / moved.abs();
    Some(Estimate::from_standard_error(100.0 * value, 100.0 * spread))
}
