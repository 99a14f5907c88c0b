//! Vent sealed, vacuum built, valve shut: does the tank hold?

use super::examination::Examination;
use super::outcome::{detection_limit, exact, instants, measure};
use super::scene::{Scene, group_means};
use super::sealed_decay::{self, DecayRate, RELAXATION_SHARE, WARMING, agreed};
use super::sealed_leak::{self, Held};
use super::sealed_movement::SealedMovement;
use super::sealed_vent;
use super::spans::Span;
use super::vapour_space;
use crate::analysis::drift_regression;
use crate::analysis::orifice_flow::density;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use crate::recording::Recording;
use crate::units::Estimate;
use crate::vehicle::Signal;

/// Leaks of this size matter: the smallest class that inspection rules know, 0.5 mm (0.020 in).
const HOLE_THAT_MATTERS: f64 = 0.5;
/// A sound system may pass what a 0.27 mm hole passes (0.20 standard L/min at 4.1 kPa, the
/// allowance of 40 CFR 1066.985 for the test rig itself, Cd 0.7).
const SOUND_HOLE: f64 = 0.30;
/// Vacuum that a hold needs to say anything, Pa.
const LEAST_VACUUM: f64 = 150.0;
/// A sealed vacuum that grows faster than this, with its bounds, is pulled by the engine, Pa/s: fuel
/// that cools moves it less.
pub(super) const PULLING: f64 = 3.0;
/// A sealed pressure that rises no faster than this may still hide a valve that pulls, Pa/s; one that
/// does tells of a hole or of fuel, and is left to them.
pub(super) const SLOW_RISE: f64 = 5.0;
/// Seconds of purge into a sealed tank that tell a flow, and the command that opens nothing yet.
const PURGED_A_WHILE: f64 = 3.0;
pub(super) const USUAL_DEAD_BAND: f64 = 0.06;
/// 95 % bounds of that flow as a factor: vapour space, the fuel's own vapour, the valve's curve.
const DRAWN_FACTOR: f64 = 3.0;
/// Standard error, in the logarithm, of the same from the draw-down as a whole: gas that is drawn off
/// quickly cools, fuel under vacuum gives off vapour (common practice, no source).
const DRAWN_MODEL: f64 = 0.2;
/// Seconds of purge into a sealed tank that must show: at five litres a minute and 40 L of vapour a
/// sound tank falls by 200 Pa/s.
const PURGED: f64 = 8.0;
/// A vacuum that is still half there after this long is lost through no hole that takes it within
/// seconds, s.
const STANDS: f64 = 6.0;
/// Readings at the highest value that make it the sensor's end.
const STANDING: usize = 3;
/// People say what they did a little late, s.
pub(super) const WORD: f64 = 2.0;
/// Discharge coefficient and its 95 % bounds as a factor: 0.6 to 0.8 (Weisbach's figures for air,
/// Encyclopaedia Britannica, 11th ed., Hydraulics).
const DISCHARGE: f64 = 0.7;
const DISCHARGE_FACTOR: f64 = 1.15;

