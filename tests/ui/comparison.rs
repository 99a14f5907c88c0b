use i_slint_backend_testing::{AccessibleRole, ElementHandle};
use stilltank::jobs::{Command, HistoryCommand};
use stilltank::ui::stage::{Screen, Stage};
use stilltank::wording::Language;

use crate::stage::{TABLET, control, press, says, settle, stage, with_role};

/// Tall enough for everything to be in view: what is scrolled away is not there to be asked.
const TALL: [(f32, f32); 2] = [(360.0, 2_000.0), (1280.0, 1_400.0)];

fn asked(stage: &Stage) -> Vec<HistoryCommand> {
    let histories = |command| match command {
        Command::Histories(command) => Some(command),
        _ => None,
    };
    stage.commands().into_iter().filter_map(histories).collect()
}

/// The choices of this group with whether each is the chosen one.
fn choices(stage: &Stage, of: &[&str]) -> Vec<(String, bool)> {
    let all = with_role(stage, AccessibleRole::RadioButton);
    let mut found: Vec<(String, bool)> = Vec::new();
    for it in &all {
        let label = it.accessible_label().unwrap_or_default().to_string();
        let one = (label, it.accessible_checked() == Some(true));
        if of.iter().any(|words| one.0.starts_with(words)) && !found.contains(&one) {
            found.push(one);
        }
    }
    found
}

#[test]
fn a_proven_repair_is_stamped_and_told_with_the_numbers_of_both_visits() {
    for size in TALL {
        let stage = stage(size, Screen::Comparison);
        assert!(says(&stage, "Repair proven"));
        assert!(says(&stage, "With the purge valve shut, the tank now stays still: −2"));
        assert!(says(&stage, "Visit 3, 22 Mar, against visit 2, 9 Mar. Replaced: Purge valve."));
        for number in [
            "Vacuum with the purge shut",
            "−209",
            "−2 ±6",
            "Time constant of the return, s",
            "0.44",
            "0.41 ±0.04",
        ] {
            assert!(says(&stage, number), "{number}");
        }
        assert!(!says(&stage, "Still to make"));
        control(&stage, AccessibleRole::Table, "Before and after");
    }
}

#[test]
fn what_is_not_proven_says_what_is_still_to_be_made() {
    for size in TALL {
        let stage = stage(size, Screen::Unproven);
        assert!(says(&stage, "Not proven"));
        assert!(says(&stage, "the tank still moves by 198"));
        assert!(says(&stage, "Still to make for the proof: “Sealed hold”."));
        stage.set_language(Language::German);
        settle(&stage);
        assert!(says(&stage, "Nicht nachgewiesen"));
        assert!(says(&stage, "Besuch 3, 22. Mär, gegen Besuch 2, 9. Mär."));
        assert!(says(&stage, "Für den Nachweis noch zu machen: „Verschlossen halten“."));
        stage.set_language(Language::English);
    }
}

#[test]
fn two_unlike_checks_are_both_named_over_the_strip() {
    for size in TALL {
        let stage = stage(size, Screen::Unproven);
        assert!(says(&stage, "Throttle follow · Idle, purge shut"));
    }
}

#[test]
fn the_report_names_the_comparison_that_it_will_hold() {
    for size in TALL {
        let stage = stage(size, Screen::Report);
        let this = HistoryCommand::CompareVisits { later: 13, earlier: None };
        assert_eq!(asked(&stage), [this]);
        assert!(says(&stage, "Compared with visit 2"));
        assert!(says(&stage, "Not proven. "));
        assert!(says(&stage, "Vacuum with the purge shut: −209"));
        stage.set_language(Language::German);
        settle(&stage);
        assert!(says(&stage, "Verglichen mit Besuch 2"));
        stage.set_language(Language::English);
    }
}

#[test]
fn another_check_is_shown_and_another_visit_asked_for() {
    for size in TALL {
        let stage = stage(size, Screen::Comparison);
        let titles = ["Throttle follow", "Unplug and watch"];
        let shown = |stage: &Stage| {
            let shown = choices(stage, &titles).into_iter().find(|it| it.1);
            shown.map(|it| it.0).unwrap_or_default()
        };
        assert_eq!(shown(&stage), titles[0]);
        press(&stage, AccessibleRole::RadioButton, titles[1]);
        assert_eq!(shown(&stage), titles[1]);
        assert!(says(&stage, titles[1]), "the strip's own title");
        stage.commands();
        let visits = choices(&stage, &["Visit"]);
        let expected = [("Visit 2, 9 Mar".to_owned(), true), ("Visit 1, 9 Feb".to_owned(), false)];
        assert_eq!(visits, expected);
        press(&stage, AccessibleRole::RadioButton, "Visit 1, 9 Feb");
        let wanted = HistoryCommand::CompareVisits { later: 13, earlier: Some(11) };
        assert_eq!(asked(&stage), [wanted]);
    }
}

#[test]
fn a_vehicles_page_and_a_visit_lead_to_it_and_back() {
    for size in TALL {
        let stage = stage(size, Screen::Vehicle);
        stage.commands();
        press(&stage, AccessibleRole::Button, "Lay two visits over each other");
        let newest = HistoryCommand::CompareVisits { later: 13, earlier: None };
        assert_eq!(asked(&stage), [newest]);
        assert!(says(&stage, "Reading both visits …"), "until they have been read");
        press(&stage, AccessibleRole::Button, "Back");
        control(&stage, AccessibleRole::Button, "Start a visit");
    }
    // On the phone the row is a button of its own, on the tablet a box of the foot.
    for (size, label) in [((360.0, 2_000.0), "Compare"), (TABLET, "Proof")] {
        let stage = stage(size, Screen::Visit);
        stage.commands();
        press(&stage, AccessibleRole::Button, label);
        let this = HistoryCommand::CompareVisits { later: 12, earlier: None };
        assert_eq!(asked(&stage), [this]);
        press(&stage, AccessibleRole::Button, "Back");
        let found = ElementHandle::find_by_accessible_label(stage.window(), "What the car says");
        assert!(found.count() > 0, "the card is back");
    }
    let stage = stage((360.0, 2_000.0), Screen::Proof);
    stage.commands();
    press(&stage, AccessibleRole::Button, "Compare with an earlier visit");
    let this = HistoryCommand::CompareVisits { later: 12, earlier: None };
    assert_eq!(asked(&stage), [this]);
    press(&stage, AccessibleRole::Button, "Back");
    assert!(says(&stage, "Repair proven"));
}
