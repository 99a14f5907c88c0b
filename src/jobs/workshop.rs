use std::path::Path;
use std::sync::mpsc::Sender;

use chrono::{DateTime, TimeDelta, Utc};

use super::demo::Demo;
use super::looking::Looking;
use super::run_check::RunningCheck;
use super::source::Source;
use super::visit::Visit;
use super::{
    Command, Complaint, Event, JobError, LinkState, MachineClock, card, details, explain, repair,
    report,
};
use crate::evidence::{Check, Observation, Outcome};
use crate::recording::{Action, ActionAt};
use crate::store::{NewVehicle, Store, VehicleId, VisitId};
use crate::units::Instant;
use crate::virtual_car::Garage;
use crate::wording::Style;

/// Everything that is open: the database, the visit, the way to the car, the running check. It
/// does one thing at a time; [`Worker`](super::Worker) gives it a thread, the command line calls it
/// directly.
pub struct Workshop {
    pub(super) store: Store,
    pub(super) style: Style,
    pub(super) clock: MachineClock,
    pub(super) events: Sender<Event>,
    pub(super) source: Option<Source>,
    pub(super) looking: Option<Looking>,
    pub(super) visit: Option<Visit>,
    pub(super) running: Option<RunningCheck>,
    pub(super) saved_at: Instant,
    /// Since when the link is lost, on the visit's clock.
    pub(super) lost_since: Option<Instant>,
    /// Since when nothing answers although the link seems to stand, on the visit's clock.
    pub(super) silent_since: Option<Instant>,
    /// When something was heard last, on the visit's clock.
    pub(super) heard_at: Instant,
    pub(super) demo: Option<Demo>,
}

impl Workshop {
    /// Opens the database.
    ///
    /// # Errors
    /// What keeps it from being opened.
    pub fn open(database: &Path, style: Style, events: Sender<Event>) -> Result<Self, JobError> {
        let clock = MachineClock::start();
        let mut store = Store::open(database)?;
        store.back_up_if_due(clock.date())?;
        Ok(Self {
            store,
            style,
            clock,
            events,
            source: None,
            looking: None,
            visit: None,
            running: None,
            saved_at: Instant::ZERO,
            lost_since: None,
            silent_since: None,
            heard_at: Instant::ZERO,
            demo: None,
        })
    }

    /// The database.
    pub fn store(&self) -> &Store {
        &self.store
    }

    /// Number of the open visit.
    pub fn visit(&self) -> Option<VisitId> {
        self.visit.as_ref().map(Visit::id)
    }

    /// The virtual car's garage, while a virtual car is connected.
    pub fn garage(&self) -> Option<&Garage> {
        self.source.as_ref().and_then(Source::garage)
    }

    /// Whether there is work without being asked: a car to poll.
    pub fn is_busy(&self) -> bool {
        self.source.is_some()
    }

    /// Does what is asked, and says what came of it. A failure is an event like any other.
    pub fn handle(&mut self, command: Command) {
        if let Err(error) = self.attempt(command) {
            let sentence = explain(&error, &self.style);
            self.emit(Event::Failed(sentence));
        }
    }

