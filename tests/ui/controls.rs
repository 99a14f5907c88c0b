use i_slint_backend_testing::AccessibleRole;
use slint::ComponentHandle;
use slint::platform::{Key, PointerEventButton, WindowEvent};
use stilltank::evidence::Observation;
use stilltank::jobs::Command;
use stilltank::ui::stage::{Screen, Stage};

use crate::stage::{PHONE, TABLET, labelled, settle, stage, with_role};

const CONTROLS: [AccessibleRole; 4] = [
    AccessibleRole::Button,
    AccessibleRole::RadioButton,
    AccessibleRole::Checkbox,
    AccessibleRole::TextInput,
];

#[test]
fn every_control_has_a_label_and_is_at_least_48_by_48() {
    for screen in Screen::ALL {
        for size in [PHONE, TABLET] {
            let stage = stage(size, screen);
            for role in CONTROLS {
                for control in with_role(&stage, role) {
                    if control.accessible_read_only() == Some(true) {
                        continue;
                    }
                    let label = control.accessible_label().unwrap_or_default();
                    let extent = control.size();
                    assert!(!label.is_empty(), "{screen:?}: a {role:?} has no label");
                    assert!(
                        extent.height >= 47.9 && extent.width >= 47.9,
                        "{screen:?}: {label} is {} by {}",
                        extent.width,
                        extent.height
                    );
                }
            }
        }
    }
}

#[test]
fn buttons_of_a_running_check_are_64_high() {
    for size in [PHONE, TABLET] {
        let stage = stage(size, Screen::Unplug);
        assert!(labelled(&stage, "I plugged it back in").size().height >= 63.9);
    }
}

#[test]
fn main_buttons_stay_in_view_with_the_largest_text() {
    for (screen, label) in [
        (Screen::Unplug, "I plugged it back in"),
        (Screen::Verdict, "Record the repair"),
        (Screen::Repair, "Save, then prove it"),
        (Screen::Report, "Write the report"),
    ] {
        for size in [PHONE, TABLET] {
            let stage = stage(size, screen);
            stage.set_text_scale(1.4);
            settle(&stage);
            let button = labelled(&stage, label);
            let (place, extent) = (button.absolute_position(), button.size());
            assert!(
                place.x >= 0.0 && place.x + extent.width <= size.0 + 0.5,
                "{label} leaves the window sideways"
            );
            assert!(
                place.y >= 0.0 && place.y + extent.height <= size.1 + 0.5,
                "{label} leaves the window: {} + {}",
                place.y,
                extent.height
            );
        }
    }
}

#[test]
fn running_instruction_is_announced() {
    let stage = stage(PHONE, Screen::Unplug);
    let block = labelled(&stage, "Keep it unplugged. Watch the tank settle.");
    assert_eq!(format!("{:?}", block.accessible_live_region().unwrap()), "Assertive");
}

#[test]
fn strip_tells_its_reading_and_rails() {
    let stage = stage(TABLET, Screen::Unplug);
    let told = with_role(&stage, AccessibleRole::Image)
        .into_iter()
        .filter_map(|image| image.accessible_label())
        .find(|label| label.contains("rails"));
    let told = told.expect("no strip tells its rails");
    assert!(told.contains("Tank pressure") && told.contains("−27"), "{told}");
}

#[test]
fn what_was_written_survives_a_change_of_layout() {
    let stage = stage(PHONE, Screen::Vehicles);
    labelled(&stage, "Search").set_accessible_value("hatch");
    for (width, height) in [TABLET, (900.0, 700.0), (600.0, 500.0), PHONE] {
        stage.resize(width, height);
        settle(&stage);
        assert_eq!(labelled(&stage, "Search").accessible_value().unwrap(), "hatch");
    }
}

#[test]
fn tap_on_a_vehicle_opens_it_and_one_tap_starts_practice() {
    let stage = stage(TABLET, Screen::Vehicles);
    stage.commands();
    labelled(&stage, "Red pickup").mock_single_click(PointerEventButton::Left);
    assert_eq!(stage.commands(), [Command::OpenVehicle(2)]);
    stage.show(Screen::Vehicles);
    settle(&stage);
    stage.commands();
    labelled(&stage, "Practise on the virtual car").mock_single_click(PointerEventButton::Left);
    assert_eq!(stage.commands(), [Command::StartDemo { fault: None, seed: None }]);
}

#[test]
fn codes_are_cleared_only_after_the_tick_and_only_once() {
    let stage = stage(PHONE, Screen::Codes);
    let button = |stage: &Stage| {
        with_role(stage, AccessibleRole::Button)
            .into_iter()
            .find(|button| button.accessible_label().as_deref() == Some("Clear codes"))
            .unwrap()
    };
    stage.commands();
    button(&stage).invoke_accessible_default_action();
    assert_eq!(stage.commands(), []);
    labelled(&stage, "I have read this. Clear the codes of this car, once.")
        .invoke_accessible_default_action();
    button(&stage).invoke_accessible_default_action();
    assert_eq!(stage.commands(), [Command::ClearCodes { consent: true }]);
    button(&stage).invoke_accessible_default_action();
    assert_eq!(stage.commands(), [], "the tick was for one request");
}

#[test]
fn observation_is_reported_as_it_is_ticked() {
    let stage = stage(TABLET, Screen::More);
    stage.commands();
    labelled(&stage, "The purge valve clicks when commanded").invoke_accessible_default_action();
    let expected = Command::Observe { observation: Observation::PurgeValveClicks, holds: true };
    assert_eq!(stage.commands(), [expected]);
}

#[test]
fn keyboard_reaches_and_presses_a_button() {
    let stage = stage(TABLET, Screen::Verdict);
    let key = |key: Key| {
        let text: slint::SharedString = char::from(key).into();
        stage.window().window().dispatch_event(WindowEvent::KeyPressed { text: text.clone() });
        stage.window().window().dispatch_event(WindowEvent::KeyReleased { text });
    };
    stage.window().window().dispatch_event(WindowEvent::WindowActiveChanged(true));
    // Back, report in the bar, then the main button.
    for _ in 0..3 {
        key(Key::Tab);
    }
    key(Key::Return);
    settle(&stage);
    labelled(&stage, "Save, then prove it");
}
