use std::collections::BTreeMap;
use std::time::Duration;

use super::needed_signals::{impossible_checks, missing_signals};
use super::source::Source;
use super::{
    CarReport, CodeLine, JobError, LinkAddress, MachineClock, ReadPart, SetupStep, car_words,
    connect, leak_test, read_car,
};
use crate::link::LinkError;
use crate::store::Listening;
use crate::vehicle::{CustomSignal, Readiness, Signal, TroubleCode, plausibility};
use crate::wording::{Language, Style};

/// How long the signals are polled for their values and the rate reached.
const LOOK: Duration = Duration::from_secs(4);

/// How far a look has come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum LookStep {
    /// The way to the car is being opened.
    Connecting(SetupStep),
    /// This part is being read; and how much of the reading is done, 0 to 1.
    Reading(ReadPart, f64),
}

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
    on_step: &mut dyn FnMut(LookStep),
) -> Result<Look, JobError> {
    let wanted = Listening { own_signals: own.to_vec(), ..Listening::default() };
    let mut source = connect::connect(address, clock, &wanted, &mut |step| {
        on_step(LookStep::Connecting(step));
    })?;
    let (report, values) = look(&mut source, style.language, &mut |part, share| {
        on_step(LookStep::Reading(part, share));
    })?;
    let mut missing: Vec<Signal> =
        report.impossible.iter().flat_map(|it| missing_signals(*it, &report.signals)).collect();
    missing.sort_unstable();
    missing.dedup();
    Ok(Look { report, values: values.into_iter().collect(), missing })
}

/// What the source says of itself, and the newest value of each signal after a few seconds of
/// polling.
pub(super) fn look(
    source: &mut Source,
    language: Language,
    on_part: &mut dyn FnMut(ReadPart, f64),
) -> Result<(CarReport, BTreeMap<Signal, f64>), JobError> {
    let (mut report, readiness) =
        told(source, language, &mut |part| on_part(part, part.share_before()))?;
    let values = measure(source, &mut report, language, on_part)?;
    if let Source::Car(_) = source {
        report.leak_test = Some(leak_test::outlook(&report, readiness.as_ref(), &values, language));
    }
    Ok((report, values))
}

/// What the source says of itself.
fn told(
    source: &mut Source,
    language: Language,
    on_part: &mut dyn FnMut(ReadPart),
) -> Result<(CarReport, Option<Readiness>), JobError> {
    match source {
        Source::Car(car) => read_car::read_everything(car, language, on_part),
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
            let report = CarReport {
                codes: player.codes().iter().map(|it| code(&it.code)).collect(),
                impossible: impossible_checks(&signals),
                signals,
                ..CarReport::default()
            };
            Ok((report, None))
        }
    }
}

/// Polls for a few seconds: the newest value of each signal, and into the report the rate reached,
/// what it does not allow, and which readings cannot be what they claim.
fn measure(
    source: &mut Source,
    report: &mut CarReport,
    language: Language,
    on_part: &mut dyn FnMut(ReadPart, f64),
) -> Result<BTreeMap<Signal, f64>, JobError> {
    let mut seen: BTreeMap<Signal, Vec<f64>> = BTreeMap::new();
    let (since, until) = (source.now(), source.now() + LOOK);
    let before = ReadPart::Values.share_before();
    while source.now() < until && !source.is_over() {
        let done = source.now().seconds_since(since) / LOOK.as_secs_f64();
        on_part(ReadPart::Values, before + (1.0 - before) * done.clamp(0.0, 1.0));
        match source.poll() {
            Ok(catch) => {
                for (signal, _, value) in catch.samples {
                    seen.entry(signal).or_default().push(value);
                }
            }
            Err(LinkError::NoData) => break,
            Err(error) => return Err(error.into()),
        }
    }
    report.readings_per_second = source.readings_per_second();
    if let Source::Car(car) = source {
        report.rate_limits = car_words::rate_limits(car.tank_rate(), language);
    }
    report.doubts = doubts(&seen, language);
    Ok(seen.into_iter().filter_map(|(signal, values)| Some((signal, *values.last()?))).collect())
}

