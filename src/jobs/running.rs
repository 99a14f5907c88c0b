use super::run_check::RunningCheck;
use super::{Event, JobError, Workshop, given_up};
use crate::diagnosis::Hypothesis;
use crate::evidence::Check;
use crate::recording::Action;
use crate::store::{Store, StoreError, VisitId};
use crate::virtual_car::Act;
use crate::wording;

/// The setting that names the visit and the check that runs, so that a program that was ended in
/// the middle finds back.
const UNFINISHED: &str = "unfinished_check";

/// What a check leaves behind when it is given up, and what puts it back; the sealed tank first.
const UNDONE_BY: [(Action, Act, Action); 3] = [
    (Action::VentSealed, Act::OpenVent, Action::VentOpened),
    (Action::CapOpened, Act::CloseCap, Action::CapClosed),
    (Action::PurgeUnplugged, Act::PlugPurge, Action::PurgePlugged),
];

/// The visit and its check that were cut off when the program ended.
pub(super) fn cut_off(store: &Store) -> Result<Option<(VisitId, Check)>, StoreError> {
    let kept = store.setting(UNFINISHED)?.unwrap_or_default();
    Ok(kept.split_once(' ').and_then(|(visit, name)| {
        let check = Check::ALL.into_iter().find(|check| check.name() == name)?;
        Some((VisitId(visit.parse().ok()?), check))
    }))
}

impl Workshop {
    /// Keeps which check runs. A demonstration is over with the program: its car is gone.
    pub(super) fn remember_running(&mut self) -> Result<(), JobError> {
        if self.demo_is_under_way() {
            return Ok(());
        }
        let running = self.running.as_ref().map(RunningCheck::check);
        let value = match (self.visit(), running) {
            (Some(visit), Some(check)) => format!("{} {}", visit.0, check.name()),
            _ => String::new(),
        };
        Ok(self.store.set_setting(UNFINISHED, &value)?)
    }

    /// Opens the visit whose check was cut off, if there is one.
    pub(super) fn take_up(&mut self) -> Result<(), JobError> {
        let Some((visit, check)) = cut_off(&self.store)? else { return Ok(()) };
        if self.open_visit(visit).is_err() {
            // The visit went, by another device or by hand: nothing is left to go on with.
            return Ok(self.store.set_setting(UNFINISHED, "")?);
        }
        self.emit(Event::Reminder(wording::cut_off_when_closed(check, self.style.language)));
        Ok(())
    }

    /// Holds the running check, or lets it go on.
    pub(super) fn pause_check(&mut self, paused: bool) {
        if let Some(running) = &mut self.running {
            running.pause(paused);
            self.emit(Event::Paused(paused));
        }
    }

    /// Begins the running check's steps anew.
    pub(super) fn repeat_check(&mut self) -> Result<(), JobError> {
        let Some(check) = self.running.as_ref().map(RunningCheck::check) else { return Ok(()) };
        let visit = self.visit.as_ref().ok_or(JobError::NoVisit)?;
        self.running = Some(RunningCheck::start(check, visit));
        self.emit(Event::Paused(false));
        self.show_card()
    }

    /// Gives the running check up: what it recorded is judged, and the reason is kept.
    pub(super) fn stop_check(&mut self, reason: &str) -> Result<(), JobError> {
        let Some(check) = self.running.as_ref().map(RunningCheck::check) else { return Ok(()) };
        self.note_check(|notes| given_up::with(notes, check, reason))?;
        self.end_check()?;
        self.ask_to_put_back();
        Ok(())
    }

    /// Says what a check that was given up left sealed, open or unplugged. A virtual person does it.
    fn ask_to_put_back(&self) {
        let Some(visit) = &self.visit else { return };
        let left: Vec<(Act, Action)> = UNDONE_BY
            .into_iter()
            .filter(|(done, _, undone)| {
                visit.recording.last_action(*done) > visit.recording.last_action(*undone)
            })
            .map(|(_, act, undone)| (act, undone))
            .collect();
        let undoing: Vec<Action> = left.iter().map(|(_, action)| *action).collect();
        if let Some(sentence) = wording::put_back(&undoing, self.style.language) {
            self.emit(Event::Reminder(sentence));
        }
        if let Some(garage) = self.garage() {
            left.iter().for_each(|(act, _)| garage.do_now(*act));
        }
    }

