use i_slint_backend_testing::{AccessibleRole, ElementHandle};
use stilltank::jobs::{Command, Event, FillUpDraft};
use stilltank::ui::stage::{Screen, Stage};

use crate::stage::{PHONE, TABLET, control, labelled, press, says, settle, stage, with_role};

/// Label, description and value of the timeline's rows.
fn rows(stage: &Stage) -> Vec<(String, String, String)> {
    let text = |text: Option<slint::SharedString>| text.unwrap_or_default().to_string();
    let row = |it: &ElementHandle| {
        (
            text(it.accessible_label()),
            text(it.accessible_description()),
            text(it.accessible_value()),
        )
    };
    with_role(stage, AccessibleRole::ListItem).iter().map(row).collect()
}

#[test]
fn fill_ups_stand_among_the_visits_with_what_they_did_to_the_trim() {
    for size in [PHONE, TABLET] {
        let stage = stage(size, Screen::Vehicle);
        let rows = rows(&stage);
        let titles: Vec<&str> = rows.iter().map(|it| it.0.as_str()).collect();
        let first = ["Fill-up, 38.2 L", "Visit 1: not certain yet", "Fill-up, 41.0 L"];
        assert_eq!(titles[..3], first, "oldest first");
        let noted = "Rough for 90 s afterwards";
        assert_eq!((rows[0].1.as_str(), rows[0].2.as_str()), (noted, "Trim −17 %"));
    }
    let stage = stage(TABLET, Screen::Vehicle);
    let clean = rows(&stage).into_iter().find(|it| it.0 == "Fill-up, 39.5 L").unwrap();
    assert_eq!((clean.1.as_str(), clean.2.as_str()), ("Ran clean afterwards", "Trim −3 %"));
}

#[test]
fn a_fill_up_is_added_by_hand() {
    for size in [PHONE, TABLET] {
        let stage = stage(size, Screen::Vehicle);
        labelled(&stage, "Add a fill-up").invoke_accessible_default_action();
        settle(&stage);
        let field = |label: &str| {
            let fields = with_role(&stage, AccessibleRole::TextInput);
            let named = |it: &ElementHandle| it.accessible_label().as_deref() == Some(label);
            fields.into_iter().find(named).unwrap()
        };
        field("Litres, if you know").set_accessible_value("38.2");
        field("Paid, USD").set_accessible_value("41.64");
        field("Odometer, km").set_accessible_value("87412");
        field("How it ran afterwards").set_accessible_value("rough");
        stage.commands();
        labelled(&stage, "Add the fill-up").invoke_accessible_default_action();
        let fill_up = FillUpDraft {
            litre: "38.2".to_owned(),
            cost: "41.64".to_owned(),
            currency: "USD".to_owned(),
            odometer_km: "87412".to_owned(),
            note: "rough".to_owned(),
        };
        assert_eq!(stage.commands(), [Command::AddFillUp { vehicle: 1, fill_up }]);
        settle(&stage);
        let form = ElementHandle::find_by_accessible_label(stage.window(), "Add the fill-up");
        assert_eq!(form.count(), 0, "the form is gone");
    }
}

#[test]
fn a_planned_recheck_says_to_begin_before_the_fill_up() {
    let stage = stage(TABLET, Screen::Vehicle);
    let texts = with_role(&stage, AccessibleRole::Text);
    let said = texts.iter().filter_map(ElementHandle::accessible_label);
    let planned = said.into_iter().find(|it| it.starts_with("Next: recheck at a fill-up"));
    assert!(planned.is_some_and(|it| it.contains("before you fill up")));
}

/// What was entered stays until it is kept; then the vehicle opens, since that is what one wants of it next.
#[test]
fn an_added_vehicle_opens_and_a_refused_one_stays_in_the_form() {
    for size in [PHONE, TABLET] {
        let stage = stage(size, Screen::Vehicle);
        let page = stage.shown_vehicle().unwrap();
        stage.show(Screen::Vehicles);
        settle(&stage);
        press(&stage, AccessibleRole::Button, "Add a vehicle");
        assert!(says(&stage, "A name is enough to begin with."));
        let name = || control(&stage, AccessibleRole::TextInput, "Name");
        name().set_accessible_value("Grey hatchback");
        settle(&stage);
        assert!(!says(&stage, "A name is enough to begin with."));
        stage.commands();
        press(&stage, AccessibleRole::Button, "Add");
        let asked = stage.commands();
        let added = |it: &Command| matches!(it, Command::AddVehicle { name, .. } if name == "Grey hatchback");
        assert!(asked.iter().any(added), "{asked:?}");
        stage.feed(Event::Failed("Its VIN is another vehicle's.".to_owned()));
        settle(&stage);
        assert_eq!(name().accessible_value().unwrap_or_default(), "Grey hatchback");
        press(&stage, AccessibleRole::Button, "Add");
        stage.feed(Event::Vehicle(Box::new(page)));
        settle(&stage);
        assert_eq!(with_role(&stage, AccessibleRole::TextInput).len(), 0, "the form is gone");
        assert!(with_role(&stage, AccessibleRole::ListItem).len() > 2, "its timeline is shown");
    }
}
