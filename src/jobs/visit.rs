use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rust_decimal::prelude::ToPrimitive;

use super::vent::ClosedVent;
use super::{CarReport, JobError, Judgement, PhotoLine, VisitClock, judge, photos};
use crate::checks::Rails;
use crate::diagnosis::Hypothesis;
use crate::evidence::{Check, CheckResult};
use crate::recording::{Action, ActionAt, Recording};
use crate::store::{
    JudgedCheck, JudgedVerdict, Store, VehicleId, VehicleSummary, VisitId, VisitRecord,
};
use crate::units::Instant;
use crate::vehicle::Signal;

/// A sample on the visit's clock.
pub(super) type Sample = (Signal, Instant, f64);

/// The open visit: its recording in memory, what of it is not yet on the disk, and what was judged.
#[derive(Debug)]
pub(super) struct Visit {
    /// What the store knows of it; its recording is kept in `recording` instead.
    pub(super) record: VisitRecord,
    /// Everything recorded so far.
    pub(super) recording: Recording,
    /// The visit's clock.
    pub(super) clock: VisitClock,
    /// What the car says, once read.
    pub(super) car: Option<CarReport>,
    /// What the recording shows so far.
    pub(super) judgement: Judgement,
    /// The bands each check was held against.
    pub(super) rails: BTreeMap<Check, Vec<Rails>>,
    /// Its pictures, each held against what was added.
    pub(super) photos: Vec<PhotoLine>,
    /// While the car holds its vent closed at the person's request.
    pub(super) closed_vent: Option<ClosedVent>,
    unsaved_samples: Vec<Sample>,
    unsaved_actions: Vec<ActionAt>,
}

impl Visit {
    /// Starts a visit with a vehicle.
    pub(super) fn start(
        store: &mut Store,
        vehicle: VehicleId,
        now: DateTime<Utc>,
    ) -> Result<Self, JobError> {
        let id = store.start_visit(vehicle, now)?;
        Self::open(store, id)
    }

    /// Opens an earlier visit, or one that was cut off: the recording goes on where it ended.
    pub(super) fn open(store: &mut Store, id: VisitId) -> Result<Self, JobError> {
        let mut record = store.load_visit(id)?;
        let recording = std::mem::take(&mut record.recording);
        let latest = recording.span().map_or(Instant::ZERO, |(_, last)| last);
        let car = record.car_report.clone().and_then(|json| serde_json::from_value(json).ok());
        let rails = std::mem::take(&mut record.rails);
        let judgement = judge(&recording, &record.observations);
        let photos = photos::lines(store, &record.photos);
        Ok(Self {
            record,
            recording,
            clock: VisitClock::resumed(latest),
            car,
            judgement,
            rails,
            photos,
            closed_vent: None,
            unsaved_samples: Vec::new(),
            unsaved_actions: Vec::new(),
        })
    }

    /// Takes over what the vehicle is now. What its tank holds tells how large the vapour space is, and so
    /// what the numbers mean.
    pub(super) fn take_vehicle(&mut self, vehicle: VehicleSummary) {
        self.recording.set_tank_litre(vehicle.tank_litre.and_then(|litre| litre.to_f64()));
        self.record.vehicle = vehicle;
    }

    /// Looks at the pictures anew, after one came or went.
    pub(super) fn look_at_photos(&mut self, store: &Store) -> Result<(), JobError> {
        self.photos = photos::list_photos(store, self.id())?;
        Ok(())
    }

    /// Number in the database.
    pub(super) fn id(&self) -> VisitId {
        self.record.id
    }

    /// Records samples to the whole millisecond and returns those that were kept: a series takes
    /// no step back in time.
    pub(super) fn take_samples(&mut self, samples: Vec<Sample>) -> Vec<Sample> {
        let kept: Vec<Sample> = samples
            .into_iter()
            .map(|(signal, at, value)| (signal, at.whole_millisecond(), value))
            .filter(|(signal, at, value)| self.recording.push(*signal, *at, *value))
            .collect();
        self.unsaved_samples.extend_from_slice(&kept);
        kept
    }

    /// Records what the person did, unless it is known already: what a procedure notices in the
    /// data and what the person says are often the same deed.
    pub(super) fn take_action(&mut self, action: ActionAt) -> bool {
        if is_known(self.recording.actions(), action) {
            return false;
        }
        self.recording.push_action(action.at, action.action);
        self.unsaved_actions.push(action);
        true
    }

    /// Records the trouble codes that were read just now and writes them through.
    pub(super) fn take_codes(
        &mut self,
        store: &mut Store,
        codes: &[String],
    ) -> Result<(), JobError> {
        let at = self.clock.now();
        for code in codes {
            self.recording.push_code(at, code);
            store.append_code(self.id(), at, code)?;
        }
        Ok(())
    }

