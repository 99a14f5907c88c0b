use i_slint_backend_testing::AccessibleRole;
use stilltank::diagnosis::{Verdict, VerdictOutcome};
use stilltank::jobs::{Command, Event, HistoryCommand, HistoryEvent, Rejudged, SignalScope};
use stilltank::ui::stage::Screen;
use stilltank::vehicle::{Fault, Signal, TankSource};

use crate::stage::{PHONE, TABLET, control, press, says, settle, stage, with_role};

#[test]
fn the_vent_is_closed_only_after_the_tick_and_once() {
    let stage = stage(TABLET, Screen::Vent);
    stage.commands();
    press(&stage, AccessibleRole::Button, "Close the vent");
    assert_eq!(stage.commands(), []);
    let tick = "I have read this. Close the vent of this car, once.";
    press(&stage, AccessibleRole::Checkbox, tick);
    press(&stage, AccessibleRole::Button, "Close the vent");
    assert_eq!(stage.commands(), [Command::CloseVent { consent: true }]);
    press(&stage, AccessibleRole::Button, "Close the vent");
    assert_eq!(stage.commands(), [], "the consent was for one request");
}

#[test]
fn a_copy_is_restored_only_after_it_was_chosen_and_agreed_to() {
    let stage = stage(TABLET, Screen::Backups);
    stage.commands();
    press(&stage, AccessibleRole::Button, "Restore the copy");
    press(&stage, AccessibleRole::RadioButton, "2026-03-07");
    press(&stage, AccessibleRole::Button, "Restore the copy");
    assert_eq!(stage.commands(), []);
    press(&stage, AccessibleRole::Checkbox, "I have read this. Take the chosen copy back.");
    press(&stage, AccessibleRole::Button, "Restore the copy");
    let backup = "stilltank.db-backups/2026-03-07.db".into();
    assert_eq!(stage.commands(), [Command::Restore { backup, agreed: true }]);
    press(&stage, AccessibleRole::Button, "Back up now");
    assert_eq!(stage.commands(), [Command::BackUpNow]);
}

#[test]
fn a_photo_is_added_by_its_file_and_taken_out_after_a_second_press() {
    // A phone tall enough for the fields below the pictures found on the device.
    for size in [(PHONE.0, 1100.0), TABLET] {
        let stage = stage(size, Screen::Photos);
        stage.commands();
        control(&stage, AccessibleRole::TextInput, "File of the picture")
            .set_accessible_value("/tmp/valve.jpg");
        control(&stage, AccessibleRole::TextInput, "What it shows")
            .set_accessible_value("Old valve");
        settle(&stage);
        press(&stage, AccessibleRole::Button, "Add the photo");
        let add = Command::AddPhoto { path: "/tmp/valve.jpg".into(), caption: "Old valve".into() };
        assert_eq!(stage.commands(), [add]);
        press(&stage, AccessibleRole::Button, "Take out");
        assert_eq!(stage.commands(), []);
        press(&stage, AccessibleRole::Button, "Take out now");
        assert_eq!(stage.commands(), [Command::RemovePhoto(1)]);
    }
}

#[test]
fn another_source_of_tank_pressure_is_one_press_away() {
    let stage = stage(TABLET, Screen::Car);
    stage.commands();
    press(&stage, AccessibleRole::RadioButton, "parameter 32, steps of 0.25 Pa");
    assert_eq!(stage.commands(), [], "it is in use already");
    press(&stage, AccessibleRole::RadioButton, "parameter 54, steps of 1 Pa");
    assert_eq!(stage.commands(), [Command::UseTankSource(Some(TankSource::Wide))]);
    let mut card = stage.shown_card().unwrap();
    let line = card.car.as_mut().and_then(|car| car.tank_source.as_mut()).unwrap();
    line.by_hand = true;
    stage.feed(Event::Visit(Box::new(card)));
    settle(&stage);
    press(&stage, AccessibleRole::Button, "Let the program choose");
    assert_eq!(stage.commands(), [Command::UseTankSource(None)]);
}

#[test]
fn an_own_signal_is_tried_as_it_is_described_and_flaws_are_said() {
    let stage = stage(TABLET, Screen::Signals);
    stage.commands();
    press(&stage, AccessibleRole::Button, "Try it");
    let commands = stage.commands();
    let [Command::TryOwnSignal(signal)] = commands.as_slice() else { panic!("{commands:?}") };
    assert_eq!(signal.signal, Signal::TankSensor);
    assert_eq!((signal.request(), signal.bits), ((0x22, vec![0x12, 0xAB]), Some(12)));
    control(&stage, AccessibleRole::TextInput, "Service, hex").set_accessible_value("2E");
    settle(&stage);
    press(&stage, AccessibleRole::Button, "Try it");
    assert_eq!(stage.commands(), [], "a service that writes is never asked");
}

