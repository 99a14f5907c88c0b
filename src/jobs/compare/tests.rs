use std::path::Path;
use std::sync::mpsc::{Receiver, channel};

use super::{VisitComparison, compare_visits, piece, since_repair};
use crate::evidence::{Check, ComparisonEnd, MeasureName, Outcome};
use crate::jobs::{
    Command, Event, FleetPlan, HistoryCommand, HistoryEvent, JobError, LinkAddress, MachineClock,
    Paper, ReportFormat, Workshop, write_fleet,
};
use crate::recording::{Action, Recording};
use crate::store::{RepairEntry, Store, VisitId};
use crate::units::Instant;
use crate::vehicle::{Fault, Signal};
use crate::wording::Style;

const LEAK: Option<Fault> = Some(Fault::PurgeValveLeaking);

/// A vehicle with nothing in its history.
fn garage(database: &Path) -> (Workshop, Receiver<Event>, i64) {
    let (events, heard) = channel();
    let mut workshop = Workshop::open(database, Style::default(), events).unwrap();
    let (name, vin, notes) = ("Practice".to_owned(), String::new(), String::new());
    workshop.attempt(Command::AddVehicle { name, vin, notes }).unwrap();
    let vehicle = workshop.store().list_vehicles("").unwrap()[0].id.0;
    (workshop, heard, vehicle)
}

/// A visit to a virtual car that makes these checks and is closed.
fn visit(workshop: &mut Workshop, vehicle: i64, fault: Option<Fault>, checks: &[Check]) -> i64 {
    workshop.attempt(Command::StartVisit { vehicle }).unwrap();
    let id = workshop.visit().unwrap().0;
    let address = LinkAddress::Virtual { fault, seed: 4, real_time: false };
    workshop.attempt(Command::Connect(address)).unwrap();
    for check in checks {
        workshop.attempt(Command::StartCheck(*check)).unwrap();
        for _ in 0..200_000 {
            if workshop.running.is_none() {
                break;
            }
            workshop.turn();
        }
        assert!(workshop.running.is_none(), "{check:?} never ends");
    }
    workshop.attempt(Command::CloseVisit).unwrap();
    id
}

fn compared(heard: &Receiver<Event>) -> VisitComparison {
    let found = heard.try_iter().filter_map(|event| match event {
        Event::Histories(HistoryEvent::Compared(compared)) => Some(*compared),
        _ => None,
    });
    found.last().expect("two visits were compared")
}

const BOTH: [Check; 2] = [Check::UnplugRecovery, Check::ThrottleFollow];

#[test]
fn a_visit_after_the_repair_is_laid_over_the_one_before_it_and_proves_it() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("garage.db");
    let (mut workshop, heard, vehicle) = garage(&database);
    let first = visit(&mut workshop, vehicle, LEAK, &BOTH);
    // The same car with its valve replaced, another day.
    let second = visit(&mut workshop, vehicle, None, &BOTH);
    let asked = HistoryCommand::CompareVisits { later: second, earlier: None };
    workshop.attempt(Command::Histories(asked)).unwrap();
    let compared = compared(&heard);
    assert_eq!((compared.earlier.id, compared.later.id), (first, second));
    let comparison = &compared.comparison;
    assert_eq!(comparison.end, ComparisonEnd::Proven, "{comparison:?}");
    assert_eq!((comparison.fault, comparison.missing.as_slice()), (LEAK, [].as_slice()));
    let vacuum = compared.numbers.iter().find(|it| it.name == MeasureName::VacuumWithPurgeShut);
    let vacuum = vacuum.expect("both visits opened the throttle");
    assert!(vacuum.earlier.high < -40.0 && vacuum.later.low > -30.0, "{vacuum:?}");
    assert_eq!(vacuum.outcome, Outcome::Pass);

    let follow = &compared.traces[0];
    assert_eq!(follow.check, Check::ThrottleFollow, "what shows a leaking valve comes first");
    let limit = follow.limit_pa.unwrap();
    let reach = |points: &[(f64, f64)]| points.iter().map(|it| it.1).fold(0.0, f64::max);
    assert!(reach(&follow.earlier) > limit, "before, the tank rises as the throttle opens");
    assert!(reach(&follow.earlier) > 2.0 * reach(&follow.later));
    assert!(compared.traces.iter().any(|it| it.check == Check::UnplugRecovery));
    let mut report = |visit, name: &str| {
        let path = folder.path().join(name);
        workshop
            .attempt(Command::WriteReport {
                visit: Some(visit),
                format: ReportFormat::Html,
                path: Some(path.clone()),
                private: false,
                paper: Paper::A4,
            })
            .unwrap();
        std::fs::read_to_string(path).unwrap()
    };
    let proof = report(second, "second.html");
    assert!(proof.contains("Compared with visit 1") && proof.contains("Repair proven"));
    let before = report(first, "first.html");
    assert!(!before.contains("Compared with") && !before.contains("Repair proven"));
    let fleet = || {
        let path = folder.path().join("fleet.csv");
        let day = |words: &str| words.parse().unwrap();
        let plan = FleetPlan {
            from: day("2000-01-01"),
            to: day("2100-01-01"),
            name: String::new(),
            private: false,
            paper: Paper::A4,
        };
        let (clock, style) = (MachineClock::start(), Style::default());
        write_fleet(&database, &plan, ReportFormat::Csv, &path, clock, style).unwrap();
        let text = std::fs::read_to_string(path).unwrap();
        text.lines().nth(1).unwrap().rsplit(',').next().unwrap().to_owned()
    };
    drop(workshop);
    assert_eq!(fleet(), "", "without a repair there is nothing to prove");
    let mut store = Store::open(&database).unwrap();
    let valve = RepairEntry { part: "Purge valve".to_owned(), ..RepairEntry::default() };
    store.add_repair(VisitId(first), &valve, MachineClock::start().date()).unwrap();
    drop(store);
    assert_eq!(fleet(), "pass");
    let again = compare_visits(&database, second, Some(first)).unwrap();
    assert_eq!(again.earlier.repaired.as_deref(), Some("Purge valve"));
    let without = |it: VisitComparison| (it.comparison, it.numbers, it.traces);
    assert_eq!(without(again), without(compared), "the command line says the same");
    let none = compare_visits(&database, first, None);
    assert!(matches!(none, Err(JobError::NoEarlierVisit)), "{none:?}");
}

