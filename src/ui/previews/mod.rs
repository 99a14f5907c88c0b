//! Invented visits that show every page, for pictures and for the tests of the pages. No number in
//! here was measured on a car.

mod car;
mod cards;
mod comparison;
pub(super) mod german;
mod keeping;
mod money;
mod traces;

use std::time::Duration;

use chrono::{DateTime, TimeZone, Utc};

use crate::checks::{Progress, Rails, Step};
use crate::diagnosis::Hypothesis;
use crate::evidence::{Check, Outcome};
use crate::jobs::{AdapterSeen, Event, LinkAddress, LinkState, SetupStep, StreamOffer};
use crate::recording::{Action, ActionAt};
use crate::units::Instant;
use crate::vehicle::Fault;

pub(super) use car::own_signals;
pub(super) use cards::{card, vehicle_page, vehicles};
pub(super) use comparison::compared;
pub(super) use keeping::{backups, damaged, known_customers, moved, pictures, salvaged};

/// How far the invented visit has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Stage {
    /// Complaint written, checks under way.
    Checking,
    /// Verdict reached.
    Judged,
    /// Part replaced.
    Repaired,
    /// Repair proven.
    Proven,
}

/// A date of the invented visits.
pub(super) fn date(month: u32, day: u32, hour: u32, minute: u32) -> DateTime<Utc> {
    Utc.with_ymd_and_hms(2026, month, day, hour, minute, 0).single().unwrap_or_default()
}

/// A good link.
pub(super) fn linked() -> Event {
    Event::Link(LinkState::Linked { readings_per_second: Some(9.6) })
}

/// The visit's recording on the card.
pub(super) fn visit_recording() -> Event {
    Event::Recording(Box::new(traces::visit()))
}

/// The rails that held while the purge was shut.
pub(super) fn rest_progress() -> Event {
    let rails = Rails { from: at(0.0), until: Some(at(39.0)), low: -27.0, high: 21.0 };
    Event::Check(Box::new(Progress {
        check: Check::RestZero,
        step: Step::Done,
        since: at(0.0),
        remaining: None,
        noticed: None,
        cautions: &[],
        certainty: 0.97,
        repetitions: Vec::new(),
        repetitions_left: 0,
        rails: vec![rails],
        outcome_so_far: Outcome::Pass,
    }))
}

/// Just unplugged for the second time.
pub(super) fn unplug_running() -> Vec<Event> {
    let recording = traces::unplug();
    let noticed = recording.actions().last().copied();
    let first = Rails { from: at(106.4), until: Some(at(110.6)), low: -27.0, high: 21.0 };
    let second = Rails { from: at(118.6), until: None, low: -27.0, high: 21.0 };
    let progress = Progress {
        check: Check::UnplugRecovery,
        step: Step::KeepUnplugged,
        since: at(100.0),
        remaining: Some(Duration::from_secs(6)),
        noticed,
        cautions: Step::KeepUnplugged.cautions(false),
        certainty: 0.82,
        repetitions: vec![Outcome::Fail],
        repetitions_left: 2,
        rails: vec![first, second],
        outcome_so_far: Outcome::Fail,
    };
    vec![Event::Recording(Box::new(recording)), Event::Check(Box::new(progress))]
}

/// The fourth opening of the throttle, the tank outside the rails.
pub(super) fn follow_running() -> Vec<Event> {
    let recording = traces::follow(118.0, -206.0, 4);
    let rails = Rails { from: at(200.0), until: None, low: -226.0, high: -186.0 };
    let progress = Progress {
        check: Check::ThrottleFollow,
        step: Step::OpenThrottle,
        since: at(200.0),
        remaining: None,
        noticed: Some(ActionAt { at: at(196.0), action: Action::PurgeUnplugged }),
        cautions: Step::OpenThrottle.cautions(false),
        certainty: 0.93,
        repetitions: vec![Outcome::Fail; 3],
        repetitions_left: 1,
        rails: vec![rails],
        outcome_so_far: Outcome::Fail,
    };
    let leading = Hypothesis::Fault(Fault::PurgeValveLeaking);
    vec![
        Event::Recording(Box::new(recording)),
        Event::Check(Box::new(progress)),
        Event::Leading(leading, 0.93),
    ]
}

/// A sealed tank in which nothing moved: the hold goes on with the engine off. `stopped` says whether it
/// was stopped already.
pub(super) fn sealed_stop(stopped: bool) -> Vec<Event> {
    let recording = traces::sealed(stopped);
    let noticed = recording.actions().last().copied();
    let step = if stopped { Step::HoldSealed } else { Step::StopEngine };
    let progress = Progress {
        check: Check::SealedHold,
        step,
        since: at(100.0),
        remaining: stopped.then(|| Duration::from_secs(128)),
        noticed,
        cautions: step.cautions(true),
        certainty: 0.41,
        repetitions: Vec::new(),
        repetitions_left: 0,
        rails: Vec::new(),
        outcome_so_far: Outcome::Inconclusive,
    };
    vec![Event::Recording(Box::new(recording)), Event::Check(Box::new(progress))]
}

/// What an invented adapter offers.
pub(super) fn streams() -> Event {
    let offer = |pair: &str, without_response, usual| {
        let pair = pair.parse().ok()?;
        Some(StreamOffer { pair, without_response, usual })
    };
    let offers = [
        offer("ffe1/ffe1", true, true),
        offer("fff2/fff1", true, false),
        offer("aa01/aa02", false, false),
    ];
    let address = LinkAddress::Bluetooth("Garage stick".to_owned());
    Event::Streams { address, offers: offers.into_iter().flatten().collect() }
}

/// Adapters in reach, one of them being joined.
pub(super) fn adapters() -> Vec<Event> {
    let seen = |name: &str, dbm: i16, known: bool| AdapterSeen {
        known,
        ..AdapterSeen::wireless(name, Some(name), Some(dbm))
    };
    let list = vec![
        seen("Garage stick", -52, true),
        seen("Adapter 7F2A", -68, false),
        seen("Unnamed, 61:0C", -87, false),
    ];
    vec![
        Event::Adapters(list),
        Event::Link(LinkState::Connecting(SetupStep::Opening)),
        Event::Link(LinkState::Connecting(SetupStep::WakingAdapter)),
        Event::Link(LinkState::Connecting(SetupStep::FindingProtocol)),
    ]
}

fn at(seconds: f64) -> Instant {
    Instant::from_seconds(seconds)
}
