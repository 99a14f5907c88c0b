//! Valve unplugged, throttle opened wide: does the tank follow the manifold?

use super::examination::Examination;
use super::leak_measures;
use super::outcome::instants;
use crate::evidence::{Check, CheckResult, Outcome, Reason};
use crate::vehicle::Signal;

pub(super) fn examine(examination: &Examination) -> Option<CheckResult> {
    let scene = &examination.scene;
    let running_unplugged = scene.select(|i| scene.running[i] && scene.unplugged[i]);
    let (&first, &last) = (running_unplugged.first()?, running_unplugged.last()?);
    // Somebody who only unplugged made no throttle check.
    let opened = scene
        .openings
        .iter()
        .any(|opening| scene.unplugs.iter().any(|span| span.0 < opening.0 && opening.0 < span.1));
    if !opened {
        return None;
    }
    let Some(follow) = examination.follow() else {
        let reason = if scene.flow_source.is_none() {
            Reason::SignalMissing(Signal::ManifoldPressure)
        } else {
            Reason::ThrottleNotOpened
        };
        return Some(CheckResult {
            check: Check::ThrottleFollow,
            outcome: Outcome::Inconclusive,
            reason,
            measures: Vec::new(),
            window: instants(scene.times[first], scene.times[last]),
        });
    };
    let measures = leak_measures::measures(examination, &follow);
    let (outcome, reason) = leak_measures::outcome(
        examination,
        &follow,
        Reason::FollowsThrottle,
        Reason::DoesNotFollow,
    );
    let window = instants(scene.times[first], scene.times[last]);
    Some(CheckResult { check: Check::ThrottleFollow, outcome, reason, measures, window })
}