/// Readings that cannot be what they claim, each in a sentence.
fn doubts(seen: &BTreeMap<Signal, Vec<f64>>, language: Language) -> Vec<String> {
    let speed = seen.get(&Signal::EngineSpeed);
    let runs = speed.is_some_and(|speed| speed.iter().all(|speed| *speed > 0.0));
    seen.iter()
        .filter_map(|(signal, values)| {
            car_words::doubt(*signal, plausibility(*signal, values, runs), language)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::{doubts, look};
    use crate::jobs::JobError;
    use crate::jobs::source::Source;
    use crate::jobs::tests::answering_car::{car_that_answers, listed};
    use crate::store::Listening;
    use crate::vehicle::Signal;
    use crate::wording::Language;

    /// 05, 0C: the engine turns at 750 to the last digit, coolant is the value of a missing sensor.
    fn odd_car(asked: &str, _: usize) -> Vec<String> {
        let answers: [(&str, &[&str]); 4] = [
            ("0100", &["41 00 08 10 00 00"]),
            ("0105", &["41 05 00"]),
            ("010C", &["41 0C 0B B8"]),
            ("03", &["43 04 55 00 00 00 00"]),
        ];
        listed(&answers, asked)
    }

    /// The same, but road speed is answered with another parameter's number, stored codes with the
    /// answer to pending ones, and pending ones are cut short.
    fn car_that_mixes_answers_up(asked: &str, count: usize) -> Vec<String> {
        let answers: [(&str, &[&str]); 4] = [
            ("0100", &["41 00 08 18 00 00"]),
            ("010D", &["41 0C 1B B8"]),
            ("03", &["47 04 55 00 00 00 00"]),
            ("07", &["47 04"]),
        ];
        match listed(&answers, asked) {
            none if none.is_empty() => odd_car(asked, count),
            mixed => mixed,
        }
    }

    /// The whole way from the adapter's letters to the report.
    #[test]
    fn frozen_and_missing_sensors_are_named_while_reading() {
        let car = car_that_answers(odd_car, &Listening::default());
        let mut source = Source::Car(Box::new(car));
        let (report, values) = look(&mut source, Language::English, &mut |_, _| {}).unwrap();
        let named = |word: &str| report.doubts.iter().any(|it| it.contains(word));
        assert_eq!(report.doubts.len(), 2, "{:?}", report.doubts);
        assert!(named("750") && named("frozen") && named("−40"), "{:?}", report.doubts);
        assert_eq!(values.get(&Signal::EngineSpeed), Some(&750.0));
        assert_eq!(report.codes[0].code, "P0455");
    }

    /// A typed error or nothing, and never a value of something else.
    #[test]
    fn answers_to_other_requests_give_no_value() {
        let car = car_that_answers(car_that_mixes_answers_up, &Listening::default());
        let mut source = Source::Car(Box::new(car));
        match look(&mut source, Language::English, &mut |_, _| {}) {
            Ok((report, values)) => {
                assert_eq!(values.get(&Signal::VehicleSpeed), None, "unknown, and no zero");
                assert!(values.get(&Signal::EngineSpeed).is_none_or(|it| *it == 750.0));
                assert_eq!(report.codes, [], "an answer to another request");
            }
            Err(JobError::Link(error)) => assert!(!error.to_string().is_empty()),
            Err(error) => panic!("{error:?}"),
        }
    }

    #[test]
    fn only_what_cannot_be_is_doubted() {
        let seen = BTreeMap::from([
            (Signal::TankPressure, vec![-3.0; 40]),
            (Signal::EngineSpeed, vec![750.0; 12]),
            (Signal::AmbientAir, vec![-40.0; 6]),
            (Signal::BarometricPressure, vec![101.0, 12.0]),
            (Signal::Coolant, vec![88.0; 2]),
        ]);
        let sentences = doubts(&seen, Language::English);
        assert_eq!(sentences.len(), 3, "{sentences:?}");
        assert!(sentences[0].contains("12") && sentences[0].contains("kPa"), "{sentences:?}");
        assert!(sentences[1].contains("750"), "{sentences:?}");
        assert!(sentences[2].contains("−40"), "{sentences:?}");
        // The engine stands: that its speed does not move says nothing.
        let standing = BTreeMap::from([(Signal::EngineSpeed, vec![0.0; 30])]);
        assert!(doubts(&standing, Language::German).is_empty());
    }
}
