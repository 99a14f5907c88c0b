use super::visit::Visit;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome};
use crate::recording::{Action, Recording};
use crate::units::Instant;
use crate::vehicle::{Fault, Signal};

/// Before and after the repair.
#[derive(Clone, Debug, PartialEq)]
pub struct ProofReport {
    /// How the proof ended.
    pub result: CheckResult,
    /// The check whose deed each trace is laid at, before and after.
    pub deeds: (Check, Check),
    /// Before: seconds after the deed, tank pressure, Pa.
    pub before: Vec<(f64, f64)>,
    /// After, alike.
    pub after: Vec<(f64, f64)>,
    /// Limit within which the tank counts as still, Pa.
    pub limit_pa: f64,
}

/// Seconds shown before the deed.
const LEAD: f64 = 3.0;

/// What shows the repaired part, the better view first.
pub(super) const fn views(fault: Option<Fault>) -> &'static [Check] {
    use Check as C;
    match fault {
        None | Some(Fault::PurgeValveLeaking) => &[C::ThrottleFollow, C::IdleZero],
        Some(Fault::NoPurgeFlow) => &[C::PurgeResponse],
        Some(Fault::TankSensorStuck) => &[C::UnplugRecovery, C::PurgeResponse],
        Some(Fault::VentPathRestricted | Fault::TankSensorSlow) => &[C::UnplugRecovery],
        Some(Fault::TankSensorOffset) => &[C::CapOffZero, C::RestZero],
        Some(Fault::VaporLeak) => &[C::SealedHold],
    }
}

/// Tank pressure around the deed of a check, before and after the repair: seconds after the deed,
/// and Pa. Where only the movement counts, the pressure stands against its mean before the deed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Traces {
    /// The check whose deed each trace is laid at. A leaking valve shows at an engine start as at a
    /// throttle opening: where the visit lacks a pair of one kind, the two differ.
    pub(super) deeds: (Check, Check),
    /// Before the part was replaced.
    pub(super) before: Vec<(f64, f64)>,
    /// After.
    pub(super) after: Vec<(f64, f64)>,
}

/// The proof as the card shows it, once the check was made.
pub(super) fn report(visit: &Visit) -> Option<ProofReport> {
    let result = visit.result(Check::RepairProof)?.clone();
    let fault = visit.judgement.verdict.fault;
    let Traces { deeds, before, after } = traces(&visit.recording, fault)?;
    Some(ProofReport { limit_pa: limit_pa(&result), result, deeds, before, after })
}

/// Checks that the proof does not make by itself.
const NOT_IN_THE_PROOF: [(Check, Action); 2] =
    [(Check::CapOffZero, Action::CapOpened), (Check::SealedHold, Action::VentSealed)];

/// What failed before the repair, is not part of the proof, and was not made again since: the proof
/// needs it.
pub(super) fn again(visit: &Visit) -> Vec<Check> {
    let actions = visit.recording.actions();
    let Some(replaced) = actions.iter().rfind(|it| it.action == Action::PartReplaced) else {
        return Vec::new();
    };
    let failed = |check: Check| visit.result(check).is_some_and(|it| it.outcome == Outcome::Fail);
    let made = |deed: Action| actions.iter().any(|it| it.action == deed && it.at > replaced.at);
    let open = |(check, deed): &(Check, Action)| failed(*check) && !made(*deed);
    NOT_IN_THE_PROOF.iter().filter(|it| open(it)).map(|it| it.0).collect()
}

/// The limit within which the tank counts as still: what the proof could have seen.
pub(super) fn limit_pa(result: &CheckResult) -> f64 {
    let limit = result.measure(MeasureName::DetectionLimit);
    let change = || result.measure(MeasureName::ChangeAfterRepair).map(|it| it.half_width());
    limit.map(|it| it.value.abs()).or_else(change).unwrap_or(f64::NAN)
}

/// Both traces; `None` if no part was replaced in this recording. Both are empty where nothing can
/// be laid over.
pub(super) fn traces(recording: &Recording, fault: Option<Fault>) -> Option<Traces> {
    let replaced = recording.last_action(Action::PartReplaced)?;
    let wanted = views(fault);
    let both = |deeds: (Check, Check)| {
        let before = best(recording, deeds.0, &|at| at < replaced)?;
        let after = best(recording, deeds.1, &|at| at > replaced)?;
        Some(Traces { deeds, before, after })
    };
    let valve = views(None);
    let same = wanted.iter().chain(valve).map(|check| (*check, *check));
    let mixed =
        [(Check::IdleZero, Check::ThrottleFollow), (Check::ThrottleFollow, Check::IdleZero)];
    let of_the_valve = wanted == valve;
    let pairs = same.chain(mixed.into_iter().filter(|_| of_the_valve));
    let none = Traces {
        deeds: (Check::ThrottleFollow, Check::ThrottleFollow),
        before: Vec::new(),
        after: Vec::new(),
    };
    Some(pairs.filter_map(both).next().unwrap_or(none))
}

