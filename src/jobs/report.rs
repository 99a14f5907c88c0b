use std::fs;
use std::path::PathBuf;

use chrono::{DateTime, Utc};

use super::compare;
use super::needed_signals::missing_signals;
use super::proof::{self, Traces};
use super::{
    CarReport, CodeLine, Complaint, JobError, Judgement, MachineClock, ReportFormat, ToolReport,
    Workshop, car_words, complaint_phrase, connect, data_folder, given_up, guess, repair, tool,
};
use crate::checks::{FitCurve, Rails, fit_curves};
use crate::evidence::{Check, CheckResult, MeasureName};
use crate::report::{
    self, CheckRecord, CodeRecord, CostLine, GuessPartRecord, GuessRecord, NotMade, Paper,
    PriceAsked, ProofNumber, ProofRecord, RepairRecord, ToolRecord, WhyNotMade,
};
use crate::store::{VisitId, VisitRecord};
use crate::vehicle::Signal;
use crate::wording::{self, Language, Style};

/// Writes a visit as a document and returns where it lies.
///
/// # Errors
/// What keeps the visit from being read or the document from being written.
pub(super) fn write(
    workshop: &Workshop,
    id: VisitId,
    format: ReportFormat,
    path: Option<PathBuf>,
    print: (bool, Paper),
) -> Result<PathBuf, JobError> {
    let record = workshop.store.load_visit(id)?;
    let rails = |check: Check| -> Vec<Rails> {
        let open = workshop.visit.as_ref().filter(|visit| visit.id() == id);
        let rails = open.map_or(&record.rails, |visit| &visit.rails);
        rails.get(&check).cloned().unwrap_or_default()
    };
    let now = workshop.clock.date();
    let tool = tool::tool(&workshop.store)?;
    let mut visit = fill(&record, tool, &rails, workshop.clock, now, workshop.style, print);
    let compared = compare::for_report(&workshop.store, id)?;
    visit.comparison = compared.map(|it| it.record(workshop.clock));
    let bytes = match format {
        ReportFormat::Html => report::html(&report::compose(&visit)),
        ReportFormat::Pdf => report::pdf(&report::compose(&visit))?,
        ReportFormat::Csv => report::csv(&visit)?,
        ReportFormat::Json => report::json(&visit)?,
    };
    let path = path.unwrap_or_else(|| {
        let folder = data_folder::report_folder(workshop.store.path());
        folder.join(format!("visit-{}.{}", id.0, ending(format)))
    });
    if let Some(folder) = path.parent().filter(|folder| !folder.as_os_str().is_empty()) {
        fs::create_dir_all(folder).map_err(|error| JobError::file(folder, &error))?;
    }
    fs::write(&path, bytes).map_err(|error| JobError::file(&path, &error))?;
    Ok(path)
}

const fn ending(format: ReportFormat) -> &'static str {
    match format {
        ReportFormat::Html => "html",
        ReportFormat::Pdf => "pdf",
        ReportFormat::Csv => "csv",
        ReportFormat::Json => "json",
    }
}

