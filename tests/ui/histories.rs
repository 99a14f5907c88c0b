use i_slint_backend_testing::{AccessibleRole, ElementHandle};
use stilltank::jobs::{
    Command, CustomerLine, Event, FileKind, HistoryCommand, HistoryEvent, VehicleDetails,
};
use stilltank::ui::stage::{Screen, Stage};

use crate::stage::{PHONE, TABLET, control, press, says, settle, stage, with_role};

/// Tall enough for every field to be in view: what is scrolled away is not there to be asked.
const TALL: (f32, f32) = (1280.0, 1500.0);

fn write(stage: &Stage, label: &str, text: &str) {
    control(stage, AccessibleRole::TextInput, label).set_accessible_value(text);
    settle(stage);
}

/// What was asked of the histories since the last look.
fn asked(stage: &Stage) -> Vec<HistoryCommand> {
    let histories = |command| match command {
        Command::Histories(command) => Some(command),
        _ => None,
    };
    stage.commands().into_iter().filter_map(histories).collect()
}

fn details(notes: &str) -> VehicleDetails {
    VehicleDetails {
        name: "Grey hatchback".to_owned(),
        vin: "9ZZAB12C0R1000001".to_owned(),
        plate: "AB 123".to_owned(),
        make: "Invented Motors".to_owned(),
        fuel: "E10".to_owned(),
        tank_litre: "48.5".to_owned(),
        notes: notes.to_owned(),
    }
}

#[test]
fn a_vehicles_details_are_opened_from_its_page_and_kept() {
    for (size, label) in [(PHONE, "About it"), (TABLET, "About the vehicle")] {
        let stage = stage(size, Screen::Vehicle);
        assert!(says(&stage, "Corner bakery"), "whose it is stands on the page");
        stage.commands();
        press(&stage, AccessibleRole::Button, label);
        assert_eq!(asked(&stage), [HistoryCommand::ListCustomers]);
        control(&stage, AccessibleRole::TextInput, "Name");
    }
    let stage = stage(TALL, Screen::Details);
    stage.commands();
    write(&stage, "Notes", "Second owner");
    press(&stage, AccessibleRole::Button, "Keep it");
    let kept = HistoryCommand::EditVehicle { vehicle: 1, details: details("Second owner") };
    assert_eq!(asked(&stage), [kept], "the customer is as before and not entered again");
}

#[test]
fn a_customer_is_changed_chosen_added_or_taken_away() {
    let stage = stage(TALL, Screen::Details);
    let kept = |stage: &Stage| {
        press(stage, AccessibleRole::Button, "Keep it");
        asked(stage).pop().unwrap()
    };
    let set = |customer| HistoryCommand::SetCustomer { vehicle: 1, customer };
    let line = |id, name: &str, phone: &str, notes: &str| CustomerLine {
        id,
        name: name.to_owned(),
        phone: phone.to_owned(),
        email: String::new(),
        notes: notes.to_owned(),
    };
    stage.commands();
    write(&stage, "Telephone", "555 0199");
    let changed = line(Some(1), "Corner bakery", "555 0199", "Vans only before seven");
    assert_eq!(kept(&stage), set(Some(changed)));
    press(&stage, AccessibleRole::Button, "Someone else");
    write(&stage, "Whose vehicle it is", "taxi");
    press(&stage, AccessibleRole::RadioButton, "River taxi");
    assert_eq!(kept(&stage), set(Some(line(Some(3), "River taxi", "555 0177", ""))));
    press(&stage, AccessibleRole::Button, "Someone else");
    write(&stage, "Whose vehicle it is", "A. New");
    assert_eq!(kept(&stage), set(Some(line(None, "A. New", "", ""))));
    assert!(!says(&stage, "Kept."), "not before it is");
    let mut page = stage.shown_vehicle().unwrap();
    page.customer = Some(line(Some(9), "A. New", "", ""));
    stage.feed(Event::Vehicle(Box::new(page)));
    settle(&stage);
    assert!(says(&stage, "Kept."));
    let again = kept(&stage);
    assert!(matches!(again, HistoryCommand::EditVehicle { .. }), "added once: {again:?}");
    write(&stage, "Whose vehicle it is", "");
    assert_eq!(kept(&stage), set(None));
}

#[test]
fn one_vehicle_or_everything_is_written_and_where_to_is_said() {
    let stage = stage(TALL, Screen::Details);
    stage.commands();
    press(&stage, AccessibleRole::Button, "Write the file");
    assert_eq!(asked(&stage), [HistoryCommand::Export { vehicle: Some(1), to: None }]);
    let written = vec!["/data/exports/grey.stilltank".into()];
    stage.feed(Event::Histories(HistoryEvent::Exported(written)));
    settle(&stage);
    assert!(says(&stage, "/data/exports/grey.stilltank"));
    let stage = crate::stage::stage(TALL, Screen::Moving);
    stage.commands();
    press(&stage, AccessibleRole::Button, "Write it");
    write(&stage, "File or folder", "/media/stick/all");
    press(&stage, AccessibleRole::Button, "Write it");
    let export = |to| HistoryCommand::Export { vehicle: None, to };
    assert_eq!(asked(&stage), [export(None), export(Some("/media/stick/all".into()))]);
}