/// The trace at the deed of this check that shows most, of those at the right time.
pub(super) fn best(
    recording: &Recording,
    check: Check,
    is_its_time: &dyn Fn(Instant) -> bool,
) -> Option<Vec<(f64, f64)>> {
    let (moments, tail) = moments(recording, check);
    let is_right = |at: &Instant| is_its_time(*at);
    let shown = moments.into_iter().filter(is_right).filter_map(|at| {
        let until = Instant::from_seconds(at.seconds() + tail);
        let until = end(recording, check, at).map_or(until, |end| end.min(until));
        let (points, mean) = trace(recording, at, until, is_its_time)?;
        let lowest = points.iter().map(|it| it.1).fold(f64::INFINITY, f64::min);
        // The deepest vacuum tells most of a return or a hold; of the rest any one does.
        let depth = match check {
            Check::UnplugRecovery => mean,
            Check::SealedHold => lowest,
            _ => 0.0,
        };
        let from = if is_movement(check) { mean } else { 0.0 };
        Some((depth, points.into_iter().map(|(at, pa)| (at, pa - from)).collect()))
    });
    shown.min_by(|a: &(f64, Vec<_>), b| a.0.total_cmp(&b.0)).map(|it| it.1)
}

/// Whether a check looks at how the tank moves, and not at what it reads.
const fn is_movement(check: Check) -> bool {
    matches!(check, Check::ThrottleFollow | Check::IdleZero | Check::PurgeResponse)
}

/// When the deed of a check was done, and for how many seconds after it the tank is shown.
fn moments(recording: &Recording, check: Check) -> (Vec<Instant>, f64) {
    let done = |deed: Action| {
        let actions = recording.actions().iter();
        actions.filter(|it| it.action == deed).map(|it| it.at).collect()
    };
    match check {
        Check::ThrottleFollow => (done(Action::ThrottleOpened), 15.0),
        Check::IdleZero | Check::RestZero => (done(Action::EngineStarted), 15.0),
        Check::UnplugRecovery => (done(Action::PurgeUnplugged), 10.0),
        Check::CapOffZero => (done(Action::CapOpened), 15.0),
        Check::SealedHold => (done(Action::VentSealed), 90.0),
        Check::PurgeResponse => (openings(recording), 40.0),
        Check::AfterFillUp | Check::RepairProof => (Vec::new(), 0.0),
    }
}

/// When the car began to open the purge valve.
fn openings(recording: &Recording) -> Vec<Instant> {
    let Some(series) = recording.series(Signal::PurgeCommand) else { return Vec::new() };
    let mut shut = false;
    let mut found = Vec::new();
    for (at, percent) in series.times().iter().zip(series.values()) {
        // Between the two, noise of the command would open and shut it.
        if *percent < 1.0 {
            shut = true;
        } else if *percent > 3.0 && shut {
            shut = false;
            found.push(*at);
        }
    }
    found
}

/// What ends the view of a deed before its time.
fn end(recording: &Recording, check: Check, from: Instant) -> Option<Instant> {
    let ends: &[Action] = match check {
        Check::UnplugRecovery => &[Action::PurgePlugged],
        Check::SealedHold => &[Action::VentOpened],
        Check::PurgeResponse => &[Action::PurgeUnplugged, Action::VentSealed],
        Check::CapOffZero => &[Action::CapClosed],
        _ => &[],
    };
    let later = recording.actions().iter().filter(|it| it.at > from);
    later.filter(|it| ends.contains(&it.action)).map(|it| it.at).next()
}

/// The samples from before the deed on, and their mean before it, Pa.
fn trace(
    recording: &Recording,
    deed: Instant,
    until: Instant,
    is_its_time: &dyn Fn(Instant) -> bool,
) -> Option<(Vec<(f64, f64)>, f64)> {
    let series = recording.series(Signal::TankPressure)?;
    let from = Instant::from_seconds(deed.seconds() - LEAD);
    let (_, resting) = series.between(from, deed);
    if resting.is_empty() {
        return None;
    }
    let mean = resting.iter().sum::<f64>() / resting.len() as f64;
    let (times, values) = series.between(from, until);
    let points = times.iter().zip(values).filter(|(at, _)| is_its_time(**at));
    let points: Vec<_> = points.map(|(at, pa)| (at.seconds_since(deed), *pa)).collect();
    (points.len() > 1).then_some((points, mean))
}

#[cfg(test)]
mod tests {
    use super::{Traces, traces};
    use crate::evidence::Check;
    use crate::recording::{Action, Recording};
    use crate::units::Instant;
    use crate::vehicle::{Fault, Signal};

