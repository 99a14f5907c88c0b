//! What all checks share about one scene: which samples are still, how fast the tank answers, what
//! a shut valve does, what purge does.

use std::cell::OnceCell;

use super::purge_gain::{self, PurgeGain};
use super::recovery::{self, Recovery};
use super::scene::Scene;
use super::shut_flow::{self, ShutFlow};
use super::spans::{Span, marks};
use crate::analysis::descriptive;
use crate::units::Estimate;

/// Time constant from flow to reading assumed until one was measured, s: middle of what a free vent
/// path shows (common practice, no source).
const USUAL_LAG: f64 = 0.6;
/// People say what they did a little early or late; samples this close to the word are left out, s.
const WORD: f64 = 1.6;

/// A vacuum from which a return is timed at an opening vent, Pa: no reading gets there by itself.
const DEEP: f64 = 300.0;
/// Share of a deep vacuum that the model of its return may miss at any moment.
const VENTED_MODEL: f64 = 0.04;

/// The shared quantities of one scene. The dear ones are made when they are first asked for: while a
/// check runs, every two seconds, most of them are not.
#[derive(Clone, Debug)]
pub(super) struct Examination {
    /// The samples.
    pub(super) scene: Scene,
    /// One fit a cycle of unplugging.
    pub(super) recoveries: Vec<Recovery>,
    /// The time constant they share.
    pub(super) recovery: Option<Estimate>,
    /// The time constant of the returns after a sealed vent was opened.
    pub(super) vented: Option<Estimate>,
    /// Samples with nothing but a shut valve's leak acting: shut, settled, vent open, standing.
    pub(super) still: Vec<usize>,
    idle: OnceCell<Option<ShutFlow>>,
    follow: OnceCell<Option<ShutFlow>>,
    purge: OnceCell<Option<PurgeGain>>,
    /// From flow to reading, s.
    pub(super) lag: f64,
    settle: Settle,
    near_opening: Vec<bool>,
    /// Reading with the engine off and the vent open: mean with bounds.
    pub(super) rest: Option<Estimate>,
}

impl Examination {
    pub(super) fn new(scene: Scene) -> Self {
        let recoveries = recoveries(&scene);
        let recovery = recovery::combined(&recoveries);
        let vented = recovery::vented(&vented(&scene));
        let lag = recovery.map_or(USUAL_LAG, |tau| tau.value.clamp(0.05, 20.0));
        let settle = Settle::new(&scene, recovery.map_or(lag, |tau| tau.high.min(2.0 * tau.value)));
        let still = still(&scene, settle);
        let near_opening = near(&scene, &scene.openings, 1.0, 4.0);
        let rest = rest_level(&scene);
        Self {
            scene,
            recoveries,
            recovery,
            vented,
            still,
            idle: OnceCell::new(),
            follow: OnceCell::new(),
            purge: OnceCell::new(),
            lag,
            settle,
            near_opening,
            rest,
        }
    }

    /// What the shut valve does from rest to idle, before purge was ever commanded.
    pub(super) fn idle(&self) -> Option<ShutFlow> {
        *self.idle.get_or_init(|| shut_flow::fit(&self.scene, &self.before_purge(), self.lag))
    }

    /// Still samples before purge was ever commanded.
    pub(super) fn before_purge(&self) -> Vec<usize> {
        let scene = &self.scene;
        let first_purge = (0..scene.times.len())
            .find(|&i| !scene.shut[i] || scene.unplugged[i])
            .map_or(f64::INFINITY, |i| scene.times[i]);
        let chosen = |i: &usize| scene.times[*i] < first_purge - WORD && !self.near_opening[*i];
        self.still.iter().copied().filter(chosen).collect()
    }

    /// What the shut valve does over every still sample, throttle openings included.
    pub(super) fn follow(&self) -> Option<ShutFlow> {
        *self.follow.get_or_init(|| {
            let scene = &self.scene;
            let flow = scene.lagged_flow(self.lag);
            let running = || self.still.iter().filter(|&&i| scene.running[i]).map(|&i| flow[i]);
            let contrast = running().fold(f64::MIN, f64::max) - running().fold(f64::MAX, f64::min);
            let opened = !scene.openings.is_empty() || contrast > 0.25;
            (opened && contrast > 0.12)
                .then(|| shut_flow::fit(scene, &self.still, self.lag))
                .flatten()
        })
    }

    /// What the shut valve does, by all that tells of it: throttle openings where there were any.
    pub(super) fn shut_valve(&self) -> Option<ShutFlow> {
        self.follow().or_else(|| self.idle())
    }

    /// What purge does.
    pub(super) fn purge(&self) -> Option<PurgeGain> {
        *self.purge.get_or_init(|| {
            purge_gain::fit(
                &self.scene,
                self.recovery.map(|tau| tau.value.clamp(0.05, 20.0)),
                self.settle.after_sealing,
                &self.near_opening,
            )
        })
    }

