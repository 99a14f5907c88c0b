use chrono::TimeDelta;

use super::needed_signals::missing_signals;
use super::visit::Visit;
use super::{
    CarReport, CheckLine, CheckState, Complaint, FillUpRow, GuessReport, JobError, RepairReport,
    VehicleFacts, VehiclePage, VehicleRow, VisitCard, VisitRow, car_words, connect, details,
    given_up, guess, proof, repair, running, tool, vehicle_facts,
};
use crate::checks;
use crate::evidence::Check;
use crate::store::{FillUp, FillUpId, LastVerdict, Store, VehicleId, VehicleSummary, VisitSummary};
use crate::wording::{self, Style};

/// Minutes each check takes with an average person and what the hands have to do, from the procedures'
/// own times. The same whether it comes next or later.
const MINUTES: [(Check, f64); 9] = [
    (Check::RestZero, 1.0),
    (Check::IdleZero, 2.0),
    (Check::PurgeResponse, 3.0),
    (Check::UnplugRecovery, 4.0),
    (Check::ThrottleFollow, 4.0),
    (Check::CapOffZero, 2.0),
    (Check::AfterFillUp, 4.0),
    (Check::SealedHold, 5.0),
    (Check::RepairProof, 8.0),
];

/// How far apart a fill-up and the visit that looks at it may be.
const A_DAY: TimeDelta = TimeDelta::days(1);

/// A vehicle as a row of the list.
pub(super) fn vehicle_row(summary: &VehicleSummary) -> VehicleRow {
    VehicleRow {
        id: summary.id.0,
        name: summary.name.clone(),
        vin: summary.vin.clone(),
        is_virtual: summary.is_virtual,
        visits: summary.visits,
        last_visit: summary.last_visit,
        last_verdict: summary.last_verdict.map(short),
        last_shut_vacuum: summary.last_shut_vacuum,
        band: summary.band,
        follow_up: summary.follow_up,
    }
}

/// A vehicle's page.
pub(super) fn vehicle_page(store: &Store, id: VehicleId) -> Result<VehiclePage, JobError> {
    let summary = store.vehicle(id)?;
    let visits = store.list_visits(id)?;
    Ok(VehiclePage {
        vehicle: vehicle_row(&summary),
        details: details::details(&summary),
        customer: details::owner(store, id)?,
        odometer_km: summary.odometer_km,
        visits: visits.iter().map(|it| visit_row(store, it)).collect::<Result<_, _>>()?,
        fill_ups: fill_ups(store, id, &visits)?,
        trim_limit: checks::USUAL_TRIM,
    })
}

/// Fill-ups of a vehicle, each with the trim that a visit within a day of it saw after the start.
fn fill_ups(
    store: &Store,
    id: VehicleId,
    visits: &[VisitSummary],
) -> Result<Vec<FillUpRow>, JobError> {
    let row = |(number, it): (FillUpId, FillUp)| {
        let near = visits.iter().filter(|visit| {
            visit.trim_excursion.is_some() && (visit.started - it.filled).abs() < A_DAY
        });
        let nearest = near.min_by_key(|visit| (visit.started - it.filled).abs());
        FillUpRow {
            id: number.0,
            filled: it.filled,
            litre: it.litre.map(|litre| litre.to_string()),
            cost: it.cost.map(|cost| (cost.to_string(), it.currency)),
            odometer_km: it.odometer_km,
            note: it.note,
            trim: nearest.and_then(|visit| visit.trim_excursion),
        }
    };
    Ok(store.list_fill_ups(id)?.into_iter().map(row).collect())
}

fn visit_row(store: &Store, summary: &VisitSummary) -> Result<VisitRow, JobError> {
    let entry = summary.repairs.last().map(|it| &it.entry);
    // The odds of every fault are asked for where there is a repair to hold them against.
    let judged = match entry {
        Some(_) => store.verdicts(summary.id)?.pop(),
        None => None,
    };
    let guess = judged.and_then(|it| guess::guess(&summary.codes, &it.verdict, entry));
    Ok(VisitRow {
        id: summary.id.0,
        number: summary.number,
        started: summary.started,
        complaint: summary.complaint_words.clone(),
        codes: summary.codes.clone(),
        verdict: summary.verdict.map(short),
        repair: entry.map(repair::report),
        guess,
        shut_vacuum: summary.shut_vacuum,
        recovery_time: summary.recovery_time,
        band: summary.band,
        trim: summary.trim_excursion,
    })
}

pub(super) fn short(
    verdict: LastVerdict,
) -> (crate::diagnosis::VerdictOutcome, Option<crate::vehicle::Fault>, f64) {
    (verdict.outcome, verdict.fault, verdict.probability)
}

