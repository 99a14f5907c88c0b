use std::collections::BTreeMap;

use super::{CarReport, JobError, VehicleFacts, Workshop, repair};
use crate::store::{Definition, NewVehicle, Store};
use crate::vehicle::TroubleCode;

/// What parts make and code in the name of a note.
const BETWEEN: char = '|';

/// The notes on a make's own codes, by code. Makes are compared without regard to capitals.
pub(super) fn code_notes(store: &Store, make: &str) -> Result<BTreeMap<String, String>, JobError> {
    let make = key(make);
    let all = store.definitions(Definition::CodeNote)?;
    let of_make = all.into_iter().filter_map(|(name, content)| {
        let (whose, code) = name.split_once(BETWEEN)?;
        (whose == make && !make.is_empty()).then(|| (code.to_owned(), content))
    });
    Ok(of_make.collect())
}

/// A reading with the meanings that the person found in the manual of this make.
pub(super) fn with_notes(
    store: &Store,
    make: &str,
    report: &CarReport,
) -> Result<CarReport, JobError> {
    let own = |code: &str| code.parse::<TroubleCode>().is_ok_and(TroubleCode::is_maker_specific);
    let mut report = report.clone();
    if report.codes.iter().any(|line| own(&line.code)) {
        let notes = code_notes(store, make)?;
        for line in report.codes.iter_mut().filter(|line| own(&line.code)) {
            if let Some(note) = notes.get(&line.code) {
                line.meaning.clone_from(note);
            }
        }
    }
    Ok(report)
}

fn key(make: &str) -> String {
    make.trim().to_lowercase()
}

impl Workshop {
    /// Keeps what the open visit's vehicle is.
    pub(super) fn describe_vehicle(&mut self, facts: &VehicleFacts) -> Result<(), JobError> {
        let date = self.date();
        let tank_litre = repair::tank_size(&facts.tank_litre)?;
        let (visit, store) = self.open_visit_mut()?;
        let known = store.vehicle(visit.record.vehicle.id)?;
        let vehicle = NewVehicle {
            name: known.name,
            vin: known.vin.unwrap_or_default(),
            plate: known.plate.unwrap_or_default(),
            make: facts.make.trim().to_owned(),
            fuel: facts.fuel.trim().to_owned(),
            tank_litre,
            notes: known.notes,
            is_virtual: known.is_virtual,
        };
        store.edit_vehicle(known.id, &vehicle, date)?;
        visit.take_vehicle(store.vehicle(known.id)?);
        self.judge_anew()?;
        self.show_card()
    }

    /// Keeps what the manual says of a maker's own code, for every vehicle of this make.
    pub(super) fn note_code(&mut self, code: &str, meaning: &str) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        let make = key(&visit.record.vehicle.make);
        if make.is_empty() {
            return Err(JobError::MakeUnknown);
        }
        let name = format!("{make}{BETWEEN}{code}");
        store.define(Definition::CodeNote, &name, meaning.trim(), date)?;
        self.show_card()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use super::with_notes;
    use crate::jobs::{CarReport, CodeLine, Command, JobError, VehicleFacts, Workshop};
    use crate::wording::Style;

    #[test]
    fn a_makers_code_means_what_was_noted_for_its_make_on_every_vehicle() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("garage.db");
        let mut workshop = Workshop::open(&database, Style::default(), mpsc::channel().0).unwrap();
        let start = |workshop: &mut Workshop, name: &str, number| {
            let (name, vin, notes) = (name.to_owned(), String::new(), String::new());
            workshop.attempt(Command::AddVehicle { name, vin, notes }).unwrap();
            workshop.attempt(Command::StartVisit { vehicle: number }).unwrap();
        };
        let facts = |make: &str, tank: &str| {
            let (make, fuel, tank_litre) = (make.to_owned(), "E10".to_owned(), tank.to_owned());
            Command::DescribeVehicle(VehicleFacts { make, fuel, tank_litre })
        };
        let note = |meaning: &str| Command::NoteCode {
            code: "P1450".to_owned(),
            meaning: meaning.to_owned(),
        };
        start(&mut workshop, "Blue estate", 1);
        assert!(matches!(workshop.attempt(note("x")), Err(JobError::MakeUnknown)));
        assert!(matches!(workshop.attempt(facts("I", "lots")), Err(JobError::NotAnAmount { .. })));
        assert!(matches!(workshop.attempt(facts("I", "4850")), Err(JobError::NoTankSize { .. })));
        assert_eq!(workshop.store().vehicle(crate::store::VehicleId(1)).unwrap().tank_litre, None);
        workshop.attempt(facts("Invented Motors", "48,5")).unwrap();
        workshop.attempt(note("Tank cannot bleed vacuum")).unwrap();
        start(&mut workshop, "Red pickup", 2);
        workshop.attempt(facts(" invented motors", "")).unwrap();
        let line = |code: &str| CodeLine {
            code: code.to_owned(),
            meaning: "as in the catalogue".to_owned(),
            stored: true,
            pending: false,
            permanent: false,
        };
        let report =
            CarReport { codes: vec![line("P1450"), line("P0455")], ..CarReport::default() };
        let meanings = |make: &str| {
            let noted = with_notes(workshop.store(), make, &report).unwrap();
            noted.codes.into_iter().map(|line| line.meaning).collect::<Vec<_>>()
        };
        let make = workshop.visit.as_ref().unwrap().record.vehicle.make.clone();
        assert_eq!(meanings(&make), ["Tank cannot bleed vacuum", "as in the catalogue"]);
        assert_eq!(meanings("another"), ["as in the catalogue", "as in the catalogue"]);
        let first = workshop.store().vehicle(crate::store::VehicleId(1)).unwrap();
        assert_eq!(first.tank_litre, Some("48.5".parse().unwrap()));
        // What is judged knows it: of the open visit, and of an earlier one once that is opened.
        assert_eq!(workshop.visit.as_ref().unwrap().recording.tank_litre(), None);
        workshop.attempt(facts("invented motors", "60")).unwrap();
        assert_eq!(workshop.visit.as_ref().unwrap().recording.tank_litre(), Some(60.0));
        let earlier = workshop.store().load_recording(crate::store::VisitId(1)).unwrap();
        assert_eq!(earlier.tank_litre(), Some(48.5));
    }
}
