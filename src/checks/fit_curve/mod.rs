//! What a check fitted to the readings, as curves that can be laid over them.

use std::collections::BTreeMap;

use super::examination::{self, Examination};
use super::examine::{FORGETS, WORD};
use super::recovery::{self, Recovery};
use super::scene::Scene;
use super::{sealed_leak, shut_flow};
use crate::analysis::drift_regression::DriftFit;
use crate::evidence::{Check, MeasureName};
use crate::recording::{Action, Recording};
use crate::units::{Estimate, Instant};

/// An unbroken stretch of what a fit makes of the readings.
#[derive(Clone, Debug, PartialEq)]
pub struct FitCurve {
    /// The number that the fit gave.
    pub measure: MeasureName,
    /// Tank pressure, Pa, as fitted; the bounds are the curves that the number's own bounds make.
    pub points: Vec<(Instant, Estimate)>,
}

/// Places on a return, in time constants after its start: eight to each.
const PLACES: u32 = 64;
const PLACE: f64 = 0.125;

/// The curves of every check that a recording allows, each from the fit that gave the check's number.
/// A part replaced in the middle splits the visit as it does for the checks.
pub fn fit_curves(recording: &Recording) -> BTreeMap<Check, Vec<FitCurve>> {
    let Some((first, last)) = recording.span() else { return BTreeMap::new() };
    let last = Instant::from_micros(last.micros().saturating_add(1));
    let scene = match recording.last_action(Action::PartReplaced) {
        Some(at) => Scene::new(recording, first, at - WORD)
            .or_else(|| Scene::new(recording, at + FORGETS, last)),
        None => Scene::new(recording, first, last),
    };
    let Some(examination) = scene.map(Examination::new) else { return BTreeMap::new() };
    let follow = examination
        .follow()
        .and_then(|_| shut_flow::regress(&examination.scene, &examination.still, examination.lag));
    let idle = shut_flow::regress(&examination.scene, &examination.before_purge(), examination.lag);
    let shut = |found: Option<(shut_flow::ShutFlow, Regressed)>, measure| {
        found.map(|(flow, fitted)| fitted.curves(measure, 2, flow.effect)).unwrap_or_default()
    };
    let curves = [
        (Check::RestZero, at_rest(&examination)),
        (Check::IdleZero, shut(idle, MeasureName::IdleChange)),
        (Check::UnplugRecovery, returns(&examination)),
        (Check::ThrottleFollow, shut(follow, MeasureName::VacuumWithPurgeShut)),
        (Check::SealedHold, sealed(&examination)),
    ];
    curves.into_iter().filter(|(_, curves)| !curves.is_empty()).collect()
}

/// A regression with what it was made of.
#[derive(Clone, Debug)]
pub(super) struct Regressed {
    /// Times, s.
    pub(super) times: Vec<f64>,
    /// What was explained, Pa.
    pub(super) data: Vec<f64>,
    /// By what.
    pub(super) columns: Vec<Vec<f64>>,
    /// How.
    pub(super) fit: DriftFit,
    /// What had been taken off the pressure beforehand, Pa; empty for nothing.
    pub(super) taken_off: Vec<f64>,
    /// Standard error that beliefs about the other columns put on the first coefficient.
    pub(super) believed: f64,
}

impl Regressed {
    /// The fitted pressure with a baseline that walks, in pieces; the bounds are the same with the
    /// coefficient of `column` at either end of `estimate`, turned about the column's mean.
    fn curves(&self, measure: MeasureName, column: usize, estimate: Estimate) -> Vec<FitCurve> {
        let Some(varied) = self.columns.get(column) else { return Vec::new() };
        let mean = varied.iter().sum::<f64>() / varied.len().max(1) as f64;
        let explained: Vec<f64> = (0..self.times.len())
            .map(|i| self.columns.iter().zip(&self.fit.coefficients).map(|(x, c)| x[i] * c).sum())
            .collect();
        let rest: Vec<f64> = self.data.iter().zip(&explained).map(|(y, x)| y - x).collect();
        let baseline = baseline(&self.times, &rest, &self.fit);
        let points = (0..self.times.len()).map(|i| {
            let value =
                explained[i] + baseline[i] + self.taken_off.get(i).copied().unwrap_or_default();
            let at = |bound: f64| value + (bound - estimate.value) * (varied[i] - mean);
            let (a, b) = (at(estimate.low), at(estimate.high));
            (self.times[i], Estimate { value, low: a.min(b), high: a.max(b) })
        });
        pieces(points.collect(), measure)
    }
}

/// The wandering baseline that a regression allowed for, given what it left unexplained. A disturbance
/// that forgets is noise about the level; one that walks carries the level with it: the forward
/// filter of the regression itself, then Rauch, Tung and Striebel's backward pass (1965, AIAA J. 3:1445).
fn baseline(times: &[f64], rest: &[f64], fit: &DriftFit) -> Vec<f64> {
    if fit.rate > 0.0 {
        return vec![0.0; rest.len()];
    }
    let ratio = if fit.noise > 0.0 { (fit.wander / fit.noise).powi(2) } else { 0.0 };
    let mut filtered: Vec<(f64, f64)> = Vec::with_capacity(rest.len());
    let mut ahead: Vec<(f64, f64)> = Vec::with_capacity(rest.len());
    let (mut state, mut variance) = (0.0, 0.0);
    let mut previous = times.first().copied().unwrap_or(0.0);
    for (&time, &value) in times.iter().zip(rest) {
        let step = (time - previous).max(0.0);
        previous = time;
        variance += ratio * step;
        ahead.push((state, variance));
        let gain = variance / (variance + 1.0);
        state += gain * (value - state);
        variance *= 1.0 - gain;
        filtered.push((state, variance));
    }
    let mut smooth: Vec<f64> = filtered.iter().map(|it| it.0).collect();
    for i in (1..smooth.len()).rev() {
        let (expected, spread) = ahead[i];
        if spread > 0.0 {
            let gain = filtered[i - 1].1 / spread;
            smooth[i - 1] += gain * (smooth[i] - expected);
        }
    }
    smooth
}

