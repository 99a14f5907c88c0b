//! A recording laid out for examination: every tank-pressure sample with the state of engine,
//! valve, vent, cap and vehicle at its moment.

use super::inferred;
use super::reading::{is_stale, local_noise};
use super::spans::{
    RUNNING_RPM, Span, marks, merged, moving_spans, opening_spans, running_spans, seal_spans,
    spans_of,
};
use crate::analysis::lag::{Between, first_order_at, sample_at};
use crate::analysis::{descriptive, orifice_flow, resolution};
use crate::evidence::Warning;
use crate::recording::{Action, Recording, Series};
use crate::units::Instant;
use crate::vehicle::Signal;

/// The flow of the purge valve relative to choked flow is computed from these samples.
#[derive(Clone, Debug, Default)]
pub(super) struct Flow {
    pub(super) times: Vec<f64>,
    pub(super) psi: Vec<f64>,
}

/// What hides in the step of the barometric parameter, Pa: half a kilopascal either way, and as much of
/// the first reading's distance from it.
const ZERO_DOUBT: f64 = 1_000.0;

/// Tank-pressure samples of a part of a recording, with everything that explains them.
#[derive(Clone, Debug)]
pub(super) struct Scene {
    /// Sample times, s.
    pub(super) times: Vec<f64>,
    /// Tank pressure, Pa gauge.
    pub(super) pressure: Vec<f64>,
    /// Purge command, 0 to 1; 0 where unknown.
    pub(super) purge: Vec<f64>,
    /// Engine speed, thousands of rpm; 0 where unknown.
    pub(super) speed: Vec<f64>,
    /// Whether the engine runs.
    pub(super) running: Vec<bool>,
    /// Whether the valve's connector is off.
    pub(super) unplugged: Vec<bool>,
    /// Whether nothing can flow through a sound purge valve.
    pub(super) shut: Vec<bool>,
    /// Whether the tank is open to the outside through the vent alone: vent not sealed, cap on,
    /// vehicle standing.
    pub(super) plain: Vec<bool>,
    /// Flow of the valve relative to choked flow over time.
    pub(super) flow: Flow,
    /// Smallest change of the pressure reading, Pa.
    pub(super) step: f64,
    /// Standard deviation of one reading about its neighbours, Pa.
    pub(super) noise: f64,
    /// When the connector was off.
    pub(super) unplugs: Vec<Span>,
    /// When the vent was sealed.
    pub(super) seals: Vec<Span>,
    /// When the cap was off.
    pub(super) caps: Vec<Span>,
    /// When the throttle was open wide.
    pub(super) openings: Vec<Span>,
    /// When the engine ran.
    pub(super) runs: Vec<Span>,
    /// When the tank was filled.
    pub(super) refuelled: Vec<f64>,
    /// How far the zero may be off by what the car tells, Pa: nothing, or what hides where the first
    /// reading was taken for atmospheric.
    pub(super) zero_doubt: f64,
    /// Barometric pressure, kPa.
    pub(super) barometric: f64,
    /// What was used for the flow: the manifold pressure, or load, or nothing.
    pub(super) flow_source: Option<Signal>,
    /// Whether a purge command was recorded.
    pub(super) purge_known: bool,
    /// Whether plugging was inferred from the pressure, because nobody said it.
    pub(super) plugging_inferred: bool,
    /// What weakens the numbers.
    pub(super) warnings: Vec<Warning>,
}

