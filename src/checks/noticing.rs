//! What the person did, seen in the data: nobody has to tap with greasy hands.

use crate::analysis::descriptive;
use crate::recording::{Action, ActionAt, Recording, Series};
use crate::units::Instant;
use crate::vehicle::Signal;

use super::spans::RUNNING_RPM;

/// Throttle that counts as wide open, and as let go, per cent.
const WIDE: f64 = 50.0;
const LET_GO: f64 = 30.0;

/// Whether the engine runs, by the newest engine speed; by what was said where none is read. Nobody
/// replaces a part on a running engine: what was read before that no longer holds.
pub(super) fn engine_runs(recording: &Recording) -> bool {
    if let Some((at, rpm)) = recording.series(Signal::EngineSpeed).and_then(Series::last) {
        let replaced = recording.last_action(Action::PartReplaced);
        return rpm > RUNNING_RPM && replaced.is_none_or(|replaced| replaced < at);
    }
    recording
        .actions()
        .iter()
        .rev()
        .find_map(|known| match known.action {
            Action::EngineStarted => Some(true),
            Action::EngineStopped => Some(false),
            _ => None,
        })
        .unwrap_or(false)
}

/// The newest purge command, per cent.
pub(super) fn purge_command(recording: &Recording) -> Option<f64> {
    recording.series(Signal::PurgeCommand).and_then(Series::last).map(|(_, percent)| percent)
}

/// Whether the connector is off, by what was said or noticed.
pub(super) fn is_unplugged(recording: &Recording) -> bool {
    recording
        .actions()
        .iter()
        .rev()
        .find_map(|known| match known.action {
            Action::PurgeUnplugged => Some(true),
            Action::PurgePlugged => Some(false),
            _ => None,
        })
        .unwrap_or(false)
}

/// The awaited action, if the data since `since` show it.
pub(super) fn notice(
    awaited: Action,
    recording: &Recording,
    since: Instant,
    now: Instant,
) -> Option<ActionAt> {
    let found = match awaited {
        Action::EngineStarted => first(recording, Signal::EngineSpeed, since, |v| v > RUNNING_RPM),
        Action::EngineStopped => first(recording, Signal::EngineSpeed, since, |v| v < 100.0),
        Action::ThrottleOpened => first(recording, Signal::Throttle, since, |v| v > WIDE),
        Action::ThrottleReleased => first(recording, Signal::Throttle, since, |v| v < LET_GO),
        Action::VentSealed => first(recording, Signal::VentCommand, since, |v| v > 50.0),
        Action::VentOpened => first(recording, Signal::VentCommand, since, |v| v < 50.0),
        Action::PurgeUnplugged => step(recording, since, now, 1.0),
        Action::PurgePlugged => step(recording, since, now, -1.0),
        _ => None,
    };
    found.map(|at| ActionAt { at, action: awaited })
}

fn first(
    recording: &Recording,
    signal: Signal,
    since: Instant,
    holds: impl Fn(f64) -> bool,
) -> Option<Instant> {
    let series = recording.series(signal)?;
    let from = series.times().partition_point(|time| *time < since);
    series.iter().skip(from).find(|(_, value)| holds(*value)).map(|(at, _)| at)
}

/// When the pressure stepped up (`direction` 1) or down (−1) although the purge command did not:
/// far beyond the noise, and by a fair part of the vacuum that stood before.
fn step(recording: &Recording, since: Instant, now: Instant, direction: f64) -> Option<Instant> {
    let series = recording.series(Signal::TankPressure)?;
    let second = std::time::Duration::from_millis(2_500);
    let (_, before) = series.between(since - second, since + second / 5);
    let base = descriptive::median(before)?;
    let spread = descriptive::median_absolute_deviation(before)?.max(1.0);
    let commanded = recording.series(Signal::PurgeCommand);
    let command = commanded.and_then(|purge| purge.value_at(since)).unwrap_or(0.0);
    if command < 3.0 {
        return None;
    }
    let (times, values) = series.between(since, now);
    let threshold = (8.0 * spread)
        .max(30.0)
        .max(0.25 * base.abs().min(2_000.0) * f64::from(u8::from(direction > 0.0)));
    let moved = |value: f64| (value - base) * direction > threshold;
    // Two readings in a row, so that one bad value is no unplugging.
    let at = (1..values.len()).find(|&i| moved(values[i]) && moved(values[i - 1]))?;
    let kept = commanded
        .and_then(|purge| purge.value_at(times[at]))
        .is_some_and(|percent| percent > 0.6 * command && percent < 1.6 * command + 5.0);
    // The first of the two readings already lies beyond: the hand was there a moment earlier.
    kept.then(|| times[at - 1] - std::time::Duration::from_millis(250))
}
