use std::collections::BTreeMap;

use super::car_words;
use super::control_units::ask;
use super::declared::declared;
use super::identity::{read_identity, vin_note};
use super::needed_signals::impossible_checks;
use super::source::CarLink;
use super::{CarReport, CodeLine, JobError, MonitorLine, ReadinessLine};
use crate::link::{Answer, Link};
use crate::vehicle::{
    FreezeFrame, MonitorName, MonitorOutcome, Readiness, Service, TroubleCode, decode_codes,
    decode_monitor_results, decode_older_monitor_result,
};
use crate::wording::{self, Language};

/// Parameter 01: readiness since codes were cleared.
const READINESS: u8 = 0x01;

/// Parameter 41: readiness of this driving cycle.
const READINESS_THIS_CYCLE: u8 = 0x41;

/// Parameter 02: the code that stored the freeze frame.
const STORED_BY: u8 = 0x02;

/// Frame 0, the one that the law asks for.
const FRAME: u8 = 0x00;

/// What of a freeze frame speaks about the vapour system: load, coolant, trims, manifold, engine
/// speed, road speed, intake air, throttle, purge, fuel level, tank and barometric pressure.
const FRAME_PARAMETERS: [u8; 14] =
    [0x04, 0x05, 0x06, 0x07, 0x0B, 0x0C, 0x0D, 0x0F, 0x11, 0x2E, 0x2F, 0x32, 0x33, 0x54];

/// What of a car is being read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReadPart {
    /// Trouble codes.
    Codes,
    /// Number, software and counters.
    Identity,
    /// Which of its monitors have run.
    Readiness,
    /// What was kept when a code was stored.
    FreezeFrame,
    /// Results of its own monitors.
    Monitors,
    /// Values of the signals, for a few seconds.
    Values,
}

impl ReadPart {
    /// How much of the reading is done when this part begins: shares of the requests that a car
    /// with two control units takes, and of the seconds that follow them.
    pub const fn share_before(self) -> f64 {
        match self {
            Self::Codes => 0.0,
            Self::Identity => 0.06,
            Self::Readiness => 0.15,
            Self::FreezeFrame => 0.18,
            Self::Monitors => 0.3,
            Self::Values => 0.45,
        }
    }
}

/// Everything the car says of itself, and its readiness as it was sent.
///
/// # Errors
/// When the link fails. What the car does not offer, or answers without meaning, is left out.
pub(super) fn read_everything(
    car: &mut CarLink,
    language: Language,
    on_part: &mut dyn FnMut(ReadPart),
) -> Result<(CarReport, Option<Readiness>), JobError> {
    on_part(ReadPart::Codes);
    let codes = read_codes(&mut car.link, language)?;
    let link = &mut car.link;
    on_part(ReadPart::Identity);
    let items = declared(link, Service::Identification, &[])?;
    let identity = read_identity(link, &items)?;
    on_part(ReadPart::Readiness);
    let readiness = read_readiness(link, READINESS)?;
    on_part(ReadPart::FreezeFrame);
    let frame = read_freeze_frame(link)?;
    on_part(ReadPart::Monitors);
    let monitors = read_monitors(link, language)?;
    let this_cycle = match car.offers(READINESS_THIS_CYCLE) {
        true => read_readiness(&mut car.link, READINESS_THIS_CYCLE)?,
        false => None,
    };
    let signals = car.signals();
    let report = CarReport {
        vin: identity.vin.map(|vin| vin.text()),
        vin_note: identity.vin.map(|vin| vin_note(&vin, language)),
        units: identity.units,
        codes,
        codes_at_first: None,
        freeze_frame: frame.iter().flat_map(|frame| frame_lines(frame, language)).collect(),
        freeze_frame_code: frame.and_then(|frame| frame.code).map(|code| code.to_string()),
        readiness: readiness.iter().flat_map(|it| readiness_lines(it, language)).collect(),
        this_cycle: this_cycle.iter().flat_map(|it| readiness_lines(it, language)).collect(),
        in_use: identity.in_use,
        leak_test: None,
        monitors,
        tank_source: car.tank_source(language),
        impossible: impossible_checks(&signals),
        signals,
        readings_per_second: None,
        rate_limits: Vec::new(),
        doubts: Vec::new(),
    };
    Ok((report, readiness))
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

/// Readiness as the unit tells it that watches most: a transmission's answers with its own few.
fn read_readiness(link: &mut Link, parameter: u8) -> Result<Option<Readiness>, JobError> {
    let answers = ask(link, Service::CurrentData, &[parameter])?;
    let readiness = |answer: &Answer| {
        let content = Service::CurrentData.content(&answer.payload).ok()?;
        Readiness::from_data(content.strip_prefix(&[parameter])?).ok()
    };
    let told = answers.iter().filter_map(readiness).filter(|it| !it.monitors.is_empty());
    Ok(told.max_by_key(|it| it.monitors.len()))
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
    let listed = declared(link, Service::FreezeFrame, &[FRAME])?;
    for parameter in [STORED_BY].into_iter().chain(FRAME_PARAMETERS) {
        if !listed.contains(parameter) {
            continue;
        }
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
    Ok(frame.code.is_some().then_some(frame))
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

/// Results of the monitors that have run, the vapour system's first.
fn read_monitors(link: &mut Link, language: Language) -> Result<Vec<MonitorLine>, JobError> {
    // Before CAN a result has one limit and no unit (SAE J1979), and its number is the maker's.
    let is_older = link.profile().protocol.is_some_and(|protocol| !protocol.is_can());
    let mut lines = Vec::new();
    let listed = declared(link, Service::MonitorResults, &[])?;
    let of_vapor = |id: &u8| MonitorName::VAPOR_SYSTEM.contains(id);
    let (first, others): (Vec<u8>, Vec<u8>) = listed.iter().partition(of_vapor);
    for id in first.into_iter().chain(others) {
        for answer in ask(link, Service::MonitorResults, &[id])? {
            let Ok(content) = Service::MonitorResults.content(&answer.payload) else { continue };
            if is_older {
                lines.extend(older_line(content, language));
                continue;
            }
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

/// A result of a bus before CAN, in counts; nothing of one that has not run.
fn older_line(content: &[u8], language: Language) -> Option<MonitorLine> {
    let result = decode_older_monitor_result(content).ok()?;
    let (value, limit) = (f64::from(result.value), f64::from(result.limit));
    let (low, high) =
        if result.limit_is_least { (limit, f64::from(u16::MAX)) } else { (0.0, limit) };
    (result.outcome != MonitorOutcome::NotRun).then(|| MonitorLine {
        name: car_words::older_monitor(result.test, result.component, language),
        value,
        low,
        high,
        unit: String::new(),
        passed: result.outcome == MonitorOutcome::Passed,
    })
}

#[cfg(test)]
mod tests;