    /// A check that was made to its end is not given up any more.
    pub(super) fn made_to_its_end(&mut self, check: Check) -> Result<(), JobError> {
        self.note_check(|notes| given_up::without(notes, check))
    }

    fn note_check(&mut self, change: impl FnOnce(&str) -> String) -> Result<(), JobError> {
        let date = self.date();
        let (visit, store) = self.open_visit_mut()?;
        let notes = change(&visit.record.notes);
        if notes != visit.record.notes {
            store.set_visit_notes(visit.id(), &notes, date)?;
            visit.record.notes = notes;
        }
        Ok(())
    }

    /// Puts the new part into the virtual car, if it is the one that was at fault: whoever records
    /// a repair says that the part is in. Another part leaves the fault where it is.
    pub(super) fn replace_virtual_part(&self) {
        let (Some(garage), Some(visit)) = (self.garage(), &self.visit) else { return };
        let (Some(fault), Hypothesis::Fault(named)) = (garage.truth().fault, visit.leading())
        else {
            return;
        };
        if named.same_part(fault) {
            garage.do_now(Act::ReplacePart);
        }
    }

    /// A virtual car that is joined anew has the part that was put in earlier in this visit.
    pub(super) fn virtual_part_stays_in(&self) {
        if self.visit.as_ref().is_some_and(|visit| !visit.record.repairs.is_empty()) {
            self.replace_virtual_part();
        }
    }

    /// Has the engine of a virtual car stopped, as the page asks a person to.
    pub(super) fn stop_virtual_engine(&self) {
        if let Some(garage) = self.garage().filter(|garage| garage.engine_runs()) {
            garage.do_now(Act::StopEngine);
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use super::cut_off;
    use crate::evidence::Check;
    use crate::jobs::{Command, Event, LinkAddress, Workshop};
    use crate::recording::Action;
    use crate::wording::Style;

    /// Given up in the middle of a hold: the tank must not stay sealed for want of a word.
    #[test]
    fn giving_up_says_what_to_put_back() {
        let folder = tempfile::tempdir().unwrap();
        let (sender, events) = mpsc::channel();
        let mut workshop =
            Workshop::open(&folder.path().join("given_up.db"), Style::default(), sender).unwrap();
        let name = "Practice".to_owned();
        let add = Command::AddVehicle { name, vin: String::new(), notes: String::new() };
        workshop.attempt(add).unwrap();
        workshop.attempt(Command::StartVisit { vehicle: 1 }).unwrap();
        let address = LinkAddress::Virtual { fault: None, seed: 3, real_time: false };
        workshop.attempt(Command::Connect(address)).unwrap();
        workshop.attempt(Command::StartCheck(Check::SealedHold)).unwrap();
        let last = |workshop: &Workshop, action| {
            workshop.visit.as_ref().and_then(|visit| visit.recording.last_action(action))
        };
        for _ in 0..100_000 {
            workshop.turn();
            if last(&workshop, Action::VentSealed).is_some() {
                break;
            }
        }
        assert!(last(&workshop, Action::VentSealed).is_some());
        workshop.stop_check("rain").unwrap();
        let said: Vec<String> = events
            .try_iter()
            .filter_map(|event| match event {
                Event::Reminder(sentence) => Some(sentence),
                _ => None,
            })
            .collect();
        assert!(said.iter().any(|it| it.starts_with("Open the vent again now")), "{said:?}");
        assert!(!said.iter().any(|it| it.contains("fuel cap")), "{said:?}");
    }

    #[test]
    fn a_check_of_a_demonstration_is_not_taken_up_again() {
        let folder = tempfile::tempdir().unwrap();
        let (events, _heard) = mpsc::channel();
        let mut workshop =
            Workshop::open(&folder.path().join("demo.db"), Style::default(), events).unwrap();
        workshop.play_demo(None, 3, None).unwrap();
        while workshop.running.is_none() && workshop.demo_is_under_way() {
            workshop.turn();
        }
        assert!(workshop.running.is_some());
        assert_eq!(cut_off(&workshop.store).unwrap(), None);
    }
}
