use std::path::Path;
use std::time::Duration;

use chrono::{DateTime, Utc};

use super::history_command::HistoryEvent;
use super::visit::group;
use super::{Event, JobError, MachineClock, VehicleRow, Workshop, card, judge, proof};
use crate::checks;
use crate::diagnosis::VerdictOutcome;
use crate::evidence::{Check, CheckResult, Comparison, ComparisonEnd, MeasureName, Outcome};
use crate::recording::{Action, ActionAt, Recording};
pub use crate::report::{ComparedNumber, ComparedTraces};
use crate::report::{ComparisonRecord, VisitBeside};
use crate::store::{Store, VisitId, VisitSummary};
use crate::units::Instant;
use crate::vehicle::{Fault, Signal};

/// A visit that is laid over another.
#[derive(Clone, Debug, PartialEq)]
pub struct ComparedVisit {
    /// Its number in the store.
    pub id: i64,
    /// Number within the vehicle, from 1.
    pub number: u32,
    /// When it started.
    pub started: DateTime<Utc>,
    /// Its verdict.
    pub verdict: Option<(VerdictOutcome, Option<Fault>, f64)>,
    /// What was repaired at it; at the later visit also what was since the earlier one.
    pub repaired: Option<String>,
}

/// Two visits of one vehicle laid over each other.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitComparison {
    /// The vehicle.
    pub vehicle: VehicleRow,
    /// The earlier visit.
    pub earlier: ComparedVisit,
    /// The later one.
    pub later: ComparedVisit,
    /// Every visit before the later one, newest first.
    pub choices: Vec<ComparedVisit>,
    /// What they say of each other.
    pub comparison: Comparison,
    /// Numbers that both measured, in the order of the checks.
    pub numbers: Vec<ComparedNumber>,
    /// Traces of the checks that both made, the most telling first.
    pub traces: Vec<ComparedTraces>,
}

/// What tells most of each check, where both visits have it.
const NUMBERS: [(Check, &[MeasureName]); 8] = {
    use MeasureName as M;
    [
        (Check::RestZero, &[M::RestPressure]),
        (Check::IdleZero, &[M::IdleChange]),
        (Check::PurgeResponse, &[M::PurgeVacuum]),
        (Check::UnplugRecovery, &[M::RecoveryTime, M::ResidualVacuum]),
        (Check::ThrottleFollow, &[M::VacuumWithPurgeShut]),
        (Check::CapOffZero, &[M::CapOffPressure]),
        (Check::AfterFillUp, &[M::TrimExcursion]),
        (Check::SealedHold, &[M::SealedHole, M::SealedHoleLimit, M::SealedVacuum]),
    ]
};

/// As in a proof within one visit: a part is in place a few seconds before the person says so, and the
/// tank may still be on its way back from whatever pulled before.
const WORD: Duration = Duration::from_secs(5);
const FORGETS: Duration = Duration::from_secs(8);

/// Lays an earlier visit under a later one; without `earlier` the newest before it that found a
/// fault, else the newest.
///
/// # Errors
/// [`JobError::NoEarlierVisit`], or what keeps the database from being read.
pub fn compare_visits(
    database: &Path,
    later: i64,
    earlier: Option<i64>,
) -> Result<VisitComparison, JobError> {
    compare(&Store::open(database)?, VisitId(later), earlier.map(VisitId))
}

impl VisitComparison {
    /// Whether a report has anything to say of it: a fault that was there could be proven gone, or came.
    pub fn tells(&self) -> bool {
        match self.comparison.end {
            ComparisonEnd::Proven | ComparisonEnd::Worse => true,
            ComparisonEnd::NotProven => {
                self.comparison.fault.is_some() && self.comparison.proof.is_some()
            }
            ComparisonEnd::StillSound => false,
        }
    }

    /// As a report and JSON have it.
    pub fn record(self, clock: MachineClock) -> ComparisonRecord {
        let beside = |it: ComparedVisit| VisitBeside {
            id: it.id,
            number: it.number,
            started: clock.local(it.started),
            verdict: it.verdict,
            repaired: it.repaired,
        };
        ComparisonRecord {
            earlier: beside(self.earlier),
            later: beside(self.later),
            comparison: self.comparison,
            numbers: self.numbers,
            traces: self.traces,
        }
    }
}

/// What a report of this visit says of an earlier one: nothing where no earlier visit found a fault
/// that could be proven gone, or come back.
pub(super) fn for_report(
    store: &Store,
    visit: VisitId,
) -> Result<Option<VisitComparison>, JobError> {
    let compared = match compare(store, visit, None) {
        Err(JobError::NoEarlierVisit) => return Ok(None),
        compared => compared?,
    };
    Ok(compared.tells().then_some(compared))
}