pub(super) fn examine(examination: &Examination, recording: &Recording) -> Option<CheckResult> {
    let scene = &examination.scene;
    let window = instants(holds(scene).first()?.0, holds(scene).last()?.1);
    let rest = examination.rest.map_or(0.0, |rest| rest.value);
    let space = vapour_space::told(recording).unwrap_or_else(vapour_space::usual);
    let mut deepest = f64::INFINITY;
    let mut movement = SealedMovement::default();
    let (mut vent_times, mut shares_back): (Vec<Estimate>, Vec<Estimate>) =
        (Vec::new(), Vec::new());
    let mut rates: Vec<DecayRate> = Vec::new();
    let mut quickest: Option<Estimate> = None;
    let mut purged = 0.0;
    let held: Vec<Held> = sealed_leak::each_hold(examination).collect();
    for Held { span, sealed, decay, .. } in &held {
        let lowest = sealed.iter().map(|&i| scene.pressure[i] - rest).fold(f64::INFINITY, f64::min);
        deepest = deepest.min(lowest);
        movement.add(scene, *span, sealed);
        purged += purge_into(scene, sealed);
        vent_times.extend(sealed_vent::vent_time(examination, sealed));
        shares_back.extend(
            examination.rest.and_then(|it| sealed_vent::given_back(examination, *span, it)),
        );
        if let Some(fitted) = decay {
            rates.push(sealed_decay::rate(fitted));
        } else if let Some(rate) = collapse(scene, sealed, rest) {
            quickest = Some(rate);
        }
    }
    let mut measures = vec![measure(MeasureName::SealedVacuum, exact(deepest.min(0.0)))];
    let quickest_flow =
        || held.iter().filter_map(|it| drawn_flow(scene, &it.sealed, space.value)).reduce(f64::max);
    let flow = match sealed_leak::full_draw(&held) {
        Some(full) => Some(drawn_at(full, space, scene.barometric)),
        None => quickest_flow().map(|flow| Estimate::within_factor(flow, DRAWN_FACTOR)),
    };
    measures.extend(flow.map(|flow| measure(MeasureName::SealedFlow, flow)));
    measures.extend(movement.measures());
    measures.extend(examination.vented.map(|tau| measure(MeasureName::VentedTime, tau)));
    measures.extend(narrowest(&vent_times).map(|tau| measure(MeasureName::VentTime, tau)));
    measures.extend(narrowest(&shares_back).map(|share| measure(MeasureName::GivenBack, share)));
    let finish = |outcome, reason, measures| {
        Some(CheckResult { check: Check::SealedHold, outcome, reason, measures, window })
    };
    if deepest > -LEAST_VACUUM.max(6.0 * scene.noise) {
        let reason =
            if purged < PURGED { Reason::PurgeNeverCommanded } else { Reason::BuildsNoVacuum };
        return finish(Outcome::Inconclusive, reason, measures);
    }
    let pulls: Vec<Estimate> = held.iter().filter_map(|it| it.pull).collect();
    let pull = narrowest(&pulls);
    measures.extend(pull.map(|pull| measure(MeasureName::SealedPull, pull)));
    measures.extend(sealed_leak::measures(&held));
    let leaks = measures
        .iter()
        .find(|it| it.name == MeasureName::SealedLeak)
        .map(|it| sealed_leak::leaks(it.estimate));
    if leaks.unwrap_or_else(|| pull.is_some_and(|pull| pull.high < -PULLING)) {
        return finish(Outcome::Fail, Reason::PullsWhileSealed, measures);
    }
    let Some(rate) = agreed(&rates).or(quickest) else {
        return finish(
            Outcome::Inconclusive,
            Reason::TooFewSamples(Signal::TankPressure),
            measures,
        );
    };
    let error = rate.standard_error();
    // Half the rate is the fall of the vacuum's square root.
    measures.push(measure(MeasureName::SealedDecay, rate.scaled(-0.5)));
    let hole =
        |rate: f64, factor: f64| hole_mm(rate.max(0.0), space.value * factor, scene.barometric);
    let spread = (space.high / space.value).ln().hypot(DISCHARGE_FACTOR.ln()).exp();
    let value = hole(rate.value, 1.0);
    let estimate =
        Estimate { value, low: hole(rate.low, 1.0 / spread), high: hole(rate.high, spread) };
    let limit = hole(detection_limit(error), spread);
    measures.push(measure(MeasureName::SealedHole, estimate));
    measures.push(measure(MeasureName::SealedHoleLimit, exact(limit)));
    let (outcome, reason) = if estimate.low > SOUND_HOLE {
        (Outcome::Fail, Reason::LosesVacuum)
    } else if limit > HOLE_THAT_MATTERS {
        (Outcome::Inconclusive, Reason::LimitTooCoarse)
    } else if estimate.high < HOLE_THAT_MATTERS {
        (Outcome::Pass, Reason::Holds)
    } else {
        (Outcome::Inconclusive, Reason::BetweenLimits)
    };
    finish(outcome, reason, measures)
}