    fn recording(replaced: bool) -> Recording {
        let at = Instant::from_seconds;
        let mut recording = Recording::default();
        for tenth in 0..1000 {
            let time = f64::from(tenth) / 10.0;
            // Before the repair the tank rises by 100 Pa while the throttle is open.
            let rises = (20.0..23.0).contains(&time);
            recording.push(Signal::TankPressure, at(time), if rises { -100.0 } else { -200.0 });
        }
        recording.push_action(at(20.0), Action::ThrottleOpened);
        recording.push_action(at(23.0), Action::ThrottleReleased);
        if replaced {
            recording.push_action(at(50.0), Action::PartReplaced);
        }
        recording.push_action(at(70.0), Action::ThrottleOpened);
        recording
    }

    #[test]
    fn the_traces_are_laid_over_each_other_at_the_opening() {
        let Some(Traces { before, after, .. }) = traces(&recording(true), None) else {
            panic!("a part was replaced");
        };
        let highest = |trace: &[(f64, f64)]| trace.iter().map(|it| it.1).fold(f64::MIN, f64::max);
        assert_eq!(highest(&before), 100.0);
        assert_eq!(highest(&after), 0.0);
        assert_eq!(before.first().map(|it| it.0), Some(-3.0));
    }

    #[test]
    fn where_the_throttle_was_opened_only_after_the_repair_engine_starts_are_compared() {
        let at = Instant::from_seconds;
        let mut recording = Recording::default();
        for tenth in 0..1000 {
            let time = f64::from(tenth) / 10.0;
            let pulls = (10.0..50.0).contains(&time);
            recording.push(Signal::TankPressure, at(time), if pulls { -180.0 } else { 0.0 });
        }
        recording.push_action(at(10.0), Action::EngineStarted);
        recording.push_action(at(50.0), Action::PartReplaced);
        recording.push_action(at(60.0), Action::EngineStarted);
        recording.push_action(at(80.0), Action::ThrottleOpened);
        let Some(Traces { before, after, .. }) = traces(&recording, None) else {
            panic!("a part was replaced");
        };
        assert_eq!(before.last().map(|it| it.1), Some(-180.0));
        assert!(after.iter().all(|it| it.1 == 0.0));
    }

    /// Ten minutes: a hold and two unpluggings on each side of the repair, the tank read by
    /// `reads` from the seconds since the last deed and whether the part is new.
    fn visit(reads: impl Fn(f64, bool) -> f64) -> Recording {
        let at = Instant::from_seconds;
        let mut recording = Recording::default();
        for tenth in 0..6000 {
            let time = f64::from(tenth) / 10.0;
            recording.push(Signal::TankPressure, at(time), reads(time % 100.0, time > 300.0));
        }
        recording.push_action(at(10.0), Action::EngineStarted);
        for from in [0.0, 300.0] {
            recording.push_action(at(from + 100.0), Action::PurgeUnplugged);
            recording.push_action(at(from + 150.0), Action::PurgePlugged);
            recording.push_action(at(from + 200.0), Action::VentSealed);
            recording.push_action(at(from + 250.0), Action::VentOpened);
        }
        recording.push_action(at(300.0), Action::PartReplaced);
        recording.push_action(at(560.0), Action::ThrottleOpened);
        recording
    }

    #[test]
    fn the_traces_are_laid_at_the_deed_that_shows_the_repaired_part() {
        let visit = visit(|since, is_new| {
            let pace = if is_new { 0.3 } else { 3.0 };
            if since > 90.0 { -80.0 } else { -80.0 * (-since / pace).exp() }
        });
        let deeds = |fault| traces(&visit, fault).map(|it| it.deeds);
        let both = |check| Some((check, check));
        assert_eq!(deeds(Some(Fault::TankSensorSlow)), both(Check::UnplugRecovery));
        assert_eq!(deeds(Some(Fault::VentPathRestricted)), both(Check::UnplugRecovery));
        assert_eq!(deeds(Some(Fault::VaporLeak)), both(Check::SealedHold));
        let mixed = Some((Check::IdleZero, Check::ThrottleFollow));
        assert_eq!(deeds(Some(Fault::PurgeValveLeaking)), mixed);

        let Some(slow) = traces(&visit, Some(Fault::TankSensorSlow)) else {
            panic!("a part was replaced");
        };
        let after_a_second = |trace: &[(f64, f64)]| {
            trace.iter().find(|it| it.0 >= 1.0).map(|it| it.1).unwrap_or(f64::NAN)
        };
        assert!(after_a_second(&slow.before) < -50.0, "still far from rest");
        assert!(after_a_second(&slow.after) > -5.0, "back at rest");
        assert!(slow.after.last().is_some_and(|it| it.0 <= 10.0));
    }

    #[test]
    fn without_a_repair_there_is_nothing_to_lay_over() {
        assert_eq!(traces(&recording(false), None), None);
    }
}