impl Scene {
    /// Lays out the samples from `from` to `to`. `None` without any tank pressure there.
    pub(super) fn new(recording: &Recording, from: Instant, to: Instant) -> Option<Self> {
        let (times, pressure) = recording.series(Signal::TankPressure)?.between(from, to);
        if times.is_empty() {
            return None;
        }
        let times: Vec<f64> = times.iter().map(|time| time.seconds()).collect();
        let pressure = pressure.to_vec();
        let whole = (from.seconds(), to.seconds());
        let end = whole.1.min(times.last().copied().unwrap_or(whole.1) + 1.0);
        let actions = |start, stop| spans_of(recording, start, stop, whole, end);
        let mut warnings = Vec::new();

        let runs = running_spans(recording, whole, end);
        let caps = actions(Action::CapOpened, Action::CapClosed);
        let seals = seal_spans(recording, actions(Action::VentSealed, Action::VentOpened), whole);
        let openings = opening_spans(recording, whole);
        let moving = moving_spans(recording, whole);
        if !moving.is_empty() {
            warnings.push(Warning::Driven);
        }
        let running = marks(&times, &runs);
        let purge_series = recording.series(Signal::PurgeCommand);
        let purge: Vec<f64> =
            held(purge_series, &times).into_iter().map(|percent| percent / 100.0).collect();
        let barometric = barometric(recording, &runs, whole);
        let (flow, flow_source) = flow(recording, barometric, whole, &mut warnings);
        if altitude_changed(recording, whole) {
            warnings.push(Warning::AltitudeChanged);
        }
        let step = resolution::step(&pressure).unwrap_or(0.0);
        let noise = local_noise(&pressure, step);

        let said = recording
            .actions()
            .iter()
            .any(|known| matches!(known.action, Action::PurgeUnplugged | Action::PurgePlugged));
        let unplugs = if said {
            actions(Action::PurgeUnplugged, Action::PurgePlugged)
        } else {
            let disturbed: Vec<Span> = [&openings, &seals, &caps, &moving]
                .into_iter()
                .flatten()
                .map(|(from, to)| (from - 1.7, to + 3.0))
                .collect();
            let disturbed = marks(&times, &merged(disturbed));
            let usable: Vec<bool> =
                running.iter().zip(&disturbed).map(|(runs, off)| *runs && !off).collect();
            inferred::unplugged_spans(&times, &pressure, &purge, &usable, noise, step)
        };
        let plugging_inferred = !said && !unplugs.is_empty();
        let unplugged = marks(&times, &unplugs);
        let purge_known = purge_series.is_some();
        let shut = (0..times.len())
            .map(|i| unplugged[i] || !running[i] || (purge_known && purge[i] < 0.004))
            .collect();
        let (off, sealed, rolling) =
            (marks(&times, &caps), marks(&times, &seals), marks(&times, &moving));
        let plain = (0..times.len()).map(|i| !off[i] && !sealed[i] && !rolling[i]).collect();
        if is_stale(recording, Signal::TankPressure, whole) {
            warnings.push(Warning::StaleValues(Signal::TankPressure));
        }
        let speed = held(recording.series(Signal::EngineSpeed), &times)
            .into_iter()
            .map(|rpm| rpm / 1000.0)
            .collect();
        let zero_doubt = recording.last_action(Action::TankZeroed).map_or(0.0, |_| ZERO_DOUBT);
        let refuelled = recording
            .actions()
            .iter()
            .filter(|known| known.action == Action::Refuelled)
            .map(|known| known.at.seconds())
            .collect();
        Some(Self {
            times,
            pressure,
            purge,
            speed,
            running,
            unplugged,
            shut,
            plain,
            flow,
            step,
            noise,
            unplugs,
            seals,
            caps,
            openings,
            runs,
            refuelled,
            zero_doubt,
            barometric,
            flow_source,
            purge_known,
            plugging_inferred,
            warnings,
        })
    }

    /// Least standard deviation that one reading can be believed to have, Pa.
    pub(super) fn noise_floor(&self) -> f64 {
        (self.step / 12.0_f64.sqrt()).max(0.02)
    }

    /// Indices of the samples for which `keep` holds.
    pub(super) fn select(&self, keep: impl Fn(usize) -> bool) -> Vec<usize> {
        (0..self.times.len()).filter(|&i| keep(i)).collect()
    }

    /// Flow relative to choked flow, through a first-order lag, at the sample times.
    pub(super) fn lagged_flow(&self, time_constant: f64) -> Vec<f64> {
        if self.flow.times.is_empty() {
            return vec![0.0; self.times.len()];
        }
        first_order_at(
            &self.flow.times,
            &self.flow.psi,
            time_constant,
            Between::Straight,
            &self.times,
        )
    }

    /// Range of the readings without the most extreme hundredth on either side, Pa; with the vent open
    /// and the cap on, where the visit has enough of that.
    pub(super) fn movement(&self) -> f64 {
        let plain = self.select(|i| self.plain[i]);
        let mut sorted: Vec<f64> = if plain.len() >= 60 {
            plain.iter().map(|&i| self.pressure[i]).collect()
        } else {
            self.pressure.clone()
        };
        sorted.sort_by(f64::total_cmp);
        let cut = sorted.len() / 100;
        match (sorted.get(cut), sorted.get(sorted.len() - 1 - cut)) {
            (Some(low), Some(high)) => high - low,
            _ => 0.0,
        }
    }

    /// The same for the flow that the purge command asks for, above a dead band (0 to 1).
    pub(super) fn lagged_purge(&self, time_constant: f64, dead_band: f64) -> Vec<f64> {
        let psi = sample_at(&self.flow.times, &self.flow.psi, Between::Straight, &self.times);
        let asked: Vec<f64> = (0..self.times.len())
            .map(|i| {
                if self.unplugged[i] || !self.running[i] {
                    return 0.0;
                }
                let opened = ((self.purge[i] - dead_band) / (1.0 - dead_band)).max(0.0);
                opened * psi.get(i).copied().unwrap_or(0.0)
            })
            .collect();
        first_order_at(&self.times, &asked, time_constant, Between::Straight, &self.times)
    }
}

