use std::time::Duration;

use crate::checks::FitCurve;
use crate::evidence::{Check, MeasureName};
use crate::recording::{Action, ActionAt};
use crate::report::visit::CheckRecord;
use crate::units::Instant;

/// From when to when a plot goes.
pub(super) type Stretch = (Instant, Instant);

/// How early a vent may have been sealed before it was said.
const BEFORE_SEALING: Duration = Duration::from_secs(3);

/// What an opened vent takes to let the air in.
const AFTER_OPENING: Duration = Duration::from_secs(5);

/// What ends a hold.
const OPENED: [Action; 2] = [Action::VentOpened, Action::CapOpened];

/// Room on either side of what a person did.
const ROOM: Duration = Duration::from_secs(3);

/// A return is drawn larger from this much before its start, s, to so many of its time constants after
/// it, within these limits, s.
const BEFORE_RETURN: f64 = 1.0;
const RETURN_TIMES: f64 = 8.0;
const RETURN_LENGTH: (f64, f64) = (2.0, 30.0);

/// A return that takes this share of the plot is seen there.
const SHOWN_WELL: f64 = 0.25;

/// The part of a check's time that its plot shows, and how many alike there are: the longest, of sealed
/// holds the longest with a decay. A check
/// that was repeated spans most of a visit; what it judged lies in parts of that.
pub(super) fn stretch(actions: &[ActionAt], record: &CheckRecord) -> (Stretch, usize) {
    let window = record.result.window;
    let open = open_span(actions, window);
    let alone = match record.result.check {
        Check::RestZero => {
            let levels = record.fits.iter().filter(|it| it.measure == MeasureName::RestPressure);
            longest(levels.filter_map(ends).collect())
        }
        Check::CapOffZero => {
            longest(pairs(actions, window, Action::CapOpened, &[Action::CapClosed], ROOM))
        }
        Check::SealedHold => {
            let holds = pairs(actions, window, Action::VentSealed, &OPENED, AFTER_OPENING);
            let count = holds.len();
            let told = |hold: &&Stretch| record.fits.iter().any(|it| decays_in(it, **hold));
            let telling: Vec<Stretch> = holds.iter().filter(told).copied().collect();
            let found = longest(telling).or_else(|| longest(holds));
            return found.map_or((window, 1), |it| (it.0, count));
        }
        Check::ThrottleFollow => openings(actions, open).map(|it| (it, 1)),
        _ => None,
    };
    alone.unwrap_or((open, 1))
}

/// A vacuum that was lost in a small part of the plot of `whole`, to be drawn larger.
pub(super) fn quick_decay(fits: &[FitCurve], whole: Stretch) -> Option<(Stretch, FitCurve)> {
    let length = |it: Stretch| it.1.seconds_since(it.0);
    let fit = fits.iter().find(|it| decays_in(it, whole))?;
    let lasted = ends(fit)?;
    let stretch = (lasted.0 - ROOM, lasted.1 + ROOM);
    (length(lasted) < SHOWN_WELL * length(whole)).then(|| (stretch, fit.clone()))
}

/// The deepest return that was fitted, to be drawn larger; `None` where the plot of `whole` shows it
/// well enough.
pub(super) fn deepest_return(fits: &[FitCurve], whole: Stretch) -> Option<(Stretch, FitCurve)> {
    let returns = |it: &&FitCurve| {
        matches!(it.measure, MeasureName::RecoveryTime | MeasureName::VentedTime)
            && it.points.len() > 2
    };
    let depth = |it: &FitCurve| {
        let level = |point: Option<&(Instant, _)>| {
            point.map_or(0.0, |it: &(_, crate::units::Estimate)| it.1.value)
        };
        (level(it.points.last()) - level(it.points.first())).abs()
    };
    let fit = fits.iter().filter(returns).max_by(|a, b| depth(a).total_cmp(&depth(b)))?;
    // Flat up to its start, which is the second point; then eight points to a time constant.
    let start = fit.points.get(1)?.0;
    let time_constant = fit.points.get(2)?.0.seconds_since(start) * 8.0;
    let length = RETURN_TIMES * time_constant;
    let seconds = whole.1.seconds_since(whole.0);
    let shown = length.clamp(RETURN_LENGTH.0, RETURN_LENGTH.1);
    let last = (start + Duration::from_secs_f64(shown)).min(fit.points.last()?.0);
    let stretch = (start - Duration::from_secs_f64(BEFORE_RETURN), last);
    (length < SHOWN_WELL * seconds).then(|| (stretch, fit.clone()))
}