    /// Tank pressure made by full purge, Pa, if purge answered clearly.
    pub(super) fn full_purge(&self) -> Option<f64> {
        self.purge()
            .filter(|gain| {
                gain.vacuum.high < 0.0 && gain.vacuum.half_width() < 0.5 * gain.vacuum.value.abs()
            })
            .map(|gain| gain.vacuum.value)
    }
}

/// Samples near spans: from `before` ahead of each to `after` behind it.
fn near(scene: &Scene, spans: &[Span], before: f64, after: f64) -> Vec<bool> {
    let widened: Vec<Span> = spans.iter().map(|(a, b)| (a - before, b + after)).collect();
    marks(&scene.times, &widened)
}

/// How long the tank, or a slow sensor, takes to forget what moved it, s.
#[derive(Clone, Copy, Debug)]
pub(super) struct Settle {
    /// After purge with the vent open.
    after_purge: f64,
    /// After the vent was sealed or the cap was off.
    pub(super) after_sealing: f64,
}

impl Settle {
    /// An exponential of this time constant falls from as deep as the pressure went to a third of the
    /// noise.
    fn new(scene: &Scene, time_constant: f64) -> Self {
        let rest = descriptive::median(&scene.pressure).unwrap_or(0.0);
        let depth = |plain: bool| {
            (0..scene.times.len())
                .filter(|&i| scene.plain[i] == plain)
                .map(|i| (scene.pressure[i] - rest).abs())
                .fold(0.0, f64::max)
        };
        let until_quiet =
            |depth: f64| time_constant * (depth / (0.3 * scene.noise.max(1.0))).max(1.0).ln();
        Self {
            after_purge: until_quiet(depth(true)).clamp(1.5, 20.0),
            after_sealing: until_quiet(depth(false)).clamp(1.5, 60.0),
        }
    }
}

/// Samples with nothing but a shut valve's leak acting.
fn still(scene: &Scene, settle: Settle) -> Vec<usize> {
    let count = scene.times.len();
    let mut disturbed_until = f64::NEG_INFINITY;
    let mut keep = Vec::with_capacity(count);
    for (i, &time) in scene.times.iter().enumerate() {
        let settle = match (scene.shut[i], scene.plain[i]) {
            (true, true) => None,
            (false, true) => Some(settle.after_purge),
            (_, false) => Some(settle.after_sealing),
        };
        if let Some(settle) = settle {
            disturbed_until = disturbed_until.max(time + settle + WORD - 0.6);
        }
        keep.push(time > disturbed_until);
    }
    // The other side: flow may have begun a little before the word or the polled command said so.
    let mut disturbed_from = f64::INFINITY;
    for i in (0..count).rev() {
        if !scene.shut[i] || !scene.plain[i] {
            disturbed_from = scene.times[i] - WORD;
        }
        keep[i] &= scene.times[i] < disturbed_from;
    }
    (0..count).filter(|&i| keep[i]).collect()
}

fn recoveries(scene: &Scene) -> Vec<Recovery> {
    let mut found = Vec::new();
    // An unplugging seen in the pressure alone is seen half way through the return.
    let (slack, reach): (f64, f64) = if scene.plugging_inferred { (4.0, 7.5) } else { (2.0, 3.5) };
    let mut previous_end = f64::NEG_INFINITY;
    let mut events = scene.unplugs.clone();
    events.extend(purge_stops(scene));
    let stops = engine_stops(scene);
    events.extend(&stops);
    events.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (from, to) in events {
        let engine_may_stand = stops.contains(&(from, to));
        let opened = scene
            .openings
            .iter()
            .map(|span| span.0)
            .find(|start| *start > from)
            .unwrap_or(f64::INFINITY);
        let end = (to - 0.3).min(from + 25.0).min(opened - 0.3);
        let begin = (from - reach).max(previous_end + 2.0);
        previous_end = to;
        let window = scene.select(|i| {
            let time = scene.times[i];
            let runs = scene.running[i] || engine_may_stand;
            time >= begin && time < end && scene.plain[i] && runs
        });
        let times: Vec<f64> = window.iter().map(|&i| scene.times[i]).collect();
        let pressure: Vec<f64> = window.iter().map(|&i| scene.pressure[i]).collect();
        let latest = (from + slack.min(2.0)).min(end - 0.8);
        let earliest = (from - slack).max(begin + 0.4);
        if latest > earliest {
            let noise = scene.noise.max(scene.noise_floor());
            found.extend(recovery::fit(&times, &pressure, earliest, latest, noise, scene.step));
        }
    }
    found
}