/// When the tank was sealed for long enough to tell something: an opened cap ends a hold as an opened
/// vent does.
pub(super) fn holds(scene: &Scene) -> Vec<Span> {
    let shut = scene.seals.iter().map(|seal| {
        let opened = scene.caps.iter().map(|cap| cap.0).filter(|at| *at > seal.0);
        (seal.0, opened.fold(seal.1, f64::min))
    });
    shut.filter(|span| span.1 - span.0 > 6.0).collect()
}

/// Of several holds the one that tells most.
pub(super) fn narrowest(estimates: &[Estimate]) -> Option<Estimate> {
    estimates.iter().copied().min_by(|a, b| a.half_width().total_cmp(&b.half_width()))
}

/// Speed at which the sealed pressure drifts with the valve shut and the engine running, Pa/s. Fuel
/// that cools, and gas that warms again, are within its bounds. `None` without an engine that pulls,
/// or where the sensor's range ends.
pub(super) fn pull(scene: &Scene, hold: &[usize], rest: f64) -> Option<Estimate> {
    let lowest = hold.iter().map(|&i| scene.pressure[i]).fold(f64::INFINITY, f64::min);
    // A sensor at the end of its range stands still: what follows is cut off.
    let at_end = hold.iter().filter(|&&i| scene.pressure[i] <= lowest + 1e-9).count();
    let end = hold.iter().position(|&i| scene.pressure[i] <= lowest + 1e-9)?;
    let used: Vec<usize> = if at_end > 20 { hold[..end].to_vec() } else { hold.to_vec() };
    // The hand may have been later than the word: the first seconds may still be purge.
    let from = used.first().map_or(0.0, |&i| scene.times[i] + WORD);
    let used: Vec<usize> =
        used.into_iter().filter(|&i| scene.running[i] && scene.times[i] > from).collect();
    let (first, last) = (*used.first()?, *used.last()?);
    let taken = scene.times[last] - scene.times[first];
    if used.len() < 6 || taken < 4.0 {
        return None;
    }
    let group = used.len().div_ceil(600);
    let times = group_means(&scene.times, &used, group);
    let pressure = group_means(&scene.pressure, &used, group);
    let start = *times.first()?;
    let elapsed: Vec<f64> = times.iter().map(|time| time - start).collect();
    let ones = vec![1.0; times.len()];
    let fit = drift_regression::fit(
        &times,
        &pressure,
        &[&elapsed, &ones],
        &[0.0, 0.0],
        scene.noise_floor() / (group as f64).sqrt(),
    )?;
    let returned = 0.5 * RELAXATION_SHARE * (rest - lowest).max(0.0) / taken;
    let error = fit.standard_error(0).hypot(returned).hypot(0.5 * WARMING);
    Some(Estimate::from_standard_error(fit.coefficients[0], error))
}

/// Whether the vacuum grew while the valve was shut. Something pulls, and where it stops may be the
/// tank's own relief valve: what stands there is no measure of a hole.
pub(super) fn deepened(scene: &Scene, hold: &[usize]) -> bool {
    let third = hold.len() / 3;
    if third < 2 {
        return false;
    }
    let level =
        |part: &[usize]| part.iter().map(|&i| scene.pressure[i]).sum::<f64>() / part.len() as f64;
    let (first, last) = (level(&hold[..third.min(5)]), level(&hold[hold.len() - third..]));
    first - last > (4.0 * scene.noise).max(2.0 * scene.step).max(0.03 * last.abs())
}