/// Points in pieces, broken where readings were left out: a line across would claim what was not
/// fitted.
fn pieces(points: Vec<(f64, Estimate)>, measure: MeasureName) -> Vec<FitCurve> {
    let mut apart: Vec<f64> = points.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    apart.sort_by(f64::total_cmp);
    let longest = (apart.get(apart.len() / 2).copied().unwrap_or(1.0) * 8.0).max(1.0);
    points
        .chunk_by(|a, b| b.0 - a.0 <= longest)
        .filter(|piece| piece.len() > 1)
        .map(|piece| FitCurve { measure, points: piece.iter().map(instant).collect() })
        .collect()
}

fn instant((at, estimate): &(f64, Estimate)) -> (Instant, Estimate) {
    (Instant::from_seconds(*at), *estimate)
}

/// The level at rest, where the engine stood and the vent was open.
fn at_rest(examination: &Examination) -> Vec<FitCurve> {
    let scene = &examination.scene;
    let Some(rest) = examination.rest.map(|rest| rest.widened(scene.zero_doubt)) else {
        return Vec::new();
    };
    let still = scene.select(|i| !scene.running[i] && scene.plain[i]);
    still
        .chunk_by(|a, b| *b == a + 1)
        .filter(|run| run.len() > 1)
        .map(|run| {
            let ends = [run[0], run[run.len() - 1]];
            let points = ends.map(|i| instant(&(scene.times[i], rest))).to_vec();
            FitCurve { measure: MeasureName::RestPressure, points }
        })
        .collect()
}

/// Every return of the pressure with the time constant that all of them share.
fn returns(examination: &Examination) -> Vec<FitCurve> {
    let Some(shared) = examination.recovery else { return Vec::new() };
    let each = examination.recoveries.iter();
    each.map(|it| exponential(it, shared, MeasureName::RecoveryTime)).collect()
}

/// The delayed exponential of a return: flat up to its start, then from the level before towards the
/// level after.
fn exponential(fitted: &Recovery, shared: Estimate, measure: MeasureName) -> FitCurve {
    let (from, until) = fitted.window;
    let level = |at: f64, time_constant: f64| {
        let since = at - fitted.start;
        // A bound of zero is a step.
        let left = if since > 0.0 { (-since / time_constant).exp() } else { 1.0 };
        fitted.after + (fitted.before - fitted.after) * left
    };
    let places = (0..=PLACES).map(|place| fitted.start + f64::from(place) * PLACE * shared.value);
    let times = std::iter::once(from)
        .chain(places.filter(|at| *at > from && *at < until))
        .chain(std::iter::once(until));
    let points = times.map(|at| {
        let (a, b) = (level(at, shared.low), level(at, shared.high));
        let value = level(at, shared.value);
        instant(&(at, Estimate { value, low: a.min(b), high: a.max(b) }))
    });
    FitCurve { measure, points: points.collect() }
}

/// Every hold of a sealed vacuum, and its return once the vent was opened.
fn sealed(examination: &Examination) -> Vec<FitCurve> {
    let scene = &examination.scene;
    let mut curves = Vec::new();
    for held in sealed_leak::each_hold(examination) {
        if let Some(fitted) = held.decay {
            let error = fitted.fit.standard_error(0);
            let rate = Estimate::from_standard_error(fitted.fit.coefficients[0], error);
            curves.extend(fitted.curves(MeasureName::SealedDecay, 0, rate));
        } else if let Some(pull) = held.pull.filter(|_| held.is_pulled()) {
            curves.extend(straight(scene, &held.hold, pull));
        }
    }
    let vented = examination::vented(scene);
    if let Some(shared) = recovery::vented(&vented) {
        curves.extend(vented.iter().map(|it| exponential(it, shared, MeasureName::VentedTime)));
    }
    curves
}

/// The straight line of a valve that goes on pulling, through the middle of the readings.
fn straight(scene: &Scene, hold: &[usize], slope: Estimate) -> Vec<FitCurve> {
    let used: Vec<usize> = hold.iter().copied().filter(|&i| scene.running[i]).collect();
    let count = used.len().max(1) as f64;
    let middle = used.iter().map(|&i| scene.times[i]).sum::<f64>() / count;
    let level = used.iter().map(|&i| scene.pressure[i]).sum::<f64>() / count;
    let points = used.iter().map(|&i| {
        let at = |slope: f64| level + slope * (scene.times[i] - middle);
        let (a, b) = (at(slope.low), at(slope.high));
        (scene.times[i], Estimate { value: at(slope.value), low: a.min(b), high: a.max(b) })
    });
    pieces(points.collect(), MeasureName::SealedPull)
}

#[cfg(test)]
mod tests;
