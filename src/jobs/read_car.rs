use std::collections::BTreeMap;

use super::car_words;
use super::control_units::ask;
use super::needed_signals::impossible_checks;
use super::source::CarLink;
use super::{CarReport, CodeLine, JobError, MonitorLine, ReadinessLine};
use crate::link::{Answer, Link, UnitId};
use crate::vehicle::{
    FreezeFrame, MonitorName, MonitorOutcome, Readiness, Service, TroubleCode, Vin, decode_codes,
    decode_monitor_results, decode_vin, item,
};
use crate::wording::{self, Language};

/// Parameter 01: readiness since codes were cleared.
const READINESS: u8 = 0x01;

/// Parameter 02: the code that stored the freeze frame.
const STORED_BY: u8 = 0x02;

/// Frame 0, the one that the law asks for.
const FRAME: u8 = 0x00;

/// What of a freeze frame speaks about the vapour system: load, coolant, trims, manifold, engine
/// speed, road speed, intake air, throttle, purge, fuel level, tank and barometric pressure.
const FRAME_PARAMETERS: [u8; 14] =
    [0x04, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D, 0x0F, 0x11, 0x2E, 0x2F, 0x32, 0x33, 0x54];

/// Everything the car says of itself.
///
/// # Errors
/// When the link fails. What the car does not offer, or answers without meaning, is left out.
pub(super) fn read_everything(
    car: &mut CarLink,
    language: Language,
) -> Result<CarReport, JobError> {
    let codes = read_codes(&mut car.link, language)?;
    let link = &mut car.link;
    let vin = read_vin(link)?;
    let readiness = read_readiness(link)?;
    let frame = read_freeze_frame(link)?;
    let monitors = read_monitors(link, language)?;
    let signals = car.signals();
    Ok(CarReport {
        vin: vin.map(|vin| vin.text()),
        codes,
        codes_at_first: None,
        freeze_frame: frame.iter().flat_map(|frame| frame_lines(frame, language)).collect(),
        freeze_frame_code: frame.and_then(|frame| frame.code).map(|code| code.to_string()),
        readiness: readiness.iter().flat_map(|it| readiness_lines(it, language)).collect(),
        monitors,
        impossible: impossible_checks(&signals),
        signals,
        readings_per_second: None,
        rate_limits: Vec::new(),
        doubts: Vec::new(),
    })
}

/// Stored, pending and permanent codes, each once, stored ones first.
pub(super) fn read_codes(link: &mut Link, language: Language) -> Result<Vec<CodeLine>, JobError> {
    let mut lines: BTreeMap<TroubleCode, CodeLine> = BTreeMap::new();
    let mut order = Vec::new();
    for service in [Service::StoredCodes, Service::PendingCodes, Service::PermanentCodes] {
        for answer in ask(link, service, &[])? {
            let Ok(content) = service.content(&answer.payload) else { continue };
            for code in decode_codes(service.request(), content).unwrap_or_default() {
                let line = lines.entry(code).or_insert_with(|| {
                    order.push(code);
                    CodeLine {
                        code: code.to_string(),
                        meaning: car_words::meaning(code, language),
                        stored: false,
                        pending: false,
                        permanent: false,
                    }
                });
                line.stored |= service == Service::StoredCodes;
                line.pending |= service == Service::PendingCodes;
                line.permanent |= service == Service::PermanentCodes;
            }
        }
    }
    Ok(order.iter().filter_map(|code| lines.remove(code)).collect())
}

/// The identification number, from the first unit that gives a sound one.
fn read_vin(link: &mut Link) -> Result<Option<Vin>, JobError> {
    let answers = ask(link, Service::Identification, &[item::VIN])?;
    let mut by_unit: BTreeMap<UnitId, Vec<&[u8]>> = BTreeMap::new();
    for answer in &answers {
        if let Ok(content) = Service::Identification.content(&answer.payload) {
            by_unit.entry(answer.unit).or_default().push(content);
        }
    }
    Ok(by_unit.values().find_map(|contents| decode_vin(contents).ok()))
}

fn read_readiness(link: &mut Link) -> Result<Option<Readiness>, JobError> {
    let answers = ask(link, Service::CurrentData, &[READINESS])?;
    let readiness = |answer: &Answer| {
        let content = Service::CurrentData.content(&answer.payload).ok()?;
        Readiness::from_data(content.strip_prefix(&[READINESS])?).ok()
    };
    Ok(answers.iter().filter_map(readiness).find(|it| !it.monitors.is_empty()))
}

fn readiness_lines(readiness: &Readiness, language: Language) -> Vec<ReadinessLine> {
    let line = |row: &crate::vehicle::MonitorReadiness| ReadinessLine {
        name: car_words::monitor(row.monitor, language).to_owned(),
        complete: row.complete,
    };
    readiness.monitors.iter().map(line).collect()
}

/// The freeze frame, if a code stored one.
fn read_freeze_frame(link: &mut Link) -> Result<Option<FreezeFrame>, JobError> {
    let mut frame = FreezeFrame::new(FRAME);
    for parameter in [STORED_BY].into_iter().chain(FRAME_PARAMETERS) {
        for answer in ask(link, Service::FreezeFrame, &[parameter, FRAME])? {
            if let Ok(content) = Service::FreezeFrame.content(&answer.payload) {
                // A second unit's answer to the same parameter adds nothing.
                let _known_or_unsound = frame.add_answer(content);
            }
        }
        if frame.code.is_none() {
            return Ok(None);
        }
    }
    Ok(Some(frame))
}

fn frame_lines(frame: &FreezeFrame, language: Language) -> Vec<(String, String)> {
    frame
        .values
        .iter()
        .map(|measured| {
            let name = measured.signal().map_or_else(
                || measured.quantity.title().trim_end_matches('.').to_owned(),
                |signal| wording::signal_name(signal, language).to_owned(),
            );
            let number = wording::number(measured.value, 1, language);
            (name, wording::with_unit(&number, measured.quantity.unit()))
        })
        .collect()
}

/// Results of the vapour system's monitors that have run.
fn read_monitors(link: &mut Link, language: Language) -> Result<Vec<MonitorLine>, JobError> {
    let mut lines = Vec::new();
    for id in MonitorName::VAPOR_SYSTEM {
        for answer in ask(link, Service::MonitorResults, &[id])? {
            let Ok(content) = Service::MonitorResults.content(&answer.payload) else { continue };
            let results = decode_monitor_results(content).unwrap_or_default();
            let ran = results.iter().filter(|it| it.outcome != MonitorOutcome::NotRun);
            lines.extend(ran.map(|result| MonitorLine {
                name: car_words::monitor_result(result.monitor, result.test, language),
                value: result.value,
                low: result.low,
                high: result.high,
                unit: result.unit.unwrap_or_default().to_owned(),
                passed: result.outcome == MonitorOutcome::Passed,
            }));
        }
    }
    Ok(lines)
}
