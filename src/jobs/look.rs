use std::collections::BTreeMap;
use std::time::Duration;

use super::needed_signals::{impossible_checks, missing_signals};
use super::source::Source;
use super::{
    CarReport, CodeLine, JobError, LinkAddress, MachineClock, SetupStep, car_words, connect,
    read_car,
};
use crate::link::LinkError;
use crate::vehicle::{CustomSignal, Signal, TroubleCode};
use crate::wording::{Language, Style};

/// How long the signals are polled for their values and the rate reached.
const LOOK: Duration = Duration::from_secs(4);

/// What one look at a car shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    /// What the car says.
    pub report: CarReport,
    /// The newest value of each signal.
    pub values: Vec<(Signal, f64)>,
    /// Signals that some check would need and the car does not offer.
    pub missing: Vec<Signal>,
}

/// Connects, reads everything and polls for a few seconds.
///
/// # Errors
/// When the car cannot be reached.
pub fn look_at_car(
    address: &LinkAddress,
    clock: MachineClock,
    own: &[CustomSignal],
    style: &Style,
    on_step: &mut dyn FnMut(SetupStep),
) -> Result<Look, JobError> {
    let mut source = connect::connect(address, clock, own, on_step)?;
    let mut report = report(&mut source, style.language)?;
    let values = measure(&mut source, &mut report, style.language)?;
    let mut missing: Vec<Signal> =
        report.impossible.iter().flat_map(|it| missing_signals(*it, &report.signals)).collect();
    missing.sort_unstable();
    missing.dedup();
    Ok(Look { report, values: values.into_iter().collect(), missing })
}

/// What the source says of itself.
pub(super) fn report(source: &mut Source, language: Language) -> Result<CarReport, JobError> {
    match source {
        Source::Car(car) => read_car::read_everything(car, language),
        Source::Replay(player) => {
            let signals = player.signals();
            let code = |code: &str| CodeLine {
                code: code.to_owned(),
                meaning: code
                    .parse::<TroubleCode>()
                    .map(|code| car_words::meaning(code, language))
                    .unwrap_or_default(),
                stored: true,
                pending: false,
                permanent: false,
            };
            Ok(CarReport {
                codes: player.codes().iter().map(|it| code(&it.code)).collect(),
                impossible: impossible_checks(&signals),
                signals,
                ..CarReport::default()
            })
        }
    }
}

/// Polls for a few seconds: the newest value of each signal, and into the report the rate reached
/// and what it does not allow.
pub(super) fn measure(
    source: &mut Source,
    report: &mut CarReport,
    language: Language,
) -> Result<BTreeMap<Signal, f64>, JobError> {
    let mut values = BTreeMap::new();
    let until = source.now() + LOOK;
    while source.now() < until && !source.is_over() {
        match source.poll() {
            Ok(catch) => values.extend(catch.samples.iter().map(|(it, _, value)| (*it, *value))),
            Err(LinkError::NoData) => break,
            Err(error) => return Err(error.into()),
        }
    }
    report.readings_per_second = source.readings_per_second();
    if let Source::Car(car) = source {
        report.rate_limits = car_words::rate_limits(car.tank_rate(), language);
    }
    Ok(values)
}