/// Whether a fit tells how the vacuum went within a hold.
fn decays_in(fit: &FitCurve, hold: Stretch) -> bool {
    matches!(fit.measure, MeasureName::SealedDecay | MeasureName::SealedPull)
        && ends(fit).is_some_and(|it| hold.0 <= it.0 && it.1 <= hold.1)
}

fn ends(fit: &FitCurve) -> Option<Stretch> {
    Some((fit.points.first()?.0, fit.points.last()?.0))
}

/// The longest of several stretches, and how many there are.
fn longest(stretches: Vec<Stretch>) -> Option<(Stretch, usize)> {
    let count = stretches.len();
    let length = |it: &Stretch| it.1.seconds_since(it.0);
    let found = stretches.into_iter().max_by(|a, b| length(a).total_cmp(&length(b)))?;
    Some((found, count))
}

/// From each `opens` to the `closes` that follows it, with some room, within the window.
fn pairs(
    actions: &[ActionAt],
    window: Stretch,
    opens: Action,
    closes: &[Action],
    after: Duration,
) -> Vec<Stretch> {
    let within = actions.iter().filter(|it| it.at >= window.0 && it.at <= window.1);
    let (mut found, mut open) = (Vec::new(), None);
    for it in within {
        if it.action == opens {
            open = open.or(Some(it.at - BEFORE_SEALING));
        } else if closes.contains(&it.action) {
            found.extend(open.take().map(|from| (from, it.at + after)));
        }
    }
    found.extend(open.map(|from| (from, window.1)).filter(|it| it.0 < it.1));
    found
}

/// From the unplugging before the first opening of the throttle to the last opening before the valve
/// is plugged in again.
fn openings(actions: &[ActionAt], (first, last): Stretch) -> Option<Stretch> {
    let within: Vec<&ActionAt> =
        actions.iter().filter(|it| it.at >= first && it.at <= last).collect();
    let opens = |it: &&&ActionAt| it.action == Action::ThrottleOpened;
    let opening = within.iter().find(opens)?.at;
    let plugged = within.iter().find(|it| it.action == Action::PurgePlugged && it.at > opening);
    let until = plugged.map_or(last, |it| it.at);
    let unplugged = within
        .iter()
        .rev()
        .find(|it| it.action == Action::PurgeUnplugged && it.at < opening)
        .map_or(first, |it| it.at);
    let closing = within.iter().rev().filter(opens).find(|it| it.at < until)?.at;
    Some((unplugged.max(first), (closing + 2 * ROOM).min(until)))
}