/// Seconds for which the car purged into the sealed tank.
fn purge_into(scene: &Scene, sealed: &[usize]) -> f64 {
    sealed
        .windows(2)
        .filter(|pair| !scene.shut[pair[0]] && scene.purge[pair[0]] > 0.08)
        .map(|pair| (scene.times[pair[1]] - scene.times[pair[0]]).min(1.0))
        .sum()
}

/// Flow, L/min, that full purge would draw, from the quickest fall of the sealed pressure while the car
/// purged: `V dp/dt / p`, over what the command opens. `None` with too little purge to tell.
fn drawn_flow(scene: &Scene, sealed: &[usize], litres: f64) -> Option<f64> {
    let purging: Vec<usize> =
        sealed.iter().copied().filter(|&i| !scene.shut[i] && scene.purge[i] > 0.12).collect();
    let (first, last) = (*purging.first()?, *purging.last()?);
    if scene.times[last] - scene.times[first] < PURGED_A_WHILE {
        return None;
    }
    let opened = purging.iter().map(|&i| scene.purge[i] - USUAL_DEAD_BAND).sum::<f64>()
        / purging.len() as f64;
    // The quickest fall over two seconds at least: purge may have begun late, and a deep vacuum slows
    // it down again.
    let mut quickest: f64 = 0.0;
    for (place, &i) in purging.iter().enumerate() {
        let later = purging[place..].iter().find(|&&j| scene.times[j] - scene.times[i] >= 2.0);
        if let Some(&j) = later {
            let fall = scene.pressure[i] - scene.pressure[j];
            // What noise and rounding do by themselves is no fall.
            let doubt = (3.0 * scene.noise).max(scene.step);
            let least = (fall - doubt).max(0.0) / (scene.times[j] - scene.times[i]);
            quickest = quickest.max(least);
        }
    }
    Some(quickest * litres / (scene.barometric * 1000.0) * 60.0 / opened.max(0.05))
}

/// Flow, L/min, that draws this space down at this speed, Pa/s.
fn drawn_at(full: Estimate, space: Estimate, barometric: f64) -> Estimate {
    let flow = full.value * space.value / (barometric * 1000.0) * 60.0;
    let draw = full.standard_error() / full.value;
    let error = draw.hypot(space.log_standard_error()).hypot(DRAWN_MODEL);
    Estimate::within_factor(flow, (1.96 * error).exp())
}

/// Samples with the valve shut, from the moment when the lag has died away and a vacuum stands.
pub(super) fn hold_samples(examination: &Examination, sealed: &[usize], rest: f64) -> Vec<usize> {
    let scene: &Scene = &examination.scene;
    let lag = examination.recovery.map_or(0.6, |tau| tau.value).min(8.0);
    let mut flowing_until = f64::NEG_INFINITY;
    let floor = vacuum_floor(scene);
    let mut hold = Vec::new();
    for &i in sealed {
        if !scene.shut[i] {
            flowing_until = scene.times[i] + (3.0 * lag).clamp(0.5, 20.0);
            hold.clear();
        } else if scene.times[i] > flowing_until
            && (!hold.is_empty() || rest - scene.pressure[i] > floor)
        {
            hold.push(i);
        }
    }
    // Once the vacuum is gone for good, what follows tells nothing about a hole, unless it goes on
    // rising: then it was never a hole.
    let last = hold.iter().rposition(|&i| rest - scene.pressure[i] > floor).map_or(0, |at| at + 1);
    let beyond = hold.iter().skip(last).map(|&i| scene.pressure[i] - rest).fold(0.0, f64::max);
    if beyond < floor {
        hold.truncate(last);
    } else {
        // A reading that stands at its highest may be the sensor's end, not the tank's: taken for the
        // tank's, it looks like a hole that lets out all that the fuel gives off.
        let at_highest = |i: usize| scene.pressure[i] - rest >= beyond - 1e-9;
        if hold.iter().filter(|&&i| at_highest(i)).count() > STANDING {
            hold.truncate(hold.iter().position(|&i| at_highest(i)).unwrap_or(last));
        }
    }
    hold
}