impl Workshop {
    /// Lays an earlier visit under a later one.
    pub(super) fn show_comparison(
        &mut self,
        later: VisitId,
        earlier: Option<VisitId>,
    ) -> Result<(), JobError> {
        self.save()?;
        let compared = compare(&self.store, later, earlier)?;
        self.emit(Event::Histories(HistoryEvent::Compared(Box::new(compared))));
        Ok(())
    }
}

fn compare(
    store: &Store,
    later: VisitId,
    earlier: Option<VisitId>,
) -> Result<VisitComparison, JobError> {
    let after = store.load_visit(later)?;
    let visits = store.list_visits(after.vehicle.id)?;
    let before: Vec<&VisitSummary> = visits.iter().filter(|it| it.number < after.number).collect();
    let faulty = |it: &&&VisitSummary| it.verdict.is_some_and(|it| it.fault.is_some());
    let chosen = match earlier {
        Some(id) => before.iter().find(|it| it.id == id),
        None => before.iter().find(faulty).or(before.first()),
    };
    let chosen = chosen.ok_or(JobError::NoEarlierVisit)?;
    let record = store.load_visit(chosen.id)?;
    let recordings = (until_repair(&record.recording), since_repair(&after.recording));
    let judged = judge(&recordings.0, &record.observations);
    let results = (judged.findings.checks, checks::examine(&recordings.1).checks);
    let comparison = weigh(&recordings, &results, judged.verdict.fault);
    let limit_pa = comparison.proof.as_ref().map(proof::limit_pa);
    let visit = visits.iter().find(|it| it.id == later).ok_or(JobError::NoEarlierVisit)?;
    let between = |it: &&VisitSummary| it.number > chosen.number && it.number <= visit.number;
    let repaired = visits.iter().filter(between).find_map(part_replaced);
    Ok(VisitComparison {
        vehicle: card::vehicle_row(&after.vehicle),
        earlier: compared_visit(chosen),
        later: ComparedVisit { repaired, ..compared_visit(visit) },
        choices: before.iter().map(|it| compared_visit(it)).collect(),
        numbers: numbers(&results.0, &results.1),
        traces: traces(&recordings, comparison.fault, limit_pa),
        comparison,
    })
}

fn compared_visit(summary: &VisitSummary) -> ComparedVisit {
    ComparedVisit {
        id: summary.id.0,
        number: summary.number,
        started: summary.started,
        verdict: summary.verdict.map(card::short),
        repaired: part_replaced(summary),
    }
}

fn part_replaced(summary: &VisitSummary) -> Option<String> {
    summary.repairs.last().map(|it| it.entry.part.clone())
}

/// What the two recordings say of each other, from the results of their checks.
fn weigh(
    (before, after): &(Recording, Recording),
    (earlier, later): &(Vec<CheckResult>, Vec<CheckResult>),
    fault: Option<Fault>,
) -> Comparison {
    let proof = checks::prove_repair(before, after);
    let outcome_of = |results: &[CheckResult], check| {
        results.iter().find(|it| it.check == check).map(|it| it.outcome)
    };
    let failed: Vec<Check> =
        earlier.iter().filter(|it| it.outcome == Outcome::Fail).map(|it| it.check).collect();
    // A throttle check that could tell holds the change at idle within it.
    let told = |check| outcome_of(later, check).is_some_and(|it| it != Outcome::Inconclusive);
    let covered = |check| check == Check::IdleZero && told(Check::ThrottleFollow);
    let unmade = |check: &Check| outcome_of(later, *check).is_none() && !covered(*check);
    let missing: Vec<Check> = failed.iter().copied().filter(unmade).collect();
    let fails = |it: &&CheckResult| it.outcome == Outcome::Fail;
    let passed = |it: &&CheckResult| outcome_of(earlier, it.check) == Some(Outcome::Pass);
    let newly_failing: Vec<CheckResult> =
        later.iter().filter(fails).filter(passed).cloned().collect();
    let deeper = proof.as_ref().is_some_and(|proof| {
        let change = proof.measure(MeasureName::ChangeAfterRepair);
        // A vacuum is negative: what is more of it by more than counts as still is worse.
        change.is_some_and(|it| it.high < -proof::limit_pa(proof))
    });
    let outcome = proof.as_ref().map(|it| it.outcome);
    // What failed before and fails again explains whatever else fails with it.
    let is_new = !newly_failing.is_empty() && (failed.is_empty() || outcome == Some(Outcome::Pass));
    let end = match outcome {
        _ if deeper || is_new => ComparisonEnd::Worse,
        Some(Outcome::Pass) if failed.is_empty() => ComparisonEnd::StillSound,
        Some(Outcome::Pass) => ComparisonEnd::Proven,
        // Nothing failed before, so no repair is to be proven.
        _ if failed.is_empty() && sound(earlier) && sound(later) => ComparisonEnd::StillSound,
        _ => ComparisonEnd::NotProven,
    };
    Comparison { end, fault, proof, newly_failing, missing }
}