#[test]
fn a_found_file_is_picked_and_brought_in_and_what_came_is_said() {
    let stage = stage(TALL, Screen::Moving);
    assert!(says(&stage, "New here: vehicles 2, visits 5, recordings 5, photos 3, entries 41."));
    assert!(says(&stage, "one and the same by their VIN: 1"));
    stage.commands();
    press(&stage, AccessibleRole::Button, "Bring it in");
    assert_eq!(asked(&stage), [], "no file is chosen");
    press(&stage, AccessibleRole::RadioButton, "all-2026-03-09.stilltank");
    press(&stage, AccessibleRole::Button, "Bring it in");
    let file = "Downloads/all-2026-03-09.stilltank".into();
    assert_eq!(asked(&stage), [HistoryCommand::Import(file)]);
}

#[test]
fn an_answer_to_a_conflict_is_chosen_with_one_press() {
    let stage = stage(TALL, Screen::Moving);
    stage.commands();
    press(&stage, AccessibleRole::RadioButton, "Old grey");
    let commands = asked(&stage);
    let [HistoryCommand::Settle { conflict, answer: 1 }] = commands.as_slice() else {
        panic!("{commands:?}")
    };
    assert_eq!(
        (conflict.question.as_str(), conflict.conflict.field.as_str()),
        ("Vehicle’s name", "name")
    );
    stage.feed(Event::Histories(HistoryEvent::Conflicts(Vec::new())));
    settle(&stage);
    assert!(says(&stage, "Nothing. All devices agree."));
}

/// It is a question to every entry ever made, so that the start must not wait for it.
#[test]
fn conflicts_are_asked_for_where_they_are_shown_and_not_at_the_start() {
    let stage = stage(TALL, Screen::Vehicles);
    stage.commands();
    stage.begin();
    assert_eq!(asked(&stage), []);
    press(&stage, AccessibleRole::Button, "Settings");
    assert_eq!(asked(&stage), [HistoryCommand::ListConflicts]);
    press(&stage, AccessibleRole::Button, "Move between devices");
    let found = asked(&stage);
    assert!(found.contains(&HistoryCommand::ListConflicts), "{found:?}");
}

#[test]
fn pages_look_for_files_of_their_kind_and_a_picture_is_picked_from_the_list() {
    let stage = stage((1280.0, 1100.0), Screen::Photos);
    let found = asked(&stage);
    assert!(found.contains(&HistoryCommand::FindFiles(FileKind::Pictures)), "{found:?}");
    press(&stage, AccessibleRole::RadioButton, "connector.jpg");
    press(&stage, AccessibleRole::Button, "Add the photo");
    let path = "Pictures/connector.jpg".into();
    assert_eq!(stage.commands(), [Command::AddPhoto { path, caption: String::new() }]);
}

#[test]
fn a_damaged_database_opens_on_its_copies_and_what_was_saved_is_said() {
    let stage = stage(TABLET, Screen::Rescue);
    stage.commands();
    press(&stage, AccessibleRole::Button, "Restore the copy");
    assert_eq!(stage.commands(), [], "no copy is chosen");
    press(&stage, AccessibleRole::RadioButton, "2026-03-07");
    press(&stage, AccessibleRole::Button, "Restore the copy");
    let backup = "stilltank.db-backups/2026-03-07.db".into();
    assert_eq!(stage.commands(), [Command::Restore { backup, agreed: true }]);
    press(&stage, AccessibleRole::Button, "Save what can be read");
    assert_eq!(asked(&stage), [HistoryCommand::Salvage("".into())]);
    let stage = crate::stage::stage(PHONE, Screen::Rescued);
    let rows = with_role(&stage, AccessibleRole::ListItem);
    let row = |it: &ElementHandle| {
        let text = |text: Option<slint::SharedString>| text.unwrap_or_default().to_string();
        (
            text(it.accessible_label()),
            text(it.accessible_value()),
            text(it.accessible_description()),
        )
    };
    let told: Vec<_> = rows.iter().map(row).collect();
    let lost = ("Pieces of recordings".to_owned(), "148".to_owned(), "9 lost".to_owned());
    assert!(told.contains(&lost), "{told:?}");
    press(&stage, AccessibleRole::Button, "Go on to the vehicles");
    assert_eq!(
        ElementHandle::find_by_accessible_label(stage.window(), "What was saved").count(),
        0
    );
}

#[test]
fn another_damaged_file_is_looked_into_from_the_settings() {
    let stage = stage(TALL, Screen::Backups);
    stage.commands();
    write(&stage, "File of the damaged database", "/tmp/old.db");
    press(&stage, AccessibleRole::Button, "Save what can be read");
    assert_eq!(asked(&stage), [HistoryCommand::Salvage("/tmp/old.db".into())]);
}
