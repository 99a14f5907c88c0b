use std::sync::mpsc::Sender;
use std::time::Duration;

use super::connect;
use super::run_check::RunningCheck;
use super::source::Source;
use super::{
    Event, JobError, LinkAddress, LinkState, SampleBatch, Workshop, explain,
    needed_signals::missing_signals,
};
use crate::checks::fit_curves;
use crate::evidence::Check;
use crate::recording::ActionAt;
use crate::units::Instant;

/// Between two writes of the recording to the disk. A turn and the write itself come on top, and a
/// crash may cost nothing that is older than a second.
const SAVE_EVERY: Duration = Duration::from_millis(750);

/// How much of the visit's time one turn takes in, so that the strip moves often enough.
const TURN: Duration = Duration::from_millis(30);

impl Workshop {
    /// Opens the way to the car. What happens meanwhile comes out as events.
    pub(super) fn connect(&mut self, address: &LinkAddress) -> Result<(), JobError> {
        self.source = None;
        let address = &self.as_chosen(address)?;
        // The search would be in the way of the connection.
        let name = self.name_seen(address);
        self.looking = None;
        let events = self.events.clone();
        let wanted = self.listening()?;
        let connected = connect::connect(address, self.clock, &wanted, &mut |step| {
            let _nobody_listens = events.send(Event::Link(LinkState::Connecting(step)));
        });
        let source = match connected {
            Ok(source) => source,
            Err(error) => {
                let sentence = explain(&error, &self.style);
                self.emit(Event::Link(LinkState::Failed(sentence)));
                return Err(error);
            }
        };
        self.remember(address, name)?;
        let is_virtual = matches!(address, LinkAddress::Virtual { .. });
        self.join(source, connect::in_words(address), is_virtual)
    }

    /// Takes a source in use: from here on it feeds the visit.
    pub(super) fn join(
        &mut self,
        source: Source,
        words: String,
        is_virtual: bool,
    ) -> Result<(), JobError> {
        if let Some(visit) = &mut self.visit {
            self.store.set_connected_to(visit.id(), &words, is_virtual, self.clock.date())?;
            visit.record.connected_to = Some(words);
            visit.record.is_virtual |= is_virtual;
            visit.clock.join(source.now());
        }
        self.source = Some(source);
        self.lost_since = None;
        self.silent_since = None;
        self.virtual_part_stays_in();
        self.emit(Event::Link(LinkState::Linked { readings_per_second: None }));
        self.show_card()
    }

    /// Lets go of the car.
    pub(super) fn disconnect(&mut self) -> Result<(), JobError> {
        self.source = None;
        self.lost_since = None;
        self.emit(Event::Link(LinkState::Idle));
        self.save()
    }

    /// Starts a check, or makes it again.
    pub(super) fn start_check(&mut self, check: Check) -> Result<(), JobError> {
        if let Some(running) = &self.running {
            return Err(JobError::CheckRuns { running: running.check() });
        }
        let visit = self.visit.as_mut().ok_or(JobError::NoVisit)?;
        let source = self.source.as_mut().ok_or(JobError::NotConnected)?;
        let missing = missing_signals(check, &source.signals());
        if !missing.is_empty() {
            return Err(JobError::CheckImpossible { check, missing });
        }
        if visit.record.skipped.contains(&check) {
            visit.record.skipped.retain(|it| *it != check);
            self.store.set_skipped(visit.id(), &visit.record.skipped, self.clock.date())?;
        }
        source.poll_for(Some(check));
        self.running = Some(RunningCheck::start(check, visit));
        self.emit(Event::Paused(false));
        self.remember_running()?;
        self.show_card()
    }

    /// One round: takes in what the car says, moves the running check on, saves when it is time.
    pub fn turn(&mut self) {
        if let Err(error) = self.take_turn() {
            let sentence = explain(&error, &self.style);
            self.emit(Event::Failed(sentence));
        }
    }

    fn take_turn(&mut self) -> Result<(), JobError> {
        if self.lost_since.is_some() {
            self.try_again();
        } else if self.source.is_some() {
            self.take_in()?;
        }
        self.remind_of_vent()?;
        self.advance_demo()?;
        if self.clock.now().saturating_since(self.saved_at) >= SAVE_EVERY {
            self.save()?;
            self.show_rate();
        }
        Ok(())
    }

