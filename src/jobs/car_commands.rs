use super::run_check::RunningCheck;
use super::{CarReport, CodeLine, Event, JobError, ReadScope, Workshop, look, read_car};
use crate::link::{Consent, Request};
use crate::vehicle::{Service, TankSource, Vin};

impl Workshop {
    /// Reads from the car and judges anew: codes are evidence.
    pub(super) fn read_car(&mut self, scope: ReadScope) -> Result<(), JobError> {
        let language = self.style.language;
        let source = self.source.as_mut().ok_or(JobError::NotConnected)?;
        let earlier = self.visit.as_ref().and_then(|visit| visit.car.clone());
        let mut report = match (scope, &earlier) {
            (ReadScope::Codes, Some(earlier)) => {
                let codes = read_car::read_codes(&mut source.car()?.link, language)?;
                CarReport { codes, ..earlier.clone() }
            }
            _ => {
                let events = self.events.clone();
                let looked = look::look(source, language, &mut |_, share| {
                    let _nobody_listens = events.send(Event::Working(share, None));
                });
                // Also where it failed: nothing is being read any more.
                self.emit(Event::Working(1.0, None));
                looked?.0
            }
        };
        if let Some(earlier) = earlier {
            report.codes_at_first = earlier.codes_at_first.or(Some(earlier.codes));
        }
        self.take_report(report)
    }

    /// Takes tank pressure from another source that the car offers, now and at this vehicle's later
    /// visits; `None` leaves the choice to the program again.
    pub(super) fn use_tank_source(&mut self, source: Option<TankSource>) -> Result<(), JobError> {
        let language = self.style.language;
        let check = self.running.as_ref().map(RunningCheck::check);
        let car = self.source.as_mut().ok_or(JobError::NotConnected)?.car()?;
        if !car.use_tank_source(source, check)? {
            return Err(JobError::TankSourceNotOffered);
        }
        let line = car.tank_source(language);
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        store.set_tank_source(visit.record.vehicle.id, source, date)?;
        match visit.car.clone() {
            Some(report) => self.take_report(CarReport { tank_source: line, ..report }),
            None => self.show_card(),
        }
    }

