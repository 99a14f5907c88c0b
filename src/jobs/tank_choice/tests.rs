use std::sync::mpsc::channel;

use crate::jobs::source::Source;
use crate::jobs::tests::answering_car::{Answers, car_that_answers, listed};
use crate::jobs::{Command, JobError, ReadScope, TankSourceLine, Workshop};
use crate::store::Listening;
use crate::vehicle::{CustomSignal, Signal, TankSource};
use crate::wording::{Language, Style};

/// Lists by hand after SAE J1979: the n-th bit from the highest stands for the n-th parameter after
/// the asked one. 0C, 20; 32, 40; 54.
const LISTS: [(&str, &[&str]); 4] = [
    ("0100", &["41 00 00 10 00 01"]),
    ("0120", &["41 20 00 00 40 01"]),
    ("0140", &["41 40 00 00 10 00"]),
    ("010C", &["41 0C 00 00"]),
];

/// Parameter 32 in quarter pascals, parameter 54 in pascals, both moving a little; an own request
/// in steps of 5 Pa.
fn both_move(asked: &str, count: usize) -> Vec<String> {
    let little = count % 3;
    match asked {
        "0132" => vec![format!("41 32 00 {:02X}", 4 + little)],
        "0154" => vec![format!("41 54 00 {:02X}", 1 + little)],
        "221234" => vec![format!("62 12 34 {:02X}", 0x80 + little)],
        _ => listed(&LISTS, asked),
    }
}

/// Parameter 32 stands at 12.5 Pa while parameter 54 moves.
fn one_is_frozen(asked: &str, count: usize) -> Vec<String> {
    match asked {
        "0132" => vec!["41 32 00 32".to_owned()],
        "0154" => vec![format!("41 54 00 {:02X}", count % 40)],
        _ => listed(&LISTS, asked),
    }
}

/// Neither is declared by the standard.
fn only_by_request(asked: &str, _: usize) -> Vec<String> {
    match asked {
        "0120" => vec!["41 20 00 00 00 00".to_owned()],
        "221234" => vec!["62 12 34 81".to_owned()],
        _ => listed(&LISTS, asked),
    }
}

fn own_pressure() -> Vec<CustomSignal> {
    CustomSignal::read_all(
        "[[signal]]\nsignal = \"tank_pressure_pa\"\nservice = \"22\"\nidentifier = \"1234\"\n\
         length = 1\nscale = 5.0\noffset = -640.0\n",
    )
    .unwrap()
}

fn chosen(answers: Answers, wanted: &Listening) -> TankSourceLine {
    car_that_answers(answers, wanted).tank_source(Language::English).unwrap()
}

#[test]
fn the_finest_source_that_is_not_frozen_is_taken_and_the_other_named() {
    let fine = chosen(both_move, &Listening::default());
    assert_eq!((fine.chosen.source, fine.by_hand), (TankSource::Narrow, false));
    let coarse = chosen(one_is_frozen, &Listening::default());
    assert_eq!(coarse.chosen.source, TankSource::Wide);
    assert_eq!(coarse.others[0].doubt.as_deref(), Some("stands still while another moves"));
}

#[test]
fn an_own_request_is_one_of_the_sources_and_gives_way_to_a_finer_one() {
    let wanted = Listening { tank_source: None, own_signals: own_pressure() };
    let line = chosen(both_move, &wanted);
    assert_eq!(line.chosen.source, TankSource::Narrow, "steps of 5 Pa are coarser");
    let others: Vec<TankSource> = line.others.iter().map(|it| it.source).collect();
    assert_eq!(others, [TankSource::Wide, TankSource::Own]);
    assert_eq!(chosen(only_by_request, &wanted).chosen.source, TankSource::Own);
    let by_hand = Listening { tank_source: Some(TankSource::Own), ..wanted };
    let mut car = Source::Car(Box::new(car_that_answers(both_move, &by_hand)));
    let pressures: Vec<f64> = (0..200)
        .flat_map(|_| car.poll().unwrap().samples)
        .filter(|(signal, ..)| *signal == Signal::TankPressure)
        .map(|(_, _, value)| value)
        .collect();
    let right = pressures.iter().all(|it| [0.0, 5.0, 10.0].contains(it));
    assert!(pressures.len() > 5 && right, "{pressures:?}");
}

fn visit(workshop: &mut Workshop, vehicle: i64) -> TankSourceLine {
    workshop.attempt(Command::StartVisit { vehicle }).unwrap();
    let car = car_that_answers(both_move, &workshop.listening().unwrap());
    workshop.join(Source::Car(Box::new(car)), "a list".to_owned(), false).unwrap();
    workshop.attempt(Command::ReadCar(ReadScope::Everything)).unwrap();
    shown(workshop)
}

fn shown(workshop: &Workshop) -> TankSourceLine {
    let report = workshop.visit.as_ref().unwrap().car.as_ref().unwrap();
    report.tank_source.clone().unwrap()
}

#[test]
fn the_source_taken_by_hand_is_kept_for_its_vehicle_alone_until_it_is_given_back() {
    let folder = tempfile::tempdir().unwrap();
    let database = folder.path().join("garage.db");
    let mut workshop = Workshop::open(&database, Style::default(), channel().0).unwrap();
    for name in ["Blue estate", "Red pickup"] {
        let (name, vin) = (name.to_owned(), String::new());
        workshop.attempt(Command::AddVehicle { name, vin, notes: String::new() }).unwrap();
    }
    assert_eq!(visit(&mut workshop, 1).chosen.source, TankSource::Narrow);
    workshop.attempt(Command::UseTankSource(Some(TankSource::Wide))).unwrap();
    assert_eq!(
        (shown(&workshop).chosen.source, shown(&workshop).by_hand),
        (TankSource::Wide, true)
    );
    let refused = workshop.attempt(Command::UseTankSource(Some(TankSource::Absolute)));
    assert!(matches!(refused, Err(JobError::TankSourceNotOffered)), "{refused:?}");
    assert_eq!(visit(&mut workshop, 2).chosen.source, TankSource::Narrow, "another vehicle");
    drop(workshop);
    let mut workshop = Workshop::open(&database, Style::default(), channel().0).unwrap();
    let later = visit(&mut workshop, 1);
    assert_eq!((later.chosen.source, later.by_hand), (TankSource::Wide, true), "kept");
    workshop.attempt(Command::UseTankSource(None)).unwrap();
    assert_eq!(shown(&workshop).chosen.source, TankSource::Narrow);
    assert!(!visit(&mut workshop, 1).by_hand, "given back for good");
}
