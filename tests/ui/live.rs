use i_slint_backend_testing::ElementHandle;
use stilltank::jobs::{Event, LinkState, SampleBatch};
use stilltank::ui::stage::{Screen, Stage};
use stilltank::units::Instant;
use stilltank::vehicle::Signal;

use crate::stage::{PHONE, TABLET, labelled, settle, stage};

fn sample(stage: &Stage, at: f64, pascal: f64, now: f64) {
    stage.feed(Event::Samples(SampleBatch {
        samples: vec![(Signal::TankPressure, Instant::from_seconds(at), pascal)],
        actions: Vec::new(),
        now: Instant::from_seconds(now),
    }));
    settle(stage);
}

fn reading(stage: &Stage) -> String {
    let all: Vec<_> =
        ElementHandle::find_by_accessible_label(stage.window(), "Tank pressure").collect();
    let values = all.iter().filter_map(|element| element.accessible_value());
    values.map(|value| value.to_string()).find(|value| !value.is_empty()).unwrap_or_default()
}

#[test]
fn reading_follows_the_samples() {
    let stage = stage(TABLET, Screen::Visit);
    sample(&stage, 60.0, -124.0, 60.1);
    assert_eq!(reading(&stage), "−124 Pa");
}

#[test]
fn old_reading_says_how_old_it_is() {
    let stage = stage(PHONE, Screen::Unplug);
    sample(&stage, 120.0, -124.0, 121.4);
    // Found by its text: the note stands beside the label.
    labelled(&stage, "1.4 s old");
}

#[test]
fn lost_link_says_so_at_once_and_keeps_the_check() {
    let stage = stage(TABLET, Screen::Unplug);
    let since = Instant::from_seconds(117.0);
    stage.feed(Event::Link(LinkState::Lost { since }));
    sample(&stage, 117.5, -288.0, 121.0);
    labelled(&stage, "Link lost, 0:04. Trying again");
    labelled(&stage, "Keep it unplugged. Watch the tank settle.");
}

#[test]
fn unknown_is_a_dash_and_why_never_a_zero() {
    crate::stage::platform();
    let stage = Stage::open(1280.0, 800.0).unwrap();
    stage.show(Screen::Visit);
    stage.feed(Event::Recording(Box::default()));
    settle(&stage);
    assert_eq!(reading(&stage), "no reading yet");
}
