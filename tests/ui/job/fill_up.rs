use i_slint_backend_testing::{AccessibleRole, ElementHandle};
use stilltank::vehicle::Fault;

use super::{Job, folder};
use crate::stage::{PHONE, with_role};

/// Label, description and value of every row in view.
fn rows(job: &Job) -> Vec<String> {
    let text = |text: Option<slint::SharedString>| text.unwrap_or_default().to_string();
    let row = |it: &ElementHandle| {
        let parts =
            [it.accessible_label(), it.accessible_description(), it.accessible_value()].map(text);
        parts.join(" | ")
    };
    with_role(&job.stage, AccessibleRole::ListItem).iter().map(row).collect()
}

#[test]
fn a_planned_recheck_reminds_measures_before_and_watches_after_the_fill_up() {
    let (_folder, database) = folder();
    let mut job = Job::start(&database, PHONE, Some(Fault::PurgeValveLeaking));
    job.begin_visit();
    // Planned, it stands on the vehicle and in the list.
    job.press("Plan");
    job.tap(AccessibleRole::RadioButton, "in 7 days");
    job.press("Plan the recheck");
    for _ in 0..3 {
        job.press("Back");
    }
    assert_eq!(job.page(), "Vehicles");
    assert!(
        rows(&job).iter().any(|it| it.contains("Recheck at a fill-up, by ")),
        "{:?}",
        rows(&job)
    );
    job.tap(AccessibleRole::ListItem, "Practice car");
    assert!(job.says("start before you fill up"), "{:?}", job.texts());

    job.press("Start a visit");
    job.press("Connect");
    job.press("Virtual car");
    job.until("connected", |job| job.offers("Read the car"));
    job.press("Read the car");
    job.press("Add a check by hand");
    job.tap(AccessibleRole::ListItem, "After a fill-up");
    // A measure before, then the tank is filled, then a look at what follows.
    let (mut before, mut fill, mut after) = (false, false, false);
    job.until("the check ends", |job| {
        before |= !fill && job.says("Before you fill up, let it idle.");
        fill |= job.says("Fill the tank, to the first click.");
        after |= fill && job.says("Watch for two minutes.");
        job.check_is_over()
    });
    assert!(before && fill && after, "{before} {fill} {after}");
    job.press("Back to the card");
    for _ in 0..2 {
        job.press("Back");
    }
    if job.page() != "Vehicles" {
        job.press("Back");
    }
    job.tap(AccessibleRole::ListItem, "Practice car");
    let noted = rows(&job);
    let fill_up = noted.iter().find(|it| it.starts_with("Fill-up"));
    assert!(fill_up.is_some_and(|it| it.contains("Trim")), "{noted:?}");
    assert!(!job.says("start before you fill up"), "done");
}
