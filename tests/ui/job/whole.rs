use std::time::Duration;

use i_slint_backend_testing::AccessibleRole;
use stilltank::evidence::Check;
use stilltank::vehicle::Fault;
use stilltank::wording::{Style, proof_sentence};

use super::{Job, folder};
use crate::stage::{PHONE, TABLET};

/// Makes the checks that the card offers until it has a verdict, the link lost once in the middle
/// if wanted.
fn make_the_checks(job: &mut Job, lose: bool) {
    let mut lost = !lose;
    for _ in 0..12 {
        let Some(start) = job.start_button() else { return };
        job.press(&start);
        job.until("an instruction", |job| !job.says("Getting ready"));
        if !lost {
            lost = true;
            lose_the_link(job);
        }
        job.until("the check ends", Job::check_is_over);
        job.press("Back to the card");
    }
    panic!("no verdict after twelve checks");
}

/// The adapter goes out of reach for six seconds: said within a second, and the check goes on.
fn lose_the_link(job: &mut Job) {
    for _ in 0..60 {
        job.workshop.turn();
    }
    job.look();
    let page = job.page();
    let garage = job.workshop.garage().unwrap().clone();
    let before = garage.now();
    garage.lose_adapter(Duration::from_secs(6));
    while !job.is_lost() {
        job.workshop.turn();
        job.look();
    }
    let took = garage.now().seconds_since(before);
    assert!(took < 1.0, "said after {took} s");
    assert!(job.says("Link lost, 0:00. Trying again"), "{:?}", job.texts());
    assert_eq!(job.page(), page, "the check stays");
    job.until("linked again", |job| !job.is_lost());
    assert!(!job.says("Link lost"));
    assert_eq!(job.page(), page);
}

fn whole_job(size: (f32, f32)) {
    let (_folder, database) = folder();
    let mut job = Job::start(&database, size, Some(Fault::PurgeValveLeaking));
    assert!(job.says("No vehicle yet. Add yours, or practise on the virtual car."));
    job.begin_visit();

    job.press("Write");
    job.tap(AccessibleRole::Checkbox, "The light is on");
    job.write("In own words", "Since the last fill-up");
    job.press("Write it on the card");
    assert!(job.says("Light on. “Since the last fill-up”"), "{:?}", job.texts());

    make_the_checks(&mut job, true);
    job.go_on("See the verdict", "Verdict");
    assert_eq!(job.page(), "Verdict");
    assert!(job.says("The purge valve leaks"), "{:?}", job.texts());

    job.press("Record the repair");
    job.press("Add a price");
    job.write("Seller", "Seller A");
    job.write("Price", "38.50");
    job.press("Add");
    job.press("Save, then prove it");

    job.go_on("Prove the repair", "Proof");
    if job.is_wide() {
        job.press("Prove the repair");
    }
    job.until("the proof ends", Job::check_is_over);
    job.press("Back to the card");
    job.go_on("Clear codes …", "Proof");
    if job.is_wide() {
        assert!(
            job.says("With the purge valve shut, the tank now stays still"),
            "{:?}",
            job.texts()
        );
        job.press("Clear codes …");
    }
    job.tap(AccessibleRole::Checkbox, "I have read this. Clear the codes of this car, once.");
    job.press("Clear codes");
    assert!(job.says("Cleared at "), "{:?}", job.texts());
    job.press("Back to the card");

    job.go_on("Plan a recheck", "Follow-up");
    job.tap(AccessibleRole::RadioButton, "in 7 days");
    job.press("Plan the recheck");
    assert!(job.says("Planned for "), "{:?}", job.texts());
    job.press("Back");

    job.press("Report");
    job.press("Write the report");
    let written = job.written.clone().unwrap();
    assert!(std::fs::metadata(&written).unwrap().len() > 10_000);
}

#[test]
fn the_whole_job_is_done_on_a_tablet() {
    whole_job(TABLET);
}

#[test]
fn the_whole_job_is_done_on_a_phone() {
    whole_job(PHONE);
}

#[test]
fn after_a_leak_was_mended_the_sealed_hold_is_asked_for_again_before_the_proof() {
    let (_folder, database) = folder();
    // A car whose readings are fine enough to prove a small hole gone.
    let mut job = Job::start_with(&database, PHONE, Some(Fault::VaporLeak), 2);
    job.begin_visit();
    make_the_checks(&mut job, false);
    job.press("See the verdict");
    job.press("Record the repair");
    job.press("Save, then prove it");
    assert_eq!(job.start_button().as_deref(), Some("Start: sealed hold"));
    // The engine stands: that takes a moment to be read.
    for _ in 0..60 {
        job.workshop.turn();
    }
    job.look();
    job.press("Start: sealed hold");
    job.until("the hold ends", Job::check_is_over);
    job.press("Back to the card");
    // Where the hold alone does not prove it, the checks of the proof are made too.
    if job.offers("Prove the repair") {
        job.press("Prove the repair");
        job.until("the proof ends", Job::check_is_over);
        job.press("Back to the card");
    }
    // Proven: what comes next is to clear the codes.
    assert!(job.offers("Clear codes …"), "{:?}", job.buttons());
    let visit = job.workshop.visit().unwrap();
    let record = job.workshop.store().load_visit(visit).unwrap();
    let results = record.results();
    let proof = results.iter().find(|it| it.check == Check::RepairProof).unwrap();
    let fault = record.verdict().unwrap().verdict.fault;
    let said = proof_sentence(proof, fault, &Style::default());
    assert!(said.starts_with("Sealed, the system now keeps its vacuum; a hole of "), "{said}");
}
