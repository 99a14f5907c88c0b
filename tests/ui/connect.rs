use i_slint_backend_testing::{AccessibleRole, ElementHandle};
use stilltank::jobs::{Command, Event, LinkAddress};
use stilltank::ui::stage::{Screen, Stage};

use crate::stage::{PHONE, TABLET, labelled, settle, stage, with_role};

fn stick() -> LinkAddress {
    LinkAddress::Bluetooth("Garage stick".to_owned())
}

/// The button with this label in the row of this adapter.
fn button(stage: &Stage, label: &str, adapter: &str) -> ElementHandle {
    with_role(stage, AccessibleRole::Button)
        .into_iter()
        .find(|it| {
            it.accessible_label().as_deref() == Some(label)
                && it.accessible_description().as_deref() == Some(adapter)
        })
        .unwrap_or_else(|| panic!("no button {label} for {adapter}"))
}

#[test]
fn an_adapter_is_forgotten_or_remembered_by_hand() {
    for size in [PHONE, TABLET] {
        let stage = stage(size, Screen::Connect);
        labelled(&stage, "Manage").invoke_accessible_default_action();
        settle(&stage);
        stage.commands();
        button(&stage, "Forget", "Garage stick").invoke_accessible_default_action();
        assert_eq!(stage.commands(), [Command::ForgetAdapter(stick())]);
        button(&stage, "Remember", "Adapter 7F2A").invoke_accessible_default_action();
        let address = LinkAddress::Bluetooth("Adapter 7F2A".to_owned());
        let name = "Adapter 7F2A".to_owned();
        assert_eq!(stage.commands(), [Command::RememberAdapter { address, name }]);
        labelled(&stage, "Done").invoke_accessible_default_action();
        settle(&stage);
        assert!(ElementHandle::find_by_accessible_label(stage.window(), "Forget").next().is_none());
    }
}

#[test]
fn the_person_chooses_over_what_an_adapter_sends() {
    let stage = stage(PHONE, Screen::Adapters);
    stage.commands();
    button(&stage, "Choose its channel", "Garage stick").invoke_accessible_default_action();
    assert_eq!(stage.commands(), [Command::ListStreams(stick())]);
    settle(&stage);
    labelled_text(&stage, "Asking the adapter what it offers …");
    stage.feed(Event::Streams { address: stick(), offers: Vec::new() });
    settle(&stage);
    labelled_text(&stage, "this is no adapter");

    stage.show(Screen::Adapters);
    settle(&stage);
    stage.commands();
    assert_eq!(labelled(&stage, "The program chooses").accessible_checked(), Some(true));
    labelled(&stage, "fff2/fff1").invoke_accessible_default_action();
    let stream = Some("fff2/fff1".parse().unwrap());
    assert_eq!(stage.commands(), [Command::ChooseStream { address: stick(), stream }]);
    labelled(&stage, "The program chooses").invoke_accessible_default_action();
    let none = Command::ChooseStream { address: stick(), stream: None };
    assert_eq!(stage.commands(), [none]);
}

/// A text that holds these words.
fn labelled_text(stage: &Stage, words: &str) {
    let texts = with_role(stage, AccessibleRole::Text);
    let found = texts.iter().filter_map(ElementHandle::accessible_label);
    assert!(found.into_iter().any(|it| it.contains(words)), "nobody says {words}");
}

#[test]
fn the_search_can_be_ended_and_begun_again() {
    let stage = stage(PHONE, Screen::Connect);
    stage.feed(Event::Looking(true));
    stage.commands();
    labelled(&stage, "Stop looking").invoke_accessible_default_action();
    assert_eq!(stage.commands(), [Command::StopScan]);
    stage.feed(Event::Looking(false));
    labelled(&stage, "Look again").invoke_accessible_default_action();
    assert_eq!(stage.commands(), [Command::ScanAdapters]);
}