/// Everything that the report shows of a stored visit.
fn fill(
    record: &VisitRecord,
    tool: Option<ToolReport>,
    rails: &dyn Fn(Check) -> Vec<Rails>,
    clock: MachineClock,
    now: DateTime<Utc>,
    style: Style,
    (private, paper): (bool, Paper),
) -> report::Visit {
    let car: Option<CarReport> =
        record.car_report.clone().and_then(|json| serde_json::from_value(json).ok());
    let car = car.map(|car| car_words::in_language(car, style.language));
    let results = record.results();
    let judgement = super::judge(&record.recording, &record.observations);
    let mut fits = fit_curves(&record.recording);
    let mut made = |result: &&CheckResult| CheckRecord {
        result: (*result).clone(),
        rails: rails(result.check),
        fits: fits
            .remove(&result.check)
            .map(|it| behind(it, result, &judgement))
            .unwrap_or_default(),
    };
    let kinds = record.complaint_kinds.iter().filter_map(|name| Complaint::from_name(name));
    let words = Some(record.complaint_words.clone()).filter(|words| !words.trim().is_empty());
    let (codes_before, codes_after) = codes(car.as_ref());
    report::Visit {
        style,
        paper,
        private,
        vehicle: report::Vehicle {
            name: record.vehicle.name.clone(),
            vin: record.vehicle.vin.clone(),
            is_virtual: record.is_virtual,
            odometer_km: record.odometer_km,
            customer: record.customer.as_ref().map(|customer| customer.name.clone()),
        },
        number: record.number,
        started: clock.local(record.started),
        written: clock.local(now),
        complaint: kinds
            .map(|kind| complaint_phrase(kind, style.language).to_owned())
            .chain(words)
            .collect(),
        connected_to: record
            .connected_to
            .as_deref()
            .map(|it| connect::shown_adapter(it, style.language)),
        codes_before,
        codes_after,
        cleared: record.clearings.last().map(|date| clock.local(*date)),
        readiness: car
            .iter()
            .flat_map(|car| &car.readiness)
            .map(|line| (line.name.clone(), line.complete))
            .collect(),
        recording: record.recording.clone(),
        checks: results.iter().map(&mut made).collect(),
        not_made: not_made(record, car.as_ref(), &results),
        given_up: given_up::read(&record.notes)
            .into_iter()
            .map(|it| (it.check, it.reason))
            .collect(),
        observations: record.observations.clone(),
        warnings: judgement.findings.warnings,
        verdict: record.verdict().map(|judged| judged.verdict.clone()),
        repair: record
            .repairs
            .last()
            .map(|stored| repair_record(&stored.entry, record, style.language)),
        tool: tool.as_ref().map(tool_record),
        proof: proof_record(record),
        comparison: None,
        follow_up: record.follow_up.as_ref().map(|it| clock.local(it.due)),
    }
}

/// The curves whose number stands in the result: one that was kept from an earlier program, or from
/// before more was recorded, has other numbers than today's fit.
fn behind(fits: Vec<FitCurve>, result: &CheckResult, judgement: &Judgement) -> Vec<FitCurve> {
    let same = |fit: &FitCurve| {
        let kept = result.measure(fit.measure);
        let now = judgement.findings.measure(result.check, fit.measure);
        let near = |a: f64, b: f64| a == b || (a - b).abs() <= 1e-9 * a.abs();
        kept.zip(now).is_some_and(|(a, b)| near(a.value, b.value) && near(a.high, b.high))
    };
    fits.into_iter().filter(same).collect()
}

/// Codes at the start of the visit and, where they were read again, at the end.
fn codes(car: Option<&CarReport>) -> (Option<Vec<CodeRecord>>, Option<Vec<CodeRecord>>) {
    let records = |lines: &[CodeLine]| lines.iter().map(code_record).collect();
    match car {
        None => (None, None),
        Some(car) => match &car.codes_at_first {
            Some(first) => (Some(records(first)), Some(records(&car.codes))),
            None => (Some(records(&car.codes)), None),
        },
    }
}

fn code_record(line: &CodeLine) -> CodeRecord {
    CodeRecord {
        code: line.code.clone(),
        meaning: line.meaning.clone(),
        stored: line.stored,
        pending: line.pending,
        permanent: line.permanent,
    }
}

fn not_made(
    record: &VisitRecord,
    car: Option<&CarReport>,
    results: &[&CheckResult],
) -> Vec<NotMade> {
    let offered: Vec<Signal> = car.map(|car| car.signals.clone()).unwrap_or_default();
    Check::ALL
        .into_iter()
        .filter(|check| !results.iter().any(|result| result.check == *check))
        .filter(|check| *check != Check::RepairProof || !record.repairs.is_empty())
        .map(|check| {
            let why = if record.skipped.contains(&check) {
                WhyNotMade::Skipped
            } else if car.is_some() && !missing_signals(check, &offered).is_empty() {
                WhyNotMade::NotOffered
            } else {
                WhyNotMade::NotNeeded
            };
            NotMade { check, why }
        })
        .collect()
}

