//! When things held: engine running, connector off, vent sealed, throttle open, vehicle moving.

use crate::recording::{Action, Recording, Series};
use crate::vehicle::Signal;

/// A stretch of time, seconds.
pub(super) type Span = (f64, f64);

/// Engine speeds above this are a running engine; cranking stays below (common practice, no
/// source).
pub(super) const RUNNING_RPM: f64 = 350.0;
/// Road speed above which the vehicle moves; speed readings have a step of 1 km/h.
const MOVING_KMH: f64 = 2.0;
/// Fuel sloshes on after the vehicle stands (common practice, no source), s.
const SLOSH: f64 = 5.0;
/// Throttle above which an opening is wide enough to change the manifold's flow.
const OPEN_THROTTLE: f64 = 35.0;

/// Which of the times lie in one of the spans.
pub(super) fn marks(times: &[f64], spans: &[Span]) -> Vec<bool> {
    let mut next = 0;
    times
        .iter()
        .map(|&time| {
            while next < spans.len() && spans[next].1 <= time {
                next += 1;
            }
            spans.get(next).is_some_and(|span| span.0 <= time)
        })
        .collect()
}

pub(super) fn spans_of(
    recording: &Recording,
    start: Action,
    stop: Action,
    whole: Span,
    end: f64,
) -> Vec<Span> {
    let mut spans = Vec::new();
    let mut open: Option<f64> = None;
    for known in recording.actions() {
        let at = known.at.seconds();
        if known.action == start {
            open = open.or(Some(at));
        } else if known.action == stop
            && let Some(from) = open.take()
        {
            spans.push((from, at));
        }
    }
    spans.extend(open.map(|from| (from, end)));
    clipped(spans, whole)
}

fn clipped(spans: Vec<Span>, whole: Span) -> Vec<Span> {
    spans
        .into_iter()
        .map(|(a, b)| (a.max(whole.0), b.min(whole.1)))
        .filter(|(a, b)| b > a)
        .collect()
}

/// Spans in which `holds` is true of a series' samples, each lasting until the next sample.
fn spans_where(series: &Series, whole: Span, holds: impl Fn(f64) -> bool) -> Vec<Span> {
    let mut spans = Vec::new();
    let mut open: Option<f64> = None;
    let mut last = whole.0;
    for (time, value) in series.iter() {
        let time = time.seconds();
        match (holds(value), open) {
            (true, None) => open = Some(time),
            (false, Some(from)) => {
                spans.push((from, time));
                open = None;
            }
            _ => {}
        }
        last = time;
    }
    spans.extend(open.map(|from| (from, last.max(from) + 1.0)));
    clipped(spans, whole)
}

pub(super) fn running_spans(recording: &Recording, whole: Span, end: f64) -> Vec<Span> {
    if let Some(speed) = recording.series(Signal::EngineSpeed) {
        return spans_where(speed, whole, |rpm| rpm > RUNNING_RPM);
    }
    let said = spans_of(recording, Action::EngineStarted, Action::EngineStopped, whole, end);
    if !said.is_empty() {
        return said;
    }
    // A running engine on a closed throttle holds its manifold far below atmospheric.
    recording
        .series(Signal::ManifoldPressure)
        .map(|manifold| {
            let highest = manifold.values().iter().copied().fold(f64::MIN, f64::max);
            spans_where(manifold, whole, |kpa| kpa < highest.min(102.0) - 12.0)
        })
        .unwrap_or_default()
}

pub(super) fn seal_spans(recording: &Recording, said: Vec<Span>, whole: Span) -> Vec<Span> {
    let commanded = recording
        .series(Signal::VentCommand)
        .map(|vent| spans_where(vent, whole, |percent| percent > 50.0))
        .unwrap_or_default();
    merged(said.into_iter().chain(commanded).collect())
}

/// The spans in order, those that touch made one.
pub(super) fn merged(mut spans: Vec<Span>) -> Vec<Span> {
    spans.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut merged: Vec<Span> = Vec::new();
    for span in spans {
        match merged.last_mut() {
            Some(last) if span.0 <= last.1 => last.1 = last.1.max(span.1),
            _ => merged.push(span),
        }
    }
    merged
}

pub(super) fn opening_spans(recording: &Recording, whole: Span) -> Vec<Span> {
    let Some(throttle) = recording.series(Signal::Throttle) else { return Vec::new() };
    spans_where(throttle, whole, |percent| percent > OPEN_THROTTLE)
}

pub(super) fn moving_spans(recording: &Recording, whole: Span) -> Vec<Span> {
    let Some(speed) = recording.series(Signal::VehicleSpeed) else { return Vec::new() };
    spans_where(speed, whole, |kmh| kmh > MOVING_KMH)
        .into_iter()
        .map(|(from, to)| (from, to + SLOSH))
        .collect()
}