/// The job card of the open visit, with the check that runs.
pub(super) fn visit_card(
    store: &Store,
    visit: &Visit,
    running: Option<Check>,
    style: &Style,
) -> Result<VisitCard, JobError> {
    let record = &visit.record;
    let kinds = record.complaint_kinds.iter().filter_map(|name| Complaint::from_name(name));
    let verdict = visit.has_evidence().then(|| visit.judgement.verdict.clone());
    let sentence = verdict.as_ref().map(|it| wording::verdict_sentence(it, style));
    let summary = store.vehicle(record.vehicle.id)?;
    let car = visit.car.clone().map(|car| car_words::in_language(car, style.language));
    let car = car.map(|car| vehicle_facts::with_notes(store, &summary.make, &car)).transpose()?;
    Ok(VisitCard {
        id: record.id.0,
        facts: VehicleFacts {
            make: summary.make.clone(),
            fuel: summary.fuel.clone(),
            tank_litre: summary.tank_litre.map(|it| it.to_string()).unwrap_or_default(),
        },
        // Whatever its vehicle is: a visit to the virtual car is marked wherever it is shown.
        vehicle: VehicleRow {
            is_virtual: summary.is_virtual || record.is_virtual,
            ..vehicle_row(&summary)
        },
        number: record.number,
        started: record.started,
        odometer_km: record.odometer_km,
        complaints: kinds.collect(),
        complaint_words: record.complaint_words.clone(),
        connected_to: record
            .connected_to
            .as_deref()
            .map(|it| connect::shown_adapter(it, style.language)),
        car,
        checks: check_lines(visit, running, cut_off_here(store, visit, running)?, style),
        results: visit.judgement.findings.checks.clone(),
        observations: record.observations.clone(),
        verdict,
        verdict_sentence: sentence.unwrap_or_default(),
        repair: last_repair(visit),
        photos: visit.photos.clone(),
        guess: visit.has_evidence().then(|| guess_of(visit)).flatten(),
        tool: tool::tool(store)?,
        proof: proof::report(visit),
        vent_closed: visit.closed_vent.map(|closed| closed.date),
        cleared: record.clearings.last().copied(),
        follow_up: record.follow_up.as_ref().filter(|it| !it.is_done).map(|it| it.due),
    })
}

/// The newest repair of the visit with its totals.
pub(super) fn last_repair(visit: &Visit) -> Option<RepairReport> {
    visit.record.repairs.last().map(|it| repair::report(&it.entry))
}

/// What guessing would have cost in the open visit.
fn guess_of(visit: &Visit) -> Option<GuessReport> {
    let judgement = &visit.judgement;
    let entry = visit.record.repairs.last().map(|it| &it.entry);
    guess::guess(&judgement.findings.codes, &judgement.verdict, entry)
}

/// The checks in the order to make them: done ones in the order of the contract, then the next
/// best, then the rest.
fn check_lines(
    visit: &Visit,
    running: Option<Check>,
    cut_off: Option<Check>,
    style: &Style,
) -> Vec<CheckLine> {
    let repaired = !visit.record.repairs.is_empty();
    let again = proof::again(visit).first().copied().filter(|_| repaired && cut_off.is_none());
    // After a repair the verdict asks for nothing more: what is open is its proof.
    let next = visit.judgement.verdict.next_check.filter(|_| cut_off.is_none() && !repaired);
    let asked = cut_off.or(again);
    let given_up = given_up::read(&visit.record.notes);
    let mut lines: Vec<CheckLine> = Check::ALL
        .into_iter()
        .filter(|check| *check != Check::RepairProof || repaired)
        .map(|check| {
            let next = next.filter(|it| it.check == check);
            let state = state(visit, check, running, next.is_some() || asked == Some(check));
            let given_up = given_up.iter().find(|it| it.check == check && running != Some(check));
            let reason = match (visit.result(check), next) {
                (Some(result), _) if matches!(state, CheckState::Done(_)) => {
                    wording::reason(result, style)
                }
                (_, Some(next)) => wording::why_next(&next, style.language),
                _ if cut_off == Some(check) => wording::goes_on(style.language).to_owned(),
                _ if again == Some(check) => {
                    wording::again_for_the_proof(style.language).to_owned()
                }
                _ => String::new(),
            };
            let given_up = given_up.map(|it| it.reason.clone());
            CheckLine { check, state, reason, minutes: usual_minutes(check), given_up }
        })
        .collect();
    lines.sort_by_key(|line| rank(&line.state));
    lines
}

/// The check of this visit that was cut off when the program ended.
fn cut_off_here(
    store: &Store,
    visit: &Visit,
    running: Option<Check>,
) -> Result<Option<Check>, JobError> {
    let cut_off = running::cut_off(store)?.filter(|_| running.is_none());
    Ok(cut_off.filter(|(id, _)| *id == visit.id()).map(|(_, check)| check))
}

fn state(visit: &Visit, check: Check, running: Option<Check>, next: bool) -> CheckState {
    if running == Some(check) {
        return CheckState::Running;
    }
    if visit.record.skipped.contains(&check) {
        return CheckState::Skipped;
    }
    if next {
        return CheckState::Next;
    }
    if let Some(result) = visit.result(check) {
        return CheckState::Done(result.outcome);
    }
    let offered = visit.car.as_ref().map(|car: &CarReport| car.signals.as_slice());
    match offered {
        Some(signals) if !missing_signals(check, signals).is_empty() => CheckState::Impossible,
        _ => CheckState::Later,
    }
}

fn rank(state: &CheckState) -> u8 {
    match state {
        CheckState::Done(_) => 0,
        CheckState::Running => 1,
        CheckState::Next => 2,
        CheckState::Later => 3,
        CheckState::Skipped => 4,
        CheckState::Impossible => 5,
    }
}

fn usual_minutes(check: Check) -> f64 {
    MINUTES.iter().find(|(it, _)| *it == check).map_or(3.0, |(_, minutes)| *minutes)
}