fn repair_record(
    entry: &crate::store::RepairEntry,
    record: &VisitRecord,
    language: Language,
) -> RepairRecord {
    let report = repair::report(entry);
    let draft = report.draft;
    let bought = draft.quotes.iter().filter(|quote| quote.chosen);
    let parts = bought.map(|quote| (quote.seller.clone(), quote.amount.clone()));
    let labour = [
        (language.of("Labour", "Arbeit"), draft.labour),
        (language.of("Diagnosis", "Diagnose"), draft.diagnosis),
        (language.of("Tax and fees", "Steuern und Gebühren"), draft.tax),
    ];
    let labour = labour.into_iter().map(|(text, amount)| (text.to_owned(), amount));
    let lines = parts
        .chain(labour)
        .filter(|(_, amount)| !amount.is_empty())
        .map(|(text, amount)| CostLine { text, amount })
        .collect();
    RepairRecord {
        part: draft.part,
        fault: record.verdict().and_then(|judged| judged.verdict.fault),
        prices: draft
            .quotes
            .into_iter()
            .map(|quote| PriceAsked {
                seller: quote.seller,
                note: quote.note,
                amount: quote.amount,
                chosen: quote.chosen,
            })
            .collect(),
        currency: draft.currency,
        lines,
        total: report.total,
        shop_diagnosis: Some(draft.shop_diagnosis).filter(|amount| !amount.is_empty()),
        saved: report.saved,
        guess: guess_record(entry, record),
        notes: draft.notes,
    }
}

fn guess_record(entry: &crate::store::RepairEntry, record: &VisitRecord) -> Option<GuessRecord> {
    let codes: Vec<String> = record.recording.codes().iter().map(|it| it.code.clone()).collect();
    let guess = guess::guess(&codes, &record.verdict()?.verdict, Some(entry))?;
    let parts = guess.parts.into_iter().map(|it| GuessPartRecord {
        part: it.part,
        per_mille: it.per_mille,
        price: it.price,
    });
    Some(GuessRecord { parts: parts.collect(), average: guess.average, saved: guess.saved })
}

fn tool_record(tool: &ToolReport) -> ToolRecord {
    ToolRecord {
        cost: tool.cost.clone(),
        currency: tool.currency.clone(),
        saved: tool.saved.clone(),
        left: tool.left.clone(),
    }
}

fn proof_record(record: &VisitRecord) -> Option<ProofRecord> {
    let results = record.results();
    let result = (*results.iter().find(|result| result.check == Check::RepairProof)?).clone();
    let shut_vacuum = |result: &CheckResult| result.measure(MeasureName::VacuumWithPurgeShut);
    let earlier = [Check::ThrottleFollow, Check::IdleZero]
        .into_iter()
        .find_map(|check| shut_vacuum(results.iter().find(|result| result.check == check)?));
    let fault = record.verdict().and_then(|judged| judged.verdict.fault);
    let Traces { deeds, before, after } = proof::traces(&record.recording, fault)?;
    // The number that tells of the repaired part stands first, the rest as the check had them.
    let told = wording::telling_measures(fault);
    let rest = result.measures.iter().map(|it| it.name).filter(|name| !told.contains(name));
    let number = |name: MeasureName| {
        let earlier = results.iter().filter(|it| it.check != Check::RepairProof);
        let before = earlier.filter_map(|it| it.measure(name)).next();
        Some(ProofNumber { name, before, after: result.measure(name)? })
    };
    Some(ProofRecord {
        limit_pa: proof::limit_pa(&result),
        before_at: None,
        after_at: None,
        deeds,
        numbers: told.iter().copied().chain(rest).filter_map(number).collect(),
        before,
        after,
        shut_vacuum: earlier.zip(shut_vacuum(&result)),
        result,
    })
}