/// The part without a sealed vent: the vacuum of a sealed tank is many times deeper than anything else
/// and belongs to the sealed hold alone.
fn open_span(actions: &[ActionAt], (first, last): Stretch) -> Stretch {
    let mut spans = Vec::new();
    let mut open_from = Some(first);
    for it in actions.iter().filter(|it| it.at > first && it.at < last) {
        match it.action {
            Action::VentSealed => {
                spans.extend(open_from.take().map(|from| (from, it.at - BEFORE_SEALING)))
            }
            Action::VentOpened => {
                open_from = open_from.or(Some(it.at + AFTER_OPENING)).filter(|from| *from < last);
            }
            _ => {}
        }
    }
    spans.extend(open_from.map(|from| (from, last)));
    longest(spans).map_or((first, last), |it| it.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::{CheckResult, Outcome, Reason};
    use crate::units::Estimate;

    fn at(seconds: f64) -> Instant {
        Instant::from_seconds(seconds)
    }

    fn shown(
        check: Check,
        window: (f64, f64),
        actions: &[(f64, Action)],
        fits: Vec<FitCurve>,
    ) -> ((f64, f64), usize) {
        let actions: Vec<ActionAt> =
            actions.iter().map(|&(time, action)| ActionAt { at: at(time), action }).collect();
        let result = CheckResult {
            check,
            outcome: Outcome::Pass,
            reason: Reason::StaysStill,
            measures: Vec::new(),
            window: (at(window.0), at(window.1)),
        };
        let (found, count) = stretch(&actions, &CheckRecord { result, rails: Vec::new(), fits });
        ((found.0.seconds(), found.1.seconds()), count)
    }

    fn fit(measure: MeasureName, points: &[(f64, f64)]) -> FitCurve {
        let point =
            |&(time, value): &(f64, f64)| (at(time), Estimate { value, low: value, high: value });
        FitCurve { measure, points: points.iter().map(point).collect() }
    }

    #[test]
    fn only_the_sealed_hold_is_plotted_sealed() {
        let actions = [(20.0, Action::VentSealed), (90.0, Action::VentOpened)];
        let of = |check, window| shown(check, window, &actions, Vec::new()).0;
        assert_eq!(of(Check::PurgeResponse, (0.0, 200.0)), (95.0, 200.0));
        assert_eq!(of(Check::PurgeResponse, (0.0, 60.0)), (0.0, 17.0));
        assert_eq!(of(Check::SealedHold, (20.0, 90.0)), (17.0, 95.0));
        assert_eq!(shown(Check::PurgeResponse, (0.0, 200.0), &[], Vec::new()).0, (0.0, 200.0));
    }

    #[test]
    fn of_several_holds_the_longest_is_plotted() {
        let actions = [
            (20.0, Action::VentSealed),
            (50.0, Action::VentOpened),
            (70.0, Action::VentSealed),
            (130.0, Action::VentOpened),
        ];
        let found = shown(Check::SealedHold, (20.0, 130.0), &actions, Vec::new());
        assert_eq!(found, ((67.0, 135.0), 2));
        // One that lost its vacuum at once tells less than a shorter one with a decay.
        let mut actions = actions.to_vec();
        actions.insert(3, (100.0, Action::CapOpened));
        let found = shown(Check::SealedHold, (20.0, 130.0), &actions, Vec::new());
        assert_eq!(found, ((67.0, 105.0), 2));
        let decay = fit(MeasureName::SealedDecay, &[(25.0, -900.0), (48.0, -700.0)]);
        let found = shown(Check::SealedHold, (20.0, 130.0), &actions, vec![decay]);
        assert_eq!(found, ((17.0, 55.0), 2));
    }

    #[test]
    fn a_check_is_plotted_where_it_was_made() {
        let levels = [[(1.0, 3.0), (9.0, 3.0)], [(300.0, 3.0), (304.0, 3.0)]]
            .map(|points| fit(MeasureName::RestPressure, &points));
        let rest = shown(Check::RestZero, (1.0, 304.0), &[], levels.to_vec());
        assert_eq!(rest, ((1.0, 9.0), 2));
        let actions = [
            (30.0, Action::PurgeUnplugged),
            (36.0, Action::PurgePlugged),
            (50.0, Action::PurgeUnplugged),
            (60.0, Action::ThrottleOpened),
            (70.0, Action::ThrottleOpened),
            (80.0, Action::PurgePlugged),
            (100.0, Action::CapOpened),
            (130.0, Action::CapClosed),
        ];
        let of = |check| shown(check, (0.0, 200.0), &actions, Vec::new()).0;
        assert_eq!(of(Check::ThrottleFollow), (50.0, 76.0));
        assert_eq!(of(Check::CapOffZero), (97.0, 133.0));
    }

    #[test]
    fn the_deepest_return_is_drawn_larger_in_a_long_plot() {
        let one = |start: f64, depth: f64| {
            let points = [
                (start - 3.0, -depth),
                (start, -depth),
                (start + 0.1, -depth / 2.0),
                (start + 9.0, 0.0),
            ];
            fit(MeasureName::RecoveryTime, &points)
        };
        let fits = [one(20.0, 200.0), one(40.0, 400.0)];
        let (found, fitted) = deepest_return(&fits, (at(0.0), at(60.0))).unwrap();
        assert_eq!((found.0.seconds(), found.1.seconds()), (39.0, 46.4));
        assert_eq!(fitted, fits[1]);
        assert_eq!(deepest_return(&fits, (at(20.0), at(45.0))), None);
    }

    #[test]
    fn a_vacuum_that_is_lost_at_once_is_drawn_larger() {
        let fits = [fit(MeasureName::SealedDecay, &[(25.0, -900.0), (35.0, -100.0)])];
        let found = quick_decay(&fits, (at(20.0), at(180.0))).map(|it| it.0);
        assert_eq!(found, Some((at(22.0), at(38.0))));
        assert_eq!(quick_decay(&fits, (at(20.0), at(50.0))), None);
        assert_eq!(quick_decay(&fits, (at(30.0), at(180.0))), None);
    }
}