    /// Keeps what the car said, in the visit and in the database.
    fn take_report(&mut self, report: CarReport) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        let json = serde_json::to_value(&report).unwrap_or_default();
        store.save_car_report(visit.id(), &json, date)?;
        visit.record.car_report = Some(json);
        let known: Vec<&str> = visit.recording.codes().iter().map(|it| it.code.as_str()).collect();
        let new: Vec<String> = report
            .codes
            .iter()
            .map(|line: &CodeLine| line.code.clone())
            .filter(|code| !known.contains(&code.as_str()))
            .collect();
        visit.take_codes(store, &new)?;
        let vin = report.vin.clone();
        visit.car = Some(report);
        if let Some(vin) = vin {
            self.learn_vin(&vin)?;
        }
        self.judge()
    }

    /// A vehicle that had no VIN gets the one that the car gives.
    fn learn_vin(&mut self, vin: &str) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        let vehicle = store.vehicle(visit.record.vehicle.id)?;
        let free = store.vehicle_by_vin(vin, vehicle.is_virtual)?.is_none();
        if vehicle.vin.is_none() && free && vin.parse::<Vin>().is_ok() {
            store.set_vin(vehicle.id, vin, date)?;
            visit.record.vehicle.vin = Some(vin.to_owned());
        }
        Ok(())
    }

    /// Erases the car's codes, after the person agreed to this one request.
    pub(super) fn clear_codes(&mut self, consent: bool) -> Result<(), JobError> {
        if !consent {
            return Err(JobError::ConsentNeeded);
        }
        self.stop_virtual_engine();
        self.keep_snapshot()?;
        let source = self.source.as_mut().ok_or(JobError::NotConnected)?;
        let service = Service::ClearCodes.request();
        let request = Request::new(service, &[]).with_consent(Consent::given_for(service));
        source.car()?.link.request(&request)?;
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        store.add_clearing(visit.id(), date)?;
        visit.record.clearings.push(date);
        // What is left is evidence of its own: permanent codes stay.
        self.read_car(ReadScope::Codes)
    }

    /// Saves everything that erasing takes away, as the car tells it now: codes, freeze frame,
    /// readiness, monitor results.
    fn keep_snapshot(&mut self) -> Result<(), JobError> {
        let language = self.style.language;
        let source = self.source.as_mut().ok_or(JobError::NotConnected)?;
        let (mut snapshot, _) = read_car::read_everything(source.car()?, language, &mut |_| {})?;
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        if let Some(earlier) = &visit.car {
            let first = earlier.codes_at_first.clone();
            snapshot.codes_at_first = first.or_else(|| Some(earlier.codes.clone()));
            snapshot.readings_per_second = earlier.readings_per_second;
            snapshot.rate_limits.clone_from(&earlier.rate_limits);
            snapshot.doubts.clone_from(&earlier.doubts);
            snapshot.leak_test.clone_from(&earlier.leak_test);
        }
        let json = serde_json::to_value(&snapshot).unwrap_or_default();
        store.save_car_report(visit.id(), &json, date)?;
        visit.record.car_report = Some(json);
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use crate::jobs::source::Source;
    use crate::jobs::tests::answering_car::{Answers, car_that_answers, listed};
    use crate::jobs::{Command, JobError, Workshop, explain};
    use crate::link::LinkError;
    use crate::store::{Listening, VisitRecord};
    use crate::wording::Style;

    /// SAE J1979 before CAN, from memory: one code with its freeze frame, readiness, and one result
    /// of a monitor.
    fn told(asked: &str, _: usize) -> Vec<String> {
        let answers: [(&str, &[&str]); 9] = [
            ("0100", &["41 00 80 10 00 00"]),
            ("0101", &["41 01 81 07 65 04"]),
            ("010C", &["41 0C 00 00"]),
            ("020000", &["42 00 00 40 10 00 00"]),
            ("020200", &["42 02 00 04 55"]),
            ("020C00", &["42 0C 00 0B B8"]),
            ("03", &["43 04 55 00 00 00 00"]),
            ("0600", &["46 00 FF 80 00 00 00"]),
            ("0601", &["46 01 01 00 11 00 10"]),
        ];
        listed(&answers, asked)
    }

    fn never_asked(asked: &str, count: usize) -> Vec<String> {
        assert_ne!(asked, "04", "erased without consent");
        told(asked, count)
    }

    /// 22: conditions not correct, as with a running engine.
    fn refuses(asked: &str, count: usize) -> Vec<String> {
        if asked == "04" { vec!["7F 04 22".to_owned()] } else { told(asked, count) }
    }

    fn erases(asked: &str, count: usize) -> Vec<String> {
        if asked == "04" { vec!["44".to_owned()] } else { told(asked, count) }
    }

    /// Clears codes, and tells what came of it and what the database holds then.
    fn clear(answers: Answers, consent: bool) -> (Result<(), JobError>, VisitRecord) {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("garage.db");
        let mut workshop = Workshop::open(&database, Style::default(), channel().0).unwrap();
        let (name, vin) = ("Blue estate".to_owned(), String::new());
        workshop.attempt(Command::AddVehicle { name, vin, notes: String::new() }).unwrap();
        workshop.attempt(Command::StartVisit { vehicle: 1 }).unwrap();
        let car = car_that_answers(answers, &Listening::default());
        workshop.join(Source::Car(Box::new(car)), "a list".to_owned(), false).unwrap();
        let cleared = workshop.attempt(Command::ClearCodes { consent });
        let visit = workshop.visit().unwrap();
        (cleared, workshop.store().load_visit(visit).unwrap())
    }

    /// Whether the database holds all that erasing takes away.
    fn holds_everything(record: &VisitRecord) {
        let report = record.car_report.as_ref().unwrap();
        assert_eq!(report["freeze_frame_code"], "P0455", "{report}");
        for part in ["codes", "freeze_frame", "readiness", "monitors"] {
            assert!(!report[part].as_array().unwrap().is_empty(), "{part}: {report}");
        }
    }

    #[test]
    fn nothing_is_erased_without_consent() {
        let (refused, record) = clear(never_asked, false);
        assert!(matches!(refused, Err(JobError::ConsentNeeded)), "{refused:?}");
        assert_eq!((record.clearings.len(), record.car_report), (0, None));
    }

    #[test]
    fn what_erasing_takes_away_is_saved_first_also_where_the_car_then_refuses() {
        let (refused, record) = clear(refuses, true);
        let error = refused.unwrap_err();
        let reason = matches!(error, JobError::Link(LinkError::Refused { reason: 0x22, .. }));
        assert!(reason, "{error:?}");
        let why = explain(&error, &Style::default());
        assert!(why.contains("engine off"), "{why}");
        assert!(record.clearings.is_empty());
        holds_everything(&record);
    }

    #[test]
    fn erased_codes_stay_in_the_visit() {
        let (done, record) = clear(erases, true);
        assert!(done.is_ok(), "{done:?}");
        assert_eq!(record.clearings.len(), 1);
        holds_everything(&record);
    }
}
