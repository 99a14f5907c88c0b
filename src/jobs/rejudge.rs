use std::path::Path;

use chrono::{DateTime, Utc};

use super::history_command::HistoryEvent;
use super::visit::Visit;
use super::{Event, JobError, MachineClock, Workshop};
use crate::diagnosis::Verdict;
use crate::store::{Store, VisitId};

/// A visit that was judged again.
#[derive(Clone, Debug, PartialEq)]
pub struct Rejudged {
    /// The visit's number in the database.
    pub visit: i64,
    /// The vehicle's name.
    pub vehicle: String,
    /// The verdict before, with the version of the program that reached it.
    pub before: Option<(Verdict, String)>,
    /// The verdict now.
    pub now: Verdict,
    /// Whether it differs; then both are kept.
    pub differs: bool,
}

/// Judges the recordings of closed visits again, of one or of all that hold anything. A verdict that
/// differs is kept beside the earlier ones.
///
/// # Errors
/// What keeps the database from being read or written.
pub fn rejudge(
    database: &Path,
    only: Option<i64>,
    clock: MachineClock,
) -> Result<Vec<Rejudged>, JobError> {
    judge_again(&mut Store::open(database)?, only, None, clock.date())
}

impl Workshop {
    /// Judges every visit again but the open one, which is judged as it goes on.
    pub(super) fn judge_all_again(&mut self) -> Result<(), JobError> {
        self.save()?;
        let (open, date) = (self.visit(), self.date());
        let judged = judge_again(&mut self.store, None, open, date)?;
        self.emit(Event::Histories(HistoryEvent::JudgedAgain(judged)));
        Ok(())
    }
}

fn judge_again(
    store: &mut Store,
    only: Option<i64>,
    without: Option<VisitId>,
    date: DateTime<Utc>,
) -> Result<Vec<Rejudged>, JobError> {
    store.back_up_if_due(date)?;
    let mut visits = Vec::new();
    for vehicle in store.list_vehicles("")? {
        let all = store.list_visits(vehicle.id)?;
        visits.extend(all.into_iter().map(|visit| (visit.id, vehicle.name.clone())));
    }
    if let Some(only) = only {
        // Asked for by name, so that a wrong number is told.
        store.load_visit(VisitId(only))?;
    }
    visits.retain(|(id, _)| only.is_none_or(|only| only == id.0) && without != Some(*id));
    visits.sort();
    let mut judged = Vec::new();
    for (id, vehicle) in visits {
        let mut visit = Visit::open(store, id)?;
        if !visit.has_evidence() {
            continue;
        }
        let known = visit.record.verdicts.last();
        let before = known.map(|it| (it.verdict.clone(), it.program_version.clone()));
        let count = visit.record.verdicts.len();
        visit.judge(store, date)?;
        let differs = visit.record.verdicts.len() > count;
        let now = visit.judgement.verdict.clone();
        judged.push(Rejudged { visit: id.0, vehicle, before, now, differs });
    }
    Ok(judged)
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc;

    use super::rejudge;
    use crate::diagnosis::VerdictOutcome;
    use crate::jobs::{Command, Event, HistoryCommand, HistoryEvent, MachineClock, Workshop};
    use crate::store::{Store, VisitId};
    use crate::vehicle::Fault;
    use crate::wording::Style;

    #[test]
    fn a_verdict_of_another_program_is_kept_beside_the_new_one() {
        let folder = tempfile::tempdir().unwrap();
        let database = folder.path().join("garage.db");
        let mut workshop = Workshop::open(&database, Style::default(), mpsc::channel().0).unwrap();
        workshop.play_demo(Some(Fault::PurgeValveLeaking), 3, None).unwrap();
        while workshop.demo_is_under_way() {
            workshop.turn();
        }
        drop(workshop);
        let clock = MachineClock::start();
        let same = rejudge(&database, None, clock).unwrap();
        assert_eq!((same.len(), same[0].differs), (1, false));
        // What an older program might have said.
        let mut store = Store::open(&database).unwrap();
        let mut older = same[0].now.clone();
        older.outcome = VerdictOutcome::Inconclusive;
        older.probability = 0.5;
        store.save_verdict(VisitId(1), &older, clock.date()).unwrap();
        let count = store.verdicts(VisitId(1)).unwrap().len();
        drop(store);
        let again = rejudge(&database, Some(1), clock).unwrap();
        assert!(again[0].differs);
        assert_eq!(again[0].before.as_ref().map(|it| &it.0), Some(&older));
        assert_eq!(again[0].now, same[0].now);
        let store = Store::open(&database).unwrap();
        assert_eq!(store.verdicts(VisitId(1)).unwrap().len(), count + 1);
        assert!(rejudge(&database, Some(99), clock).is_err());
    }
    #[test]
    fn the_window_has_every_visit_judged_again_but_the_open_one() {
        let folder = tempfile::tempdir().unwrap();
        let (events, heard) = mpsc::channel();
        let database = folder.path().join("garage.db");
        let mut workshop = Workshop::open(&database, Style::default(), events).unwrap();
        workshop.play_demo(Some(Fault::PurgeValveLeaking), 3, None).unwrap();
        while workshop.demo_is_under_way() {
            workshop.turn();
        }
        let mut judged = || {
            workshop.attempt(Command::Histories(HistoryCommand::JudgeAgain)).unwrap();
            let found = heard.try_iter().filter_map(|event| match event {
                Event::Histories(HistoryEvent::JudgedAgain(judged)) => Some(judged),
                _ => None,
            });
            let last = found.last().unwrap();
            workshop.attempt(Command::CloseVisit).ok();
            last.iter().map(|it| (it.visit, it.differs)).collect::<Vec<_>>()
        };
        assert_eq!(judged(), []);
        assert_eq!(judged(), [(1, false)]);
    }
}
