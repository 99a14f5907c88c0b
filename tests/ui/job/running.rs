use std::time::Duration;

use i_slint_backend_testing::AccessibleRole;
use stilltank::jobs::{Command, Paper, ReportFormat};

use super::{Job, folder};
use crate::stage::{PHONE, TABLET};

const MORE: &str = "Pause, repeat or give up";

/// A visit whose first check runs, on this window.
fn running(database: &std::path::Path, size: (f32, f32)) -> (Job, String) {
    let mut job = Job::start(database, size, None);
    job.begin_visit();
    let start = job.start_button().unwrap();
    job.press(&start);
    job.until("an instruction", |job| !job.says("Getting ready"));
    (job, start)
}

fn turn(job: &mut Job, times: u32) {
    for _ in 0..times {
        job.workshop.turn();
    }
    job.look();
}

#[test]
fn a_held_check_waits_while_readings_go_on_and_goes_on_where_it_stood() {
    for size in [PHONE, TABLET] {
        let (_folder, database) = folder();
        let (mut job, _) = running(&database, size);
        job.press(MORE);
        job.press("Pause");
        assert!(job.says("Paused."), "{:?}", job.texts());
        let garage = job.workshop.garage().unwrap().clone();
        let before = garage.now();
        turn(&mut job, 3_000);
        assert!(garage.now().seconds_since(before) > 60.0, "readings go on");
        assert!(job.says("Paused."), "longer than the whole check would take");
        job.press("Go on with the check");
        assert!(!job.says("Paused."), "{:?}", job.texts());
        job.until("the check ends", Job::check_is_over);
    }
}

/// Seconds that the step in view still lasts.
fn remaining(job: &Job) -> f64 {
    let line = job.texts().into_iter().find_map(|it| {
        let before = it.strip_suffix(" s more.")?;
        before.rsplit(' ').next()?.parse().ok()
    });
    line.unwrap_or_else(|| panic!("{:?}", job.texts()))
}

#[test]
fn a_check_that_is_repeated_begins_with_its_first_step() {
    let (_folder, database) = folder();
    let (mut job, _) = running(&database, PHONE);
    let first = remaining(&job);
    job.until("some of the step is over", |job| remaining(job) < first - 2.0);
    job.press(MORE);
    job.press("Repeat from the start");
    turn(&mut job, 1);
    assert!(remaining(&job) > first - 1.5, "{} of {first}", remaining(&job));
    job.until("the check ends", Job::check_is_over);
}

#[test]
fn the_reason_for_giving_up_stands_on_the_card_and_in_the_report() {
    for (size, own) in [(PHONE, None), (TABLET, Some("It rains in"))] {
        let (folder, database) = folder();
        let (mut job, start) = running(&database, size);
        job.press(MORE);
        job.press("Give it up …");
        assert!(!job.offers("Give the check up"), "not without a reason");
        let reason = match own {
            Some(words) => {
                job.write("Or in own words", words);
                words
            }
            None => {
                job.tap(AccessibleRole::RadioButton, "No time left");
                "No time left"
            }
        };
        job.press("Give the check up");
        assert_eq!(job.page(), "Practice car", "back on the card");
        let said = format!("Given up: {reason}.");
        assert!(told(&job, &said), "the card does not say {said}");
        let file = folder.path().join("report.html");
        let (visit, format, private) = (None, ReportFormat::Html, false);
        let path = Some(file.clone());
        job.workshop.handle(Command::WriteReport {
            visit,
            format,
            path,
            private,
            paper: Paper::A4,
        });
        assert!(std::fs::read_to_string(&file).unwrap().contains(&said));

        // Made to its end, it is given up no more.
        let again = job.start_button().unwrap_or(start);
        job.press(&again);
        job.until("the check ends", Job::check_is_over);
        job.press("Back to the card");
        assert!(!told(&job, &said));
    }
}

/// Whether a line of the card holds these words, in view or not.
fn told(job: &Job, words: &str) -> bool {
    let visit = job.workshop.visit().unwrap();
    let kept = job.workshop.store().load_visit(visit).unwrap().notes;
    let reason = words.trim_start_matches("Given up: ").trim_end_matches('.');
    kept.contains(reason) && job.says_in_a_check(words)
}

impl Job {
    fn says_in_a_check(&self, words: &str) -> bool {
        let lines = crate::stage::with_role(&self.stage, AccessibleRole::ListItem);
        let all = lines.iter().filter_map(|it| it.accessible_description());
        all.into_iter().any(|it| it.contains(words)) || self.says(words)
    }
}

#[test]
fn an_adapter_that_falls_silent_is_told_within_a_second() {
    let (_folder, database) = folder();
    let (mut job, _) = running(&database, PHONE);
    turn(&mut job, 100);
    let garage = job.workshop.garage().unwrap().clone();
    let before = garage.now();
    garage.mute_adapter(Duration::from_secs(3));
    while !job.is_lost() {
        job.workshop.turn();
        job.look();
        assert!(garage.now().seconds_since(before) < 1.0, "nobody said so");
    }
    assert!(job.says("Link lost, 0:0"), "{:?}", job.texts());
    job.until("readings again", |job| !job.is_lost());
    job.until("the check ends", Job::check_is_over);
}