#[test]
fn own_signals_go_to_a_file_and_come_from_one_for_all_vehicles_or_one() {
    let stage = stage((1280.0, 1500.0), Screen::Signals);
    stage.commands();
    for button in ["Bring in", "Take along"] {
        press(&stage, AccessibleRole::Button, button);
    }
    assert_eq!(stage.commands(), [], "no file is named");
    let name = "File, to bring them in or take them along";
    control(&stage, AccessibleRole::TextInput, name).set_accessible_value("/tmp/own.toml");
    settle(&stage);
    for button in ["Bring in", "Take along"] {
        press(&stage, AccessibleRole::Button, button);
    }
    let file = || "/tmp/own.toml".into();
    let all = SignalScope::AllVehicles;
    let expected = [
        Command::ImportOwnSignals { file: file(), scope: all },
        Command::ExportOwnSignals { file: file(), scope: all },
    ];
    assert_eq!(stage.commands(), expected);
    stage.feed(Event::Histories(HistoryEvent::Exported(vec![file()])));
    settle(&stage);
    assert!(says(&stage, "Written: /tmp/own.toml"));
    press(&stage, AccessibleRole::Checkbox, "For this vehicle alone");
    press(&stage, AccessibleRole::Button, "Take along");
    let scope = SignalScope::ThisVehicle;
    assert_eq!(stage.commands(), [Command::ExportOwnSignals { file: file(), scope }]);
}

#[test]
fn a_reminder_and_the_way_out_of_a_closed_vent_are_said() {
    let stage = stage(PHONE, Screen::Vent);
    assert!(says(&stage, "To end it at once, turn the key off"));
    assert!(says(&stage, "After 10 minutes this program reminds you."));
    let words = "The vent was closed 10 minutes ago. Turn the key off to open it.";
    stage.feed(Event::Reminder(words.to_owned()));
    settle(&stage);
    assert!(says(&stage, words));
    press(&stage, AccessibleRole::Button, "OK");
    assert!(!says(&stage, words), "it was read");
}

#[test]
fn what_guessing_costs_follows_the_prices_that_are_written() {
    // Tall enough for every field to be in view: what is scrolled away is not there to be asked.
    let stage = stage((1280.0, 1700.0), Screen::Repair);
    let told = |label: &str| {
        let lines = with_role(&stage, AccessibleRole::Text);
        let line = lines.into_iter().find(|it| it.accessible_label().is_some_and(|it| it == label));
        line.and_then(|it| it.accessible_value()).map(|it| it.to_string())
    };
    assert_eq!(told("Guessing, on average").as_deref(), Some("83.28"));
    let cap = control(&stage, AccessibleRole::TextInput, "Fuel cap");
    cap.set_accessible_value("28,90");
    settle(&stage);
    // By hand: 28.90 + 0.992 · 64.90.
    assert_eq!(told("Guessing, on average").as_deref(), Some("93.28"));
    cap.set_accessible_value("");
    settle(&stage);
    assert_eq!(told("Guessing, on average").as_deref(), Some("–"));
}

#[test]
fn recordings_are_judged_again_at_a_press_and_what_differs_is_said() {
    let stage = stage((1280.0, 1_800.0), Screen::Settings);
    stage.commands();
    press(&stage, AccessibleRole::Button, "Judge again");
    assert_eq!(stage.commands(), [Command::Histories(HistoryCommand::JudgeAgain)]);
    press(&stage, AccessibleRole::Button, "Judging …");
    assert_eq!(stage.commands(), [], "one at a time");
    let verdict = stage.shown_card().unwrap().verdict.unwrap();
    let sound =
        Verdict { outcome: VerdictOutcome::FaultFound, probability: 0.98, ..verdict.clone() };
    let leaking = Verdict { fault: Some(Fault::PurgeValveLeaking), ..sound };
    let judged = |differs| Rejudged {
        visit: 12,
        vehicle: "Grey hatchback".to_owned(),
        before: Some((verdict.clone(), "0.0.9".to_owned())),
        now: leaking.clone(),
        differs,
    };
    let event = HistoryEvent::JudgedAgain(vec![judged(false), judged(true)]);
    stage.feed(Event::Histories(event));
    settle(&stage);
    assert!(says(&stage, "Judged again: 2. Differently: 1."));
    assert!(says(&stage, "Grey hatchback: was “"));
    control(&stage, AccessibleRole::Button, "Judge again");
}

#[test]
fn sound_is_switched_in_the_settings_as_beside_the_check() {
    let stage = stage(TABLET, Screen::Settings);
    stage.commands();
    press(&stage, AccessibleRole::Checkbox, "Sound");
    let off = Command::SaveSetting { name: "ui_sound".to_owned(), value: "false".to_owned() };
    assert_eq!(stage.commands(), [off]);
    stage.show(Screen::Unplug);
    press(&stage, AccessibleRole::Button, "Sound");
    let on = Command::SaveSetting { name: "ui_sound".to_owned(), value: "true".to_owned() };
    assert!(stage.commands().contains(&on), "the same switch");
}
