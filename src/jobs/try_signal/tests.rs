use std::sync::mpsc::{Receiver, channel};

use crate::jobs::{Command, Event, HistoryEvent, JobError, OwnSignals, SignalScope, Workshop};
use crate::vehicle::{CustomSignal, Signal};
use crate::wording::Style;

fn own(signal: &str, identifier: &str) -> CustomSignal {
    let text = format!(
        "[[signal]]\nsignal = \"{signal}\"\nservice = \"22\"\nidentifier = \"{identifier}\"\n\
         length = 2\nscale = 0.001\n"
    );
    CustomSignal::read_all(&text).unwrap().remove(0)
}

fn shown(heard: &Receiver<Event>) -> OwnSignals {
    let told = heard.try_iter().filter_map(|event| match event {
        Event::OwnSignals(own) => Some(own),
        _ => None,
    });
    told.last().unwrap()
}

#[test]
fn a_request_of_one_vehicle_goes_before_the_one_that_all_share() {
    let folder = tempfile::tempdir().unwrap();
    let (events, heard) = channel();
    let database = folder.path().join("garage.db");
    let mut workshop = Workshop::open(&database, Style::default(), events).unwrap();
    let save = |signal, scope| Command::SaveOwnSignals { signals: vec![signal], scope };
    let (all, one) = (SignalScope::AllVehicles, SignalScope::ThisVehicle);
    let refused = workshop.attempt(save(own("tank_sensor_v", "1111"), one));
    assert!(matches!(refused, Err(JobError::NoVisit)), "{refused:?}");
    for (number, name) in [(1, "Blue estate"), (2, "Red pickup")] {
        let (name, vin) = (name.to_owned(), String::new());
        workshop.attempt(Command::AddVehicle { name, vin, notes: String::new() }).unwrap();
        workshop.attempt(Command::StartVisit { vehicle: number }).unwrap();
    }
    workshop.attempt(save(own("tank_sensor_v", "1111"), all)).unwrap();
    workshop.attempt(save(own("tank_sensor_v", "2222"), one)).unwrap();
    let OwnSignals { shared, of_vehicle } = shown(&heard);
    assert_eq!(shared, [own("tank_sensor_v", "1111")]);
    assert_eq!(of_vehicle, Some(("Red pickup".to_owned(), vec![own("tank_sensor_v", "2222")])));
    let asked = |workshop: &Workshop| workshop.listening().unwrap().own_signals;
    assert_eq!(asked(&workshop), [own("tank_sensor_v", "2222")]);
    workshop.attempt(Command::StartVisit { vehicle: 1 }).unwrap();
    assert_eq!(asked(&workshop), [own("tank_sensor_v", "1111")]);
}

#[test]
fn own_signals_go_to_a_file_and_come_back_on_another_device() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("taken.toml");
    let scope = SignalScope::AllVehicles;
    let open = |name: &str| {
        let database = folder.path().join(name).join("garage.db");
        let (events, heard) = channel();
        (Workshop::open(&database, Style::default(), events).unwrap(), heard)
    };
    let (mut here, heard_here) = open("here");
    let signals = vec![own("tank_sensor_v", "1111"), own("vent_command_percent", "3333")];
    here.attempt(Command::SaveOwnSignals { signals: signals.clone(), scope }).unwrap();
    here.attempt(Command::ExportOwnSignals { file: file.clone(), scope }).unwrap();
    let said = heard_here.try_iter().any(|event| match event {
        Event::Histories(HistoryEvent::Exported(files)) => files == [file.clone()],
        _ => false,
    });
    assert!(said, "where it was written to");
    let (mut there, heard_there) = open("there");
    let known = vec![own("tank_sensor_v", "9999"), own("tank_pressure_pa", "4444")];
    there.attempt(Command::SaveOwnSignals { signals: known, scope }).unwrap();
    there.attempt(Command::ImportOwnSignals { file: file.clone(), scope }).unwrap();
    let names: Vec<Signal> = shown(&heard_there).shared.iter().map(|it| it.signal).collect();
    assert_eq!(names, [Signal::TankPressure, Signal::TankSensor, Signal::VentCommand]);
    assert_eq!(there.listening().unwrap().own_signals[1..], signals);
    std::fs::write(&file, "[[signal]]\nsignal = \"tank_sensor_v\"\n").unwrap();
    let refused = there.attempt(Command::ImportOwnSignals { file, scope });
    assert!(matches!(refused, Err(JobError::Decode(_))), "{refused:?}");
    assert_eq!(there.listening().unwrap().own_signals.len(), 3, "nothing is half-imported");
}