/// Whether something passed and nothing failed.
fn sound(results: &[CheckResult]) -> bool {
    let any = |outcome| results.iter().any(|it| it.outcome == outcome);
    any(Outcome::Pass) && !any(Outcome::Fail)
}

fn numbers(earlier: &[CheckResult], later: &[CheckResult]) -> Vec<ComparedNumber> {
    let mut found: Vec<ComparedNumber> = Vec::new();
    for (check, names) in NUMBERS {
        let result = |results: &[CheckResult]| results.iter().find(|it| it.check == check).cloned();
        let (Some(before), Some(after)) = (result(earlier), result(later)) else { continue };
        for name in names {
            if let (Some(earlier), Some(later)) = (before.measure(*name), after.measure(*name)) {
                found.push(ComparedNumber {
                    check,
                    name: *name,
                    earlier,
                    later,
                    outcome: after.outcome,
                });
            }
        }
    }
    found
}

fn traces(
    (before, after): &(Recording, Recording),
    fault: Option<Fault>,
    limit_pa: Option<f64>,
) -> Vec<ComparedTraces> {
    use Check as C;
    let same = |check: &Check| (*check, *check);
    let views = proof::views(fault);
    let mut wanted: Vec<(Check, Check)> = views.iter().map(same).collect();
    if views == proof::views(None) {
        // A leaking valve shows at an engine start as at a throttle opening.
        wanted.extend([(C::IdleZero, C::ThrottleFollow), (C::ThrottleFollow, C::IdleZero)]);
    }
    let rest = [
        C::ThrottleFollow,
        C::UnplugRecovery,
        C::SealedHold,
        C::PurgeResponse,
        C::CapOffZero,
        C::RestZero,
    ];
    wanted.extend(rest.iter().map(same));
    let still = |check: Check| matches!(check, C::ThrottleFollow | C::IdleZero);
    let mut found: Vec<ComparedTraces> = Vec::new();
    for (check, later_check) in wanted {
        let shown = |it: &ComparedTraces| it.check == check || still(it.check) && still(check);
        if found.iter().any(shown) {
            continue;
        }
        let any = |_: Instant| true;
        let pair = proof::best(before, check, &any).zip(proof::best(after, later_check, &any));
        let Some((earlier, later)) = pair else { continue };
        let limit_pa = limit_pa.filter(|it| still(check) && it.is_finite());
        found.push(ComparedTraces { check, later_check, earlier, later, limit_pa });
    }
    found
}

/// What was recorded before a part was replaced.
fn until_repair(recording: &Recording) -> Recording {
    let first = recording.actions().iter().find(|it| it.action == Action::PartReplaced);
    match first {
        Some(replaced) => piece(recording, &|at| at < replaced.at - WORD),
        None => recording.clone(),
    }
}

/// What was recorded since a part was replaced, or before it where nothing was recorded since.
fn since_repair(recording: &Recording) -> Recording {
    let Some(replaced) = recording.last_action(Action::PartReplaced) else {
        return recording.clone();
    };
    let since = piece(recording, &|at| at > replaced + FORGETS);
    if since.series(Signal::TankPressure).is_some_and(|it| it.len() > 1) {
        return since;
    }
    until_repair(recording)
}

/// The samples and actions of a stretch. How things stood when it began stays known.
fn piece(recording: &Recording, inside: &dyn Fn(Instant) -> bool) -> Recording {
    let mut kept = Recording::default();
    kept.set_tank_litre(recording.tank_litre());
    for (signal, series) in recording.signals() {
        for (at, value) in series.iter().filter(|it| inside(it.0)) {
            kept.push(signal, at, value);
        }
    }
    let first = kept.span().map_or(Instant::ZERO, |it| it.0);
    for done in recording.actions() {
        if done.action == Action::PartReplaced {
            continue;
        }
        if inside(done.at) {
            kept.push_action(done.at, done.action);
        } else if done.at < first && stands(recording, *done, first) {
            kept.push_action(first, done.action);
        }
    }
    for known in recording.codes().iter().filter(|it| inside(it.at)) {
        kept.push_code(known.at, &known.code);
    }
    kept
}

/// Whether nothing undid this deed before that time.
fn stands(recording: &Recording, done: ActionAt, until: Instant) -> bool {
    let kind = group(done.action);
    let between = |it: &ActionAt| it.at > done.at && it.at < until;
    let undone = recording.actions().iter().any(|it| between(it) && group(it.action) == kind);
    done.action == Action::TankZeroed || kind.is_some() && !undone
}

#[cfg(test)]
mod tests;