/// Returns from the vacuum of a sealed tank, once its vent is opened: the deepest there are, and so the
/// last to drown in noise and steps.
pub(super) fn vented(scene: &Scene) -> Vec<Recovery> {
    let last = scene.times.last().copied().unwrap_or(0.0);
    let mut found = Vec::new();
    for &(_, opened) in scene.seals.iter().filter(|seal| seal.1 + 2.0 < last) {
        let next = |spans: &[Span]| {
            spans.iter().map(|span| span.0).filter(|from| *from > opened).fold(last, f64::min)
        };
        let end = (opened + 25.0).min(next(&scene.seals)).min(next(&scene.caps));
        let window = scene.select(|i| scene.times[i] >= opened - 4.0 && scene.times[i] < end);
        let times: Vec<f64> = window.iter().map(|&i| scene.times[i]).collect();
        let pressure: Vec<f64> = window.iter().map(|&i| scene.pressure[i]).collect();
        let deep = pressure.iter().copied().fold(0.0, f64::min).abs();
        if deep < DEEP.max(8.0 * scene.step) {
            continue;
        }
        // The one exponential misses some hundredths of a deep vacuum's way back.
        let noise = scene.noise.max(scene.noise_floor()).hypot(VENTED_MODEL * deep);
        found.extend(recovery::fit(
            &times,
            &pressure,
            opened - WORD,
            opened + WORD,
            noise,
            scene.step,
        ));
    }
    found
}

/// When the engine was stopped while it purged: nothing pulls from then on.
fn engine_stops(scene: &Scene) -> Vec<Span> {
    let last = scene.times.last().copied().unwrap_or(0.0);
    let purges = |at: f64| {
        let before = scene.select(|i| scene.times[i] > at - 3.0 && scene.times[i] < at);
        before.iter().any(|&i| scene.purge[i] > 0.06)
            && before.iter().all(|&i| !scene.unplugged[i] && scene.plain[i])
    };
    let next = |from: f64, spans: &[Span]| {
        spans.iter().map(|span| span.0).filter(|start| *start > from).fold(last, f64::min)
    };
    scene
        .runs
        .iter()
        .map(|run| run.1)
        .filter(|at| scene.purge_known && purges(*at))
        .map(|at| {
            (at, next(at, &scene.runs).min(next(at, &scene.caps)).min(next(at, &scene.seals)))
        })
        .filter(|(from, to)| to - from > 3.0)
        .collect()
}

/// When the car itself stopped its purge at once, valve plugged in, and left it shut for a while:
/// the tank returns as it does after unplugging.
fn purge_stops(scene: &Scene) -> Vec<Span> {
    let mut stops = Vec::new();
    let mut from: Option<f64> = None;
    for i in 1..scene.times.len() {
        let shut = scene.purge_known && scene.purge[i] < 0.004 && scene.running[i];
        match from {
            None if shut && scene.purge[i - 1] > 0.06 && !scene.unplugged[i] => {
                from = Some(scene.times[i]);
            }
            Some(start) if !shut || scene.unplugged[i] => {
                stops.push((start, scene.times[i]));
                from = None;
            }
            _ => {}
        }
    }
    let last = scene.times.last().copied().unwrap_or(0.0);
    stops.extend(from.map(|start| (start, last)));
    stops.retain(|(start, end)| end - start > 3.0);
    stops
}

/// Mean reading with the engine off and the system vented, after the tank had time to vent.
pub(super) fn rest_level(scene: &Scene) -> Option<Estimate> {
    let mut settled_from = f64::NEG_INFINITY;
    let mut values = Vec::new();
    let mut taken_at = Vec::new();
    let mut was_running = false;
    for i in 0..scene.times.len() {
        if scene.running[i] || !scene.plain[i] {
            // The engine turns, and a hand is on the cap, before the polled speed and the word say so.
            while taken_at.last().is_some_and(|at| *at > scene.times[i] - WORD) {
                taken_at.pop();
                values.pop();
            }
            was_running |= scene.running[i];
            settled_from = scene.times[i] + if was_running { 8.0 } else { 3.0 };
        } else if scene.times[i] > settled_from {
            values.push(scene.pressure[i]);
            taken_at.push(scene.times[i]);
        }
    }
    if values.len() < 5 {
        return None;
    }
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let variance = values.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / (count - 1.0);
    // First-order serial correlation shrinks the count (Bartlett 1935).
    let lagged: f64 = values.windows(2).map(|p| (p[0] - mean) * (p[1] - mean)).sum();
    let correlation =
        if variance > 0.0 { (lagged / ((count - 1.0) * variance)).clamp(0.0, 0.98) } else { 0.0 };
    let effective = (count * (1.0 - correlation) / (1.0 + correlation)).max(2.0);
    let rounding = shut_flow::rounding_error(variance.sqrt(), scene.step);
    let error = (variance / effective + rounding * rounding).sqrt();
    Some(Estimate::from_standard_error(mean, error))
}