/// Means of the values at `indices`, each over `group` neighbours.
pub(super) fn group_means(values: &[f64], indices: &[usize], group: usize) -> Vec<f64> {
    indices
        .chunks(group)
        .map(|chunk| chunk.iter().map(|&i| values[i]).sum::<f64>() / chunk.len() as f64)
        .collect()
}

/// Last known values at the given times; zero before the first.
fn held(series: Option<&Series>, at: &[f64]) -> Vec<f64> {
    let Some(series) = series else { return vec![0.0; at.len()] };
    let mut next = 0;
    at.iter()
        .map(|&time| {
            while next < series.len() && series.times()[next].seconds() <= time {
                next += 1;
            }
            next.checked_sub(1).map_or(0.0, |i| series.values()[i])
        })
        .collect()
}

/// Barometric pressure, kPa: as read, else as the manifold shows with the engine off.
fn barometric(recording: &Recording, runs: &[Span], whole: Span) -> f64 {
    let within = |series: &Series| {
        let (_, values) =
            series.between(Instant::from_seconds(whole.0), Instant::from_seconds(whole.1));
        descriptive::median(values)
    };
    if let Some(value) = recording.series(Signal::BarometricPressure).and_then(within) {
        return value;
    }
    let Some(manifold) = recording.series(Signal::ManifoldPressure) else {
        return 101.325;
    };
    let still: Vec<f64> = manifold
        .iter()
        .filter(|(time, _)| {
            let time = time.seconds();
            !runs.iter().any(|(from, to)| time > from - 2.0 && time < to + 4.0)
        })
        .map(|(_, value)| value)
        .collect();
    if let Some(value) = descriptive::median(&still) {
        return value;
    }
    let highest = manifold.values().iter().copied().fold(0.0, f64::max);
    if highest > 60.0 { highest } else { 101.325 }
}

fn altitude_changed(recording: &Recording, whole: Span) -> bool {
    recording.series(Signal::BarometricPressure).is_some_and(|series| {
        let (_, values) =
            series.between(Instant::from_seconds(whole.0), Instant::from_seconds(whole.1));
        let low = values.iter().copied().fold(f64::MAX, f64::min);
        let high = values.iter().copied().fold(f64::MIN, f64::max);
        high - low > 1.5
    })
}

/// Flow relative to choked flow from the manifold's pressure; from engine load where the car
/// offers no manifold pressure, which knows the idle and the opening but not their exact depth.
fn flow(
    recording: &Recording,
    barometric: f64,
    whole: Span,
    warnings: &mut Vec<Warning>,
) -> (Flow, Option<Signal>) {
    let build = |series: &Series, pressure: &dyn Fn(f64) -> f64| {
        let mut flow = Flow::default();
        for (time, value) in series.iter() {
            let time = time.seconds();
            if time >= whole.0 - 5.0 && time <= whole.1 + 5.0 {
                flow.times.push(time);
                flow.psi.push(orifice_flow::psi(pressure(value) / barometric));
            }
        }
        flow
    };
    if let Some(manifold) = recording.series(Signal::ManifoldPressure) {
        return (build(manifold, &|kpa| kpa), Some(Signal::ManifoldPressure));
    }
    if let Some(load) = recording.series(Signal::EngineLoad) {
        warnings
            .push(Warning::StoodIn { missing: Signal::ManifoldPressure, used: Signal::EngineLoad });
        // Calculated load is air flow over the most that this speed allows, near the ratio of
        // manifold to barometric pressure (SAE J1979 definition of PID 04; from memory). With the
        // engine off it reads zero, where the manifold is at atmospheric.
        let speed = recording.series(Signal::EngineSpeed);
        let mut flow = Flow::default();
        for (time, value) in load.iter() {
            let runs =
                speed.and_then(|series| series.value_at(time)).is_none_or(|rpm| rpm > RUNNING_RPM);
            let ratio = if runs { 0.06 + 0.94 * value / 100.0 } else { 1.0 };
            flow.times.push(time.seconds());
            flow.psi.push(orifice_flow::psi(ratio));
        }
        return (flow, Some(Signal::EngineLoad));
    }
    if let Some(throttle) = recording.series(Signal::Throttle) {
        warnings
            .push(Warning::StoodIn { missing: Signal::ManifoldPressure, used: Signal::Throttle });
        let speed = recording.series(Signal::EngineSpeed);
        let idle = throttle.values().iter().copied().fold(f64::MAX, f64::min);
        let mut flow = Flow::default();
        for (time, value) in throttle.iter() {
            let runs =
                speed.and_then(|series| series.value_at(time)).is_none_or(|rpm| rpm > RUNNING_RPM);
            let ratio =
                if runs { 0.3 + 0.7 * ((value - idle) / 50.0).clamp(0.0, 1.0) } else { 1.0 };
            flow.times.push(time.seconds());
            flow.psi.push(orifice_flow::psi(ratio));
        }
        return (flow, Some(Signal::Throttle));
    }
    (Flow::default(), None)
}