    /// Takes in what came and shows it. Every reply is handed on before the next is waited for, and
    /// before anything is computed from it: a reading must not wait for an adapter that is slow.
    fn take_in(&mut self) -> Result<(), JobError> {
        let Some(source) = &mut self.source else { return Ok(()) };
        let until = source.now() + TURN;
        let mut heard = None;
        let mut failure = None;
        while source.now() < until && !source.is_over() {
            match source.poll() {
                Ok(catch) => {
                    let mut batch = SampleBatch::default();
                    if let Some(visit) = &mut self.visit {
                        let to_visit =
                            |(signal, at, value)| (signal, visit.clock.visit_time(at), value);
                        let samples = catch.samples.into_iter().map(to_visit).collect();
                        let deeds: Vec<ActionAt> = catch
                            .actions
                            .iter()
                            .map(|it| ActionAt { at: visit.clock.visit_time(it.at), ..*it })
                            .collect();
                        batch.now = visit.clock.follow(source.now());
                        batch.samples = visit.take_samples(samples);
                        batch.actions =
                            deeds.into_iter().filter(|it| visit.take_action(*it)).collect();
                    } else {
                        batch.now = source.now();
                        batch.samples = catch.samples;
                    }
                    // A silence that follows in the same turn begins here.
                    heard = (!batch.samples.is_empty()).then_some(batch.now).or(heard);
                    hand_on(&self.events, batch);
                }
                Err(error) => {
                    failure = Some(error);
                    break;
                }
            }
        }
        let over = source.is_over();
        let now = self.visit.as_ref().map_or(source.now(), |visit| visit.clock.now());
        if let (Some(running), Some(visit)) = (&mut self.running, &mut self.visit) {
            let actions = running.advance(visit, source.garage());
            hand_on(&self.events, SampleBatch { samples: Vec::new(), actions, now });
        }
        self.show_check(now)?;
        match failure {
            Some(error) => self.handle_link_failure(error, now),
            None if over => self.disconnect(),
            None => {
                self.watch_silence(heard, now);
                Ok(())
            }
        }
    }

    /// Shows the running check; when it has ended, judges.
    fn show_check(&mut self, now: Instant) -> Result<(), JobError> {
        let Some(running) = &self.running else { return Ok(()) };
        let progress = running.progress(now);
        let (check, done) = (running.check(), running.is_done());
        if let Some(visit) = &mut self.visit {
            visit.rails.insert(progress.check, progress.rails.clone());
        }
        self.emit(Event::Check(Box::new(progress)));
        if !done {
            return Ok(());
        }
        self.made_to_its_end(check)?;
        self.end_check()
    }

    pub(super) fn end_check(&mut self) -> Result<(), JobError> {
        let Some(running) = self.running.take() else { return Ok(()) };
        self.remember_running()?;
        if let Some(source) = &mut self.source {
            source.poll_for(None);
        }
        self.save()?;
        self.save_rails(running.check())?;
        if running.check() == Check::AfterFillUp {
            self.note_fill_up()?;
        }
        self.judge()?;
        self.hold_rest_voltage(running.check())?;
        let result = self.visit.as_ref().and_then(|visit| visit.result(running.check()));
        if let Some(result) = result.cloned() {
            let recording = self.visit.as_ref().map(|visit| &visit.recording);
            let fits = recording.and_then(|it| fit_curves(it).remove(&running.check()));
            self.emit(Event::Fitted(fits.unwrap_or_default()));
            self.emit(Event::CheckEnded(Box::new(result)));
        }
        Ok(())
    }

    /// Keeps the bands of a check that ended: they are drawn again in a report of the closed visit.
    fn save_rails(&mut self, check: Check) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        match visit.rails.get(&check) {
            Some(rails) if !rails.is_empty() => {
                Ok(store.save_rails(visit.id(), check, rails, date)?)
            }
            _ => Ok(()),
        }
    }

    fn show_rate(&self) {
        let rate = self.source.as_ref().and_then(Source::readings_per_second);
        if rate.is_some() && self.lost_since.is_none() {
            self.emit(Event::Link(LinkState::Linked { readings_per_second: rate }));
        }
    }
}

/// Hands readings and deeds on, if there are any.
fn hand_on(events: &Sender<Event>, batch: SampleBatch) {
    if !batch.samples.is_empty() || !batch.actions.is_empty() {
        let _nobody_listens = events.send(Event::Samples(batch));
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::channel;

    use crate::jobs::source::Source;
    use crate::jobs::tests::answering_car::{car_that_answers, listed};
    use crate::jobs::{Command, Event, Workshop};
    use crate::store::Listening;
    use crate::wording::Style;

    /// Tells engine and vehicle speed, one at a time and each in 20 ms.
    const ANSWERS: [(&str, &[&str]); 3] =
        [("0100", &["41 00 00 18 00 00"]), ("010C", &["41 0C 0B B8"]), ("010D", &["41 0D 00"])];

    #[test]
    fn a_reading_is_handed_on_before_the_next_reply_is_waited_for() {
        let folder = tempfile::tempdir().unwrap();
        let (events, heard) = channel();
        let database = folder.path().join("garage.db");
        let mut workshop = Workshop::open(&database, Style::default(), events).unwrap();
        let (name, vin, notes) = ("Practice".to_owned(), String::new(), String::new());
        workshop.attempt(Command::AddVehicle { name, vin, notes }).unwrap();
        let vehicle = workshop.store().list_vehicles("").unwrap()[0].id.0;
        workshop.attempt(Command::StartVisit { vehicle }).unwrap();
        let car = car_that_answers(|asked, _| listed(&ANSWERS, asked), &Listening::default());
        workshop.join(Source::Car(Box::new(car)), "network".to_owned(), false).unwrap();
        heard.try_iter().for_each(drop);
        workshop.turn();
        let batches: Vec<_> = heard
            .try_iter()
            .filter_map(|event| match event {
                Event::Samples(batch) => Some(batch),
                _ => None,
            })
            .collect();
        let told: Vec<usize> = batches.iter().map(|it| it.samples.len()).collect();
        assert_eq!(told, [1, 1], "{batches:?}");
        assert!(batches[0].now < batches[1].samples[0].1, "{batches:?}");
    }
}