    /// Does what is asked; the events say what came of it.
    ///
    /// # Errors
    /// What keeps it from being done.
    pub fn attempt(&mut self, command: Command) -> Result<(), JobError> {
        match command {
            Command::ListVehicles { search } => self.list_vehicles(&search),
            Command::OpenVehicle(id) => self.show_vehicle(VehicleId(id)),
            Command::AddVehicle { name, vin, notes } => self.add_vehicle(&name, &vin, &notes),
            Command::AddFillUp { vehicle, fill_up } => {
                self.add_fill_up(VehicleId(vehicle), &fill_up)
            }
            Command::StartVisit { vehicle } => self.start_visit(VehicleId(vehicle)),
            Command::OpenVisit(id) => self.open_visit(VisitId(id)),
            Command::SetComplaint { kinds, words } => self.set_complaint(&kinds, &words),
            Command::SetOdometer { kilometres } => self.set_odometer(kilometres),
            Command::StartDemo { fault, seed } => self.start_demo(fault, seed),
            Command::SetStyle(style) => {
                self.style = style;
                self.show_card()
            }
            Command::AddPhoto { path, caption } => self.add_photo(&path, &caption),
            Command::RemovePhoto(id) => self.remove_photo(id),
            Command::Histories(command) => self.handle_histories(command),
            Command::ListBackups => self.show_backups(),
            Command::BackUpNow => self.back_up(),
            Command::Restore { backup, agreed } => self.restore(&backup, agreed),
            Command::ReadSettings => self.read_settings(),
            Command::SaveSetting { name, value } => self.save_setting(&name, &value),
            Command::ScanAdapters => self.scan_adapters(),
            Command::StopScan => {
                self.stop_scan();
                Ok(())
            }
            Command::RememberAdapter { address, name } => self.remember_adapter(&address, &name),
            Command::ForgetAdapter(address) => self.forget_adapter(&address),
            Command::ListStreams(address) => self.list_streams(&address),
            Command::ChooseStream { address, stream } => self.choose_stream(&address, stream),
            Command::Connect(address) => self.connect(&address),
            Command::Disconnect => self.disconnect(),
            Command::ReadCar(scope) => self.read_car(scope),
            Command::StartCheck(check) => self.start_check(check),
            Command::StopCheck { reason } => self.stop_check(&reason),
            Command::PauseCheck(paused) => {
                self.pause_check(paused);
                Ok(())
            }
            Command::RepeatCheck => self.repeat_check(),
            Command::TakeUp => self.take_up(),
            Command::SkipCheck(check) => self.skip_check(check),
            Command::Mark(action) => self.mark(action),
            Command::Observe { observation, holds } => self.observe(observation, holds),
            Command::SaveRepair(draft) => {
                let entry = repair::entry(&draft)?;
                self.save_repair(&entry)
            }
            Command::ClearCodes { consent } => self.clear_codes(consent),
            Command::DescribeVehicle(facts) => self.describe_vehicle(&facts),
            Command::NoteCode { code, meaning } => self.note_code(&code, &meaning),
            Command::CloseVent { consent } => self.close_vent(consent),
            Command::UseTankSource(source) => self.use_tank_source(source),
            Command::ListOwnSignals => self.show_own_signals(),
            Command::SaveOwnSignals { signals, scope } => self.save_own_signals(&signals, scope),
            Command::TryOwnSignal(signal) => self.try_own_signal(&signal),
            Command::ImportOwnSignals { file, scope } => self.import_own_signals(&file, scope),
            Command::ExportOwnSignals { file, scope } => self.export_own_signals(&file, scope),
            Command::PlanFollowUp { days } => self.plan_follow_up(days),
            Command::WriteReport { visit, format, path, private, paper } => {
                let visit = visit.map(VisitId).or(self.visit()).ok_or(JobError::NoVisit)?;
                self.save()?;
                let path = report::write(self, visit, format, path, (private, paper))?;
                self.emit(Event::ReportWritten(path));
                Ok(())
            }
            Command::CloseVisit => self.close_visit(),
            Command::Quit => {
                self.close();
                Ok(())
            }
        }
    }

    /// Saves what is open and lets go of the car.
    pub fn close(&mut self) {
        self.running = None;
        self.source = None;
        if let Err(error) = self.save() {
            let sentence = explain(&error, &self.style);
            self.emit(Event::Failed(sentence));
        }
    }

    pub(super) fn emit(&self, event: Event) {
        // Whoever listened may have gone; the work goes on to its end all the same.
        let _nobody_listens = self.events.send(event);
    }

    pub(super) fn date(&self) -> DateTime<Utc> {
        self.clock.date()
    }

    /// Writes to the disk what is not there yet.
    pub(super) fn save(&mut self) -> Result<(), JobError> {
        self.saved_at = self.clock.now();
        match &mut self.visit {
            Some(visit) => visit.save(&mut self.store),
            None => Ok(()),
        }
    }

    /// Judges the open visit anew where there is something to judge: a fact about the vehicle changed.
    pub(super) fn judge_anew(&mut self) -> Result<(), JobError> {
        if self.visit.as_ref().is_some_and(Visit::has_evidence) { self.judge() } else { Ok(()) }
    }

    /// Judges the open visit anew and shows the card.
    pub(super) fn judge(&mut self) -> Result<(), JobError> {
        let date = self.date();
        let leading = match &mut self.visit {
            Some(visit) => {
                visit.judge(&mut self.store, date)?;
                let verdict = &visit.judgement.verdict;
                let leading = verdict.leading();
                verdict.probabilities.iter().find(|(it, _)| *it == leading).copied()
            }
            None => None,
        };
        if let Some((leading, probability)) = leading {
            self.emit(Event::Leading(leading, probability));
        }
        self.show_card()
    }

    /// Shows the job card.
    pub(super) fn show_card(&self) -> Result<(), JobError> {
        if let Some(visit) = &self.visit {
            let running = self.running.as_ref().map(RunningCheck::check);
            let card = card::visit_card(&self.store, visit, running, &self.style)?;
            self.emit(Event::Visit(Box::new(card)));
        }
        Ok(())
    }

    pub(super) fn open_visit_mut(&mut self) -> Result<(&mut Visit, &mut Store), JobError> {
        match &mut self.visit {
            Some(visit) => Ok((visit, &mut self.store)),
            None => Err(JobError::NoVisit),
        }
    }

    pub(super) fn list_vehicles(&mut self, search: &str) -> Result<(), JobError> {
        let rows = self.store.list_vehicles(search)?.iter().map(card::vehicle_row).collect();
        self.emit(Event::Vehicles(rows));
        Ok(())
    }