#[test]
fn two_visits_of_the_same_broken_car_prove_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("garage.db");
    let (mut workshop, _heard, vehicle) = garage(&database);
    visit(&mut workshop, vehicle, LEAK, &BOTH);
    let again = visit(&mut workshop, vehicle, LEAK, &BOTH);
    let empty = visit(&mut workshop, vehicle, LEAK, &[Check::RestZero]);
    drop(workshop);
    let compared = compare_visits(&database, again, None).unwrap().comparison;
    assert_eq!(compared.end, ComparisonEnd::NotProven, "{compared:?}");
    assert_eq!(compared.proof.map(|it| it.outcome), Some(Outcome::Fail));

    let half = compare_visits(&database, empty, None).unwrap();
    assert_eq!(half.earlier.id, again, "the newest that found something");
    assert_eq!(half.comparison.end, ComparisonEnd::NotProven);
    assert!(half.comparison.missing.contains(&Check::ThrottleFollow), "{half:?}");
    assert_eq!(half.choices.iter().map(|it| it.number).collect::<Vec<_>>(), [2, 1]);
}

#[test]
fn a_car_that_broke_since_got_worse() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("garage.db");
    let (mut workshop, _heard, vehicle) = garage(&database);
    visit(&mut workshop, vehicle, None, &BOTH);
    let sound = visit(&mut workshop, vehicle, None, &BOTH);
    let broken = visit(&mut workshop, vehicle, LEAK, &BOTH);
    drop(workshop);
    let still = compare_visits(&database, sound, None).unwrap().comparison;
    assert_eq!(still.end, ComparisonEnd::StillSound, "{still:?}");
    let worse = compare_visits(&database, broken, None).unwrap().comparison;
    assert_eq!(worse.end, ComparisonEnd::Worse, "{worse:?}");
}

#[test]
fn how_things_stood_at_a_repair_stays_known_after_it() {
    let at = Instant::from_seconds;
    let mut recording = Recording::default();
    for second in 0..60 {
        recording.push(Signal::TankPressure, at(f64::from(second)), f64::from(second));
    }
    recording.push_action(at(5.0), Action::EngineStarted);
    recording.push_action(at(10.0), Action::PurgeUnplugged);
    recording.push_action(at(12.0), Action::PurgePlugged);
    recording.push_action(at(20.0), Action::PurgeUnplugged);
    recording.push_action(at(30.0), Action::PartReplaced);
    let since = since_repair(&recording);
    let first = since.span().unwrap().0;
    assert_eq!(first, at(39.0), "what the tank still has to forget is left out");
    let stands: Vec<_> = since.actions().iter().map(|it| (it.at, it.action)).collect();
    assert_eq!(stands, [(first, Action::EngineStarted), (first, Action::PurgeUnplugged)]);
    let all = piece(&recording, &|_| true);
    assert_eq!(all.actions().len(), 4, "a replaced part does not split it again");
}
