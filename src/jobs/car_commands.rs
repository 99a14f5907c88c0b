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

    /// Takes tank pressure from another source that the car offers.
    pub(super) fn use_tank_source(&mut self, source: TankSource) -> Result<(), JobError> {
        let language = self.style.language;
        let check = self.running.as_ref().map(RunningCheck::check);
        let car = self.source.as_mut().ok_or(JobError::NotConnected)?.car()?;
        if !car.use_tank_source(source, check) {
            return Err(JobError::TankSourceNotOffered);
        }
        let line = car.tank_source(language);
        let (visit, _) = self.open_visit_mut()?;
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
