use i_slint_backend_testing::{AccessibleRole, ElementHandle};
use slint::ComponentHandle;
use slint::platform::PointerEventButton;
use stilltank::checks::{FitCurve, Progress, Rails, Step};
use stilltank::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use stilltank::jobs::{Event, LinkState, SampleBatch};
use stilltank::recording::{Action, ActionAt, Recording};
use stilltank::ui::stage::{Screen, Stage};
use stilltank::units::{Estimate, Instant};
use stilltank::vehicle::Signal;

use crate::stage::{PHONE, TABLET, labelled, says, settle, stage, with_role};

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

/// Texts on the page that hold these words.
fn texts(stage: &Stage, words: &str) -> Vec<String> {
    let all = with_role(stage, AccessibleRole::Text);
    let labels = all.iter().filter_map(ElementHandle::accessible_label);
    let mut found: Vec<String> =
        labels.map(|it| it.to_string()).filter(|it| it.contains(words)).collect();
    found.dedup();
    found
}

#[test]
fn a_touch_on_the_strip_reads_the_values_there_and_another_puts_the_cursor_away() {
    let stage = stage(TABLET, Screen::Visit);
    let strip = || {
        let images = with_role(&stage, AccessibleRole::Image);
        let told = |it: &ElementHandle| it.accessible_label().unwrap_or_default();
        images.into_iter().find(|it| told(it).starts_with("Tank pressure")).unwrap()
    };
    assert_eq!(texts(&stage, ": Tank pressure"), Vec::<String>::new());
    strip().mock_single_click(PointerEventButton::Left);
    settle(&stage);
    let read = texts(&stage, ": Tank pressure");
    assert_eq!(read.len(), 1, "{read:?}");
    assert!(read[0].contains("Pa"), "{read:?}");
    strip().mock_single_click(PointerEventButton::Left);
    settle(&stage);
    assert_eq!(texts(&stage, ": Tank pressure"), Vec::<String>::new());
}

#[test]
fn the_strip_shows_more_time_or_less_and_comes_back_to_the_present() {
    let stage = stage(TABLET, Screen::Visit);
    let drawn = || stage.window().window().take_snapshot().unwrap().as_bytes().to_vec();
    let usual = drawn();
    labelled(&stage, "Less time, larger").invoke_accessible_default_action();
    settle(&stage);
    assert_ne!(drawn(), usual);
    stage.drag_strip(150.0);
    settle(&stage);
    let earlier = drawn();
    labelled(&stage, "Back to the present").invoke_accessible_default_action();
    settle(&stage);
    assert_ne!(drawn(), earlier);
    labelled(&stage, "More time, smaller").invoke_accessible_default_action();
    settle(&stage);
    assert_eq!(drawn(), usual);
}

#[test]
fn the_circuit_shows_the_flow_while_the_car_purges() {
    let stage = stage(TABLET, Screen::Follow);
    let circuit = |stage: &Stage| {
        let label = "The vapour circuit, from the throttle to the tank";
        labelled(stage, label).accessible_value().unwrap_or_default().to_string()
    };
    assert_eq!(circuit(&stage), "", "the valve is unplugged");
    let at = Instant::from_seconds(260.0);
    stage.feed(Event::Samples(SampleBatch {
        samples: vec![(Signal::PurgeCommand, at, 30.0), (Signal::EngineSpeed, at, 750.0)],
        actions: vec![ActionAt { at, action: Action::PurgePlugged }],
        now: at,
    }));
    stage.refresh();
    stage.set_text_scale(1.0);
    settle(&stage);
    assert_eq!(circuit(&stage), "vapour flows to the engine");
}

/// Once a check ended, what it fitted lies over the trace. With STILLTANK_SCREENSHOTS=DIR the pictures
/// are kept.
#[test]
fn a_check_that_ended_shows_what_it_fitted() {
    let keep = std::env::var_os("STILLTANK_SCREENSHOTS");
    for (name, size) in [("phone", PHONE), ("tablet", TABLET)] {
        let ended = |fits: Vec<FitCurve>| {
            let stage = stage(size, Screen::Unplug);
            stage.feed(Event::Fitted(fits));
            stage.feed(Event::CheckEnded(Box::new(CheckResult {
                check: Check::UnplugRecovery,
                outcome: Outcome::Pass,
                reason: Reason::ReturnsAtOnce,
                measures: Vec::new(),
                window: (Instant::from_seconds(100.0), Instant::from_seconds(122.0)),
            })));
            settle(&stage);
            stage.window().window().take_snapshot().unwrap()
        };
        let level = |since: f64| -9.0 - 300.0 * (-since.max(0.0) / 0.45).exp();
        let point = |tenth: i32| {
            let since = f64::from(tenth) / 10.0;
            let value = level(since);
            let at = Instant::from_seconds(118.6 + since);
            (at, Estimate { value, low: value - 5.0, high: value + 5.0 })
        };
        let points = (-20..34).map(point).collect();
        let fit = FitCurve { measure: MeasureName::RecoveryTime, points };
        let (without, with) = (ended(Vec::new()), ended(vec![fit]));
        let differ = without.as_slice().iter().zip(with.as_slice()).filter(|(a, b)| a != b).count();
        assert!(differ > 200, "{name}: {differ}");
        if let Some(folder) = &keep {
            let file = std::path::Path::new(folder).join(format!("fit-{name}-day.png"));
            crate::pictures::write(&file, &with);
        }
    }
}

/// Whether the running check tells a reading far outside its rails, which hold since the plug was pulled
/// at 2 s, as such; the purge commanded, and the plug pushed in again where it is said.
fn is_told_outside(percent: f64, plugged: Option<f64>) -> bool {
    let at = Instant::from_seconds;
    let stage = stage(TABLET, Screen::Unplug);
    let mut recording = Recording::default();
    for second in 0..8 {
        recording.push(Signal::PurgeCommand, at(f64::from(second)), percent);
        recording.push(Signal::TankPressure, at(f64::from(second)), -200.0);
    }
    recording.push_action(at(2.0), Action::PurgeUnplugged);
    if let Some(second) = plugged {
        recording.push_action(at(second), Action::PurgePlugged);
    }
    stage.feed(Event::Recording(Box::new(recording)));
    stage.feed(Event::Check(Box::new(Progress {
        check: Check::UnplugRecovery,
        step: Step::PlugPurge,
        since: at(2.0),
        remaining: None,
        noticed: None,
        cautions: &[],
        certainty: 0.5,
        repetitions: Vec::new(),
        repetitions_left: 1,
        rails: vec![Rails { from: at(2.0), until: None, low: -10.0, high: 10.0 }],
        outcome_so_far: Outcome::Inconclusive,
    })));
    settle(&stage);
    says(&stage, "Outside the rails")
}

#[test]
fn a_reading_is_judged_no_more_once_purge_draws_on_the_tank() {
    assert!(is_told_outside(30.0, None), "unplugged, the valve is shut");
    assert!(!is_told_outside(30.0, Some(5.5)));
    assert!(is_told_outside(0.0, Some(5.5)), "plugged in, and no purge");
}
