//! Engine off, cap opened: the reading with the tank at atmospheric, and how fast it gets there.

use super::examination::Examination;
use super::outcome::{instants, measure};
use super::recovery::{self, Recovery};
use super::rest_zero::TOLERANCE;
use super::scene::Scene;
use super::shut_flow::rounding_error;
use super::spans::Span;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use crate::units::Estimate;
use crate::vehicle::Signal;

/// After this long with the cap off the tank stands at atmospheric, whatever the vent path, s.
const SETTLED: f64 = 4.0;
/// A time constant above this is the sensor's own: an open cap lets the tank breathe at once.
const QUICK: f64 = 1.5;

pub(super) fn examine(examination: &Examination) -> Option<CheckResult> {
    let scene = &examination.scene;
    let (&(first, _), &(_, last)) = (scene.caps.first()?, scene.caps.last()?);
    let window = instants(first - 3.0, last);
    let mut measures = Vec::new();
    let falls: Vec<Recovery> = scene.caps.iter().filter_map(|cap| fall(scene, *cap)).collect();
    let deepest = falls.iter().map(|fitted| fitted.before - fitted.after).fold(0.0, f64::min);
    let fall = recovery::combined(&falls);
    // What a slow sensor still shows of the vacuum is not the tank's pressure.
    let settled = |(from, to): Span| {
        SETTLED.max(fall.map_or(0.0, |tau| 5.0 * tau.value)).min(0.7 * (to - from))
    };
    let late: Vec<f64> = scene
        .caps
        .iter()
        .flat_map(|&cap| {
            let from = cap.0 + settled(cap);
            scene.select(|i| scene.times[i] > from && scene.times[i] < cap.1)
        })
        .map(|i| scene.pressure[i])
        .collect();
    if late.len() < 4 {
        return Some(CheckResult {
            check: Check::CapOffZero,
            outcome: Outcome::Inconclusive,
            reason: Reason::TooFewSamples(Signal::TankPressure),
            measures,
            window,
        });
    }
    let count = late.len() as f64;
    let mean = late.iter().sum::<f64>() / count;
    let variance = late.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (count - 1.0);
    // Neighbouring readings share slow movement: a fifth of them is believed independent.
    let error = (variance / (count / 5.0).max(2.0)
        + rounding_error(variance.sqrt(), scene.step).powi(2))
    .sqrt();
    // A return that is not over yet leaves its rest in the mean.
    let shortest = scene.caps.iter().map(|cap| settled(*cap)).fold(f64::INFINITY, f64::min);
    let rest = fall.map_or(0.0, |tau| (-shortest / tau.value.max(0.05)).exp());
    let zero =
        Estimate::from_standard_error(mean, error.hypot(rest * deepest)).widened(scene.zero_doubt);
    measures.push(measure(MeasureName::CapOffPressure, zero));
    measures.extend(fall.map(|tau| measure(MeasureName::CapOffTime, tau)));
    let (outcome, reason) = if zero.low > TOLERANCE || zero.high < -TOLERANCE {
        (Outcome::Fail, Reason::ReadsOffAtmospheric)
    } else if fall.is_some_and(|tau| tau.low > QUICK) {
        (Outcome::Fail, Reason::ReturnsSlowly)
    } else if scene.zero_doubt > 0.0 {
        (Outcome::Inconclusive, Reason::ZeroTaken)
    } else if zero.low > -TOLERANCE && zero.high < TOLERANCE {
        (Outcome::Pass, Reason::ReadsAtmospheric)
    } else {
        (Outcome::Inconclusive, Reason::BetweenLimits)
    };
    Some(CheckResult { check: Check::CapOffZero, outcome, reason, measures, window })
}

/// The return of the reading once the cap came off at `from`.
fn fall(scene: &Scene, (from, to): Span) -> Option<Recovery> {
    let near = scene.select(|i| scene.times[i] >= from - 3.0 && scene.times[i] < to);
    let times: Vec<f64> = near.iter().map(|&i| scene.times[i]).collect();
    let pressure: Vec<f64> = near.iter().map(|&i| scene.pressure[i]).collect();
    let noise = scene.noise.max(scene.noise_floor());
    let latest = (from + 1.5).min(to - 1.0);
    if latest <= from - 1.5 {
        return None;
    }
    // What was still on its way when the cap came off was let go by something else.
    recovery::fit(&times, &pressure, from - 1.5, latest, noise, scene.step).filter(|fitted| {
        let before = scene.select(|i| scene.times[i] >= from - 3.0 && scene.times[i] < from - 1.5);
        let values = || before.iter().map(|&i| scene.pressure[i]);
        let range = values().fold(f64::MIN, f64::max) - values().fold(f64::MAX, f64::min);
        range < (0.3 * (fitted.after - fitted.before)).max(4.0 * noise)
    })
}
