use stilltank::vehicle::Signal;

use super::{Job, folder};
use crate::stage::PHONE;

#[test]
fn a_check_that_was_cut_off_by_the_end_of_the_program_is_taken_up() {
    let (_folder, database) = folder();
    let fault = None;
    let mut job = Job::start(&database, PHONE, fault);
    job.begin_visit();
    let start = job.start_button().unwrap();
    job.press(&start);
    for _ in 0..160 {
        job.workshop.turn();
    }
    job.look();
    assert!(!job.check_is_over());
    job.workshop.close();
    drop(job);

    let mut job = Job::start(&database, PHONE, fault);
    assert_eq!(job.page(), "Practice car", "the visit stands open");
    assert!(job.says("was cut off when the app closed"), "{:?}", job.texts());
    assert!(!job.says("no reading yet"), "the strip shows what was recorded");
    job.press("OK");
    job.press("Connect");
    job.press("Virtual car");
    job.until("connected", |job| job.start_button().is_some());
    assert_eq!(job.start_button(), Some(start.clone()), "the same check");
    let (visit, before) = (job.workshop.visit().unwrap(), samples(&job));
    assert!(before > 100, "{before}");
    job.press(&start);
    job.until("the check ends", Job::check_is_over);
    job.press("Back to the card");
    assert_eq!(job.workshop.visit(), Some(visit));
    assert!(samples(&job) > before);
    job.workshop.close();
    drop(job);

    let job = Job::start(&database, PHONE, fault);
    assert_eq!(job.page(), "Vehicles", "nothing was cut off this time");
}

/// Samples of the visit that are on the disk.
fn samples(job: &Job) -> usize {
    let visit = job.workshop.visit().unwrap();
    let recording = job.workshop.store().load_visit(visit).unwrap().recording;
    recording.series(Signal::TankPressure).map_or(0, |series| series.times().len())
}