/// Below this a vacuum is not told from nothing, Pa.
pub(super) fn vacuum_floor(scene: &Scene) -> f64 {
    (0.4 * LEAST_VACUUM).max(4.0 * scene.noise)
}

/// A vacuum that is gone before the readings can follow it: the least rate at which it went, and a
/// wide upper bound. `None` if it did not go, or the last of it was never seen.
fn collapse(scene: &Scene, sealed: &[usize], rest: f64) -> Option<Estimate> {
    let floor = vacuum_floor(scene);
    let deep = *sealed
        .iter()
        .rev()
        .find(|&&i| rest - scene.pressure[i] > LEAST_VACUUM.max(2.0 * floor))?;
    let later = || sealed.iter().copied().filter(|&i| scene.times[i] > scene.times[deep]);
    // What is gone while the car still purges as before went through no hole that was there before, unless
    // the valve was shut already and the word came late.
    let begins = later().find(|&i| scene.shut[i]).map(|i| scene.times[i])?;
    let seen = later().find(|&i| rest - scene.pressure[i] < floor)?;
    if !scene.shut[seen] && scene.times[seen] < begins - WORD {
        return None;
    }
    let gone: Vec<usize> = later().filter(|&i| scene.shut[i]).collect();
    let first = *gone.iter().find(|&&i| rest - scene.pressure[i] < floor)?;
    // A hole brings the pressure to zero and keeps it there. What rises beyond is fuel, and may have
    // been fuel before.
    let stays = gone
        .iter()
        .filter(|&&i| i >= first)
        .all(|&i| (rest - scene.pressure[i]).abs() < 2.0 * floor.max(scene.step));
    let taken = scene.times[first] - scene.times[deep];
    if !stays || gone.len() < 3 || taken <= 0.0 || stood_until(scene, sealed, rest, deep) {
        return None;
    }
    // It went at some moment between the two readings, the sensor's own lag included.
    let least = 2.0 * ((rest - scene.pressure[deep]).sqrt() - floor.sqrt()) / (taken + 0.5);
    Some(Estimate { value: 1.5 * least, low: 0.8 * least, high: 6.0 * least })
}

/// Whether the shut tank kept its vacuum for a while up to this sample: what takes it all at once then
/// was opened by somebody who did not say so.
fn stood_until(scene: &Scene, sealed: &[usize], rest: f64, deep: usize) -> bool {
    let shut = sealed.iter().copied().filter(|&i| i <= deep).rev().take_while(|&i| scene.shut[i]);
    let Some(first) = shut.last() else { return false };
    scene.times[deep] - scene.times[first] > STANDS
        && rest - scene.pressure[deep] > 0.5 * (rest - scene.pressure[first])
}

/// Diameter in mm of the hole that fills `litres` at `rate` Pa/s per √Pa: orifice flow at a small
/// difference into an isothermal volume, d(√Δp)/dt = -p C A / (V √(2 ρ)).
fn hole_mm(rate: f64, litres: f64, barometric: f64) -> f64 {
    let pressure = barometric * 1000.0;
    let root_slope = rate / 2.0;
    let area = root_slope * litres / 1000.0 * (2.0 * density(pressure, 293.15)).sqrt()
        / (pressure * DISCHARGE);
    (4.0 * area / std::f64::consts::PI).sqrt() * 1000.0
}

#[cfg(test)]
mod tests {
    use super::hole_mm;

    /// Slope of √Δp for a 0.020 in hole, 40 L, Cd 0.7: -0.2315946 √Pa/s
    /// (fixtures/published/physics_reference.json, `leak_size_from_slope`).
    #[test]
    fn hole_of_twenty_thousandths_is_recovered() {
        assert!((hole_mm(2.0 * 0.231_594_6, 40.0, 101.325) - 0.508).abs() < 0.001);
    }
}
