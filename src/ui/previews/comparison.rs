use super::cards::{estimate, result, vehicles};
use super::date;
use super::traces::{comes_back, engine_pulls, openings};
use crate::diagnosis::VerdictOutcome;
use crate::evidence::{Check, Comparison, ComparisonEnd, MeasureName, Outcome, Reason};
use crate::jobs::{
    ComparedNumber, ComparedTraces, ComparedVisit, Event, HistoryEvent, VisitComparison,
};
use crate::vehicle::Fault;

const FAULT: Option<Fault> = Some(Fault::PurgeValveLeaking);

fn visit(id: i64, number: u32, (month, day): (u32, u32), fault: Option<Fault>) -> ComparedVisit {
    let outcome = match fault {
        Some(_) => VerdictOutcome::FaultFound,
        None => VerdictOutcome::NoFaultFound,
    };
    ComparedVisit {
        id,
        number,
        started: date(month, day, 9, 41),
        verdict: Some((outcome, fault, 0.98)),
        repaired: fault.filter(|_| number == 2).map(|_| "Purge valve".to_owned()),
    }
}

/// Seconds after the first opening, from three before it on.
fn from_the_opening(trace: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    trace.into_iter().map(|(at, pa)| (at - 4.3, pa)).filter(|it| it.0 >= -3.0).collect()
}

/// Two visits laid over each other, the later one after the repair, or with the same fault again.
pub(in crate::ui) fn compared(is_repaired: bool) -> Event {
    let rest = if is_repaired { -2.0 } else { -198.0 };
    let share = if is_repaired { 1.0 } else { 102.0 };
    let (outcome, reason) = match is_repaired {
        true => (Outcome::Pass, Reason::ProvenStill),
        false => (Outcome::Fail, Reason::StillMoves),
    };
    let measures = [
        (MeasureName::VacuumWithPurgeShut, rest, 6.0),
        (MeasureName::DetectionLimit, 20.0, 0.0),
        (MeasureName::ChangeAfterRepair, rest + 209.0, 9.0),
    ];
    let proof = result(Check::RepairProof, outcome, reason, &measures, (0.0, 26.0));
    let number = |check, name, earlier: (f64, f64), later: (f64, f64), outcome| ComparedNumber {
        check,
        name,
        earlier: estimate(earlier.0, earlier.1),
        later: estimate(later.0, later.1),
        outcome,
    };
    let traces = |check, earlier, later, limit_pa| ComparedTraces {
        check,
        later_check: check,
        earlier,
        later,
        limit_pa,
    };
    // The later of the two may have pulled before any throttle was opened.
    let follows = if is_repaired {
        let later = from_the_opening(openings(share, rest));
        traces(Check::ThrottleFollow, from_the_opening(openings(115.0, -206.0)), later, Some(20.0))
    } else {
        let earlier = from_the_opening(openings(115.0, -206.0));
        let pair = traces(Check::ThrottleFollow, earlier, engine_pulls(rest), Some(20.0));
        ComparedTraces { later_check: Check::IdleZero, ..pair }
    };
    let compared = VisitComparison {
        vehicle: vehicles().remove(0),
        earlier: visit(12, 2, (3, 9), FAULT),
        later: visit(13, 3, (3, 22), FAULT.filter(|_| !is_repaired)),
        choices: vec![visit(12, 2, (3, 9), FAULT), visit(11, 1, (2, 9), FAULT)],
        comparison: Comparison {
            end: if is_repaired { ComparisonEnd::Proven } else { ComparisonEnd::NotProven },
            fault: FAULT,
            proof: Some(proof),
            newly_failing: Vec::new(),
            missing: if is_repaired { Vec::new() } else { vec![Check::SealedHold] },
        },
        numbers: vec![
            number(
                Check::RestZero,
                MeasureName::RestPressure,
                (-3.0, 2.0),
                (-2.0, 2.0),
                Outcome::Pass,
            ),
            number(
                Check::UnplugRecovery,
                MeasureName::RecoveryTime,
                (0.44, 0.05),
                (0.41, 0.04),
                Outcome::Pass,
            ),
            number(
                Check::ThrottleFollow,
                MeasureName::VacuumWithPurgeShut,
                (-209.0, 7.0),
                (rest, 6.0),
                outcome,
            ),
        ],
        traces: vec![
            follows,
            traces(Check::UnplugRecovery, comes_back(-209.0), comes_back(rest), None),
        ],
    };
    Event::Histories(HistoryEvent::Compared(Box::new(compared)))
}