    /// Writes to the disk what is not there yet. What could not be written is kept for the next
    /// attempt.
    pub(super) fn save(&mut self, store: &mut Store) -> Result<(), JobError> {
        let id = self.id();
        if !self.unsaved_samples.is_empty() {
            store.append_samples(id, &self.unsaved_samples)?;
            self.unsaved_samples.clear();
        }
        if !self.unsaved_actions.is_empty() {
            store.append_actions(id, &self.unsaved_actions)?;
            self.unsaved_actions.clear();
        }
        Ok(())
    }

    /// Judges the recording as it stands and saves what is new: results that changed, and the
    /// verdict if it did.
    pub(super) fn judge(&mut self, store: &mut Store, now: DateTime<Utc>) -> Result<(), JobError> {
        self.judgement = judge(&self.recording, &self.record.observations);
        let id = self.id();
        for result in &self.judgement.findings.checks {
            let known = self.record.checks.iter().rev().find(|it| it.result.check == result.check);
            if known.is_none_or(|known| known.result != *result) {
                store.save_check(id, result, now)?;
                let program_version = env!("CARGO_PKG_VERSION").to_owned();
                let judged = JudgedCheck { result: result.clone(), judged: now, program_version };
                self.record.checks.push(judged);
            }
        }
        let verdict = &self.judgement.verdict;
        if self.record.verdicts.last().is_none_or(|known| known.verdict != *verdict) {
            store.save_verdict(id, verdict, now)?;
            let program_version = env!("CARGO_PKG_VERSION").to_owned();
            let judged = JudgedVerdict { verdict: verdict.clone(), judged: now, program_version };
            self.record.verdicts.push(judged);
        }
        Ok(())
    }

    /// The result of a check, if the recording allows it.
    pub(super) fn result(&self, check: Check) -> Option<&CheckResult> {
        self.judgement.findings.check(check)
    }

    /// The most probable hypothesis so far.
    pub(super) fn leading(&self) -> Hypothesis {
        self.judgement.verdict.leading()
    }

    /// Whether anything was found or read that a verdict can rest on.
    pub(super) fn has_evidence(&self) -> bool {
        let findings = &self.judgement.findings;
        !findings.checks.is_empty()
            || !findings.codes.is_empty()
            || !findings.observations.is_empty()
    }
}

/// Deeds of which one undoes the other: between two of the same kind there must be another one of
/// the group.
pub(super) fn group(action: Action) -> Option<u8> {
    match action {
        Action::KeyOn | Action::EngineStarted | Action::EngineStopped => Some(0),
        Action::PurgeUnplugged | Action::PurgePlugged => Some(1),
        Action::VentSealed | Action::VentOpened => Some(2),
        Action::CapOpened | Action::CapClosed => Some(3),
        Action::ThrottleOpened | Action::ThrottleReleased => Some(4),
        Action::Refuelled | Action::PartReplaced | Action::TankZeroed => None,
    }
}

/// Whether a deed is in the list already: said and noticed, a little earlier or later.
pub(super) fn is_known(known: &[ActionAt], new: ActionAt) -> bool {
    let Some(group_of_new) = group(new.action) else {
        return known.contains(&new);
    };
    let alike = || known.iter().filter(|it| group(it.action) == Some(group_of_new));
    let before = alike().rfind(|it| it.at <= new.at);
    let after = alike().find(|it| it.at > new.at);
    [before, after].into_iter().flatten().any(|it| it.action == new.action)
}

#[cfg(test)]
mod tests {
    use super::is_known;
    use crate::recording::{Action, ActionAt};
    use crate::units::Instant;

    fn deed(seconds: f64, action: Action) -> ActionAt {
        ActionAt { at: Instant::from_seconds(seconds), action }
    }

    #[test]
    fn a_deed_that_is_noticed_and_told_is_one_deed() {
        let known = [deed(10.0, Action::PurgeUnplugged)];
        assert!(is_known(&known, deed(11.5, Action::PurgeUnplugged)));
        assert!(is_known(&known, deed(9.0, Action::PurgeUnplugged)));
        assert!(!is_known(&known, deed(20.0, Action::PurgePlugged)));
        assert!(!is_known(&known, deed(12.0, Action::ThrottleOpened)));
    }

    #[test]
    fn the_same_deed_after_it_was_undone_is_new() {
        let known = [deed(10.0, Action::ThrottleOpened), deed(13.0, Action::ThrottleReleased)];
        assert!(!is_known(&known, deed(20.0, Action::ThrottleOpened)));
        assert!(is_known(&known, deed(13.4, Action::ThrottleReleased)));
    }

    #[test]
    fn a_second_fill_up_is_a_second_deed() {
        let known = [deed(10.0, Action::Refuelled)];
        assert!(is_known(&known, deed(10.0, Action::Refuelled)));
        assert!(!is_known(&known, deed(90.0, Action::Refuelled)));
    }
}