    pub(super) fn show_vehicle(&mut self, id: VehicleId) -> Result<(), JobError> {
        let page = card::vehicle_page(&self.store, id)?;
        self.emit(Event::Vehicle(Box::new(page)));
        Ok(())
    }

    fn add_vehicle(&mut self, name: &str, vin: &str, notes: &str) -> Result<(), JobError> {
        let vin = details::typed_vin(vin)?;
        let vehicle = NewVehicle {
            name: name.trim().to_owned(),
            vin,
            notes: notes.to_owned(),
            ..NewVehicle::default()
        };
        let id = self.store.add_vehicle(&vehicle, self.clock.date())?;
        self.list_vehicles("")?;
        self.show_vehicle(id)
    }

    fn start_visit(&mut self, vehicle: VehicleId) -> Result<(), JobError> {
        self.leave_visit()?;
        let date = self.date();
        self.visit = Some(Visit::start(&mut self.store, vehicle, date)?);
        self.show_card()
    }

    pub(super) fn open_visit(&mut self, id: VisitId) -> Result<(), JobError> {
        self.leave_visit()?;
        let date = self.date();
        self.store.reopen_visit(id, date)?;
        let visit = Visit::open(&mut self.store, id)?;
        let recording = Event::Recording(Box::new(visit.recording.clone()));
        self.visit = Some(visit);
        // The card first: with another visit whoever listens puts the earlier recording away.
        self.show_card()?;
        self.emit(recording);
        Ok(())
    }

    /// Saves and leaves the visit that is open, if any; it stays open in the database.
    pub(super) fn leave_visit(&mut self) -> Result<(), JobError> {
        self.running = None;
        if self.source.take().is_some() {
            self.emit(Event::Link(LinkState::Idle));
        }
        (self.lost_since, self.silent_since) = (None, None);
        self.save()?;
        self.visit = None;
        Ok(())
    }

    fn close_visit(&mut self) -> Result<(), JobError> {
        let date = self.date();
        let id = self.visit().ok_or(JobError::NoVisit)?;
        self.leave_visit()?;
        self.store.close_visit(id, date)?;
        self.emit(Event::Link(LinkState::Idle));
        self.list_vehicles("")
    }

    fn set_complaint(&mut self, kinds: &[Complaint], words: &str) -> Result<(), JobError> {
        let date = self.date();
        let names: Vec<&str> = kinds.iter().map(|kind| kind.name()).collect();
        let (visit, store) = self.open_visit_mut()?;
        store.set_complaint(visit.id(), &names, words, date)?;
        visit.record.complaint_kinds = names.into_iter().map(str::to_owned).collect();
        words.clone_into(&mut visit.record.complaint_words);
        self.show_card()
    }

    fn set_odometer(&mut self, kilometres: u32) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        store.set_odometer(visit.id(), kilometres, date)?;
        visit.record.odometer_km = Some(kilometres);
        self.show_card()
    }

    fn skip_check(&mut self, check: Check) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        if !visit.record.skipped.contains(&check) {
            visit.record.skipped.push(check);
            store.set_skipped(visit.id(), &visit.record.skipped, date)?;
        }
        self.show_card()
    }

    fn mark(&mut self, action: Action) -> Result<(), JobError> {
        let (visit, _) = self.open_visit_mut()?;
        visit.take_action(ActionAt { at: visit.clock.now(), action });
        Ok(())
    }

    pub(super) fn observe(
        &mut self,
        observation: Observation,
        holds: bool,
    ) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        store.set_observation(visit.id(), observation, holds, date)?;
        let observations = &mut visit.record.observations;
        let replaced = observation.opposite().filter(|_| holds);
        observations.retain(|it| *it != observation && Some(*it) != replaced);
        if holds {
            observations.push(observation);
            observations.sort_unstable();
        }
        self.judge()
    }

    fn save_repair(&mut self, entry: &crate::store::RepairEntry) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        match visit.record.repairs.last().map(|repair| repair.id) {
            Some(known) => store.edit_repair(known, entry, date)?,
            None => drop(store.add_repair(visit.id(), entry, date)?),
        }
        visit.record.repairs = store.load_visit(visit.id())?.repairs;
        let replaced = ActionAt { at: visit.clock.now(), action: Action::PartReplaced };
        // After a proof that failed, what is recorded next is another repair.
        let failed = visit.result(Check::RepairProof).is_some_and(|it| it.outcome == Outcome::Fail);
        let already = !failed && visit.recording.last_action(Action::PartReplaced).is_some();
        if !already {
            visit.take_action(replaced);
            visit.save(store)?;
        }
        self.replace_virtual_part();
        self.show_card()
    }

    fn plan_follow_up(&mut self, days: u16) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        let due = date + TimeDelta::days(i64::from(days));
        store.plan_follow_up(visit.id(), due, "", date)?;
        visit.record.follow_up = store.load_visit(visit.id())?.follow_up;
        self.show_card()
    }
}
