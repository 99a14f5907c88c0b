use super::control_units::{all_offered, ask};
use super::{JobError, TankOption, TankSourceLine};
use crate::link::{Answer, Link, LinkError, Request, UnitId};
use crate::vehicle::{
    ControlUnit, CustomSignal, Quantity, RestReadings, Service, Signal, SourceDoubt, TankSource,
    choose_tank_source, decode_asked, gauge_pressure,
};
use crate::wording::Language;

/// Readings of each source: enough to see whether one is frozen while another moves.
const LOOKS: usize = 8;

/// Parameter 33, barometric pressure.
const BAROMETRIC: u8 = 0x33;

/// Why a source of tank pressure was taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum WhyThisSource {
    /// The car offers no other.
    OnlyOne,
    /// It is the finest of those that can be right.
    FinestPlausible,
    /// None can be right; it is the finest of all.
    NoneIsPlausible,
    /// The person took it.
    ByHand,
}

/// The source of tank pressure with those that were passed over.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Chosen {
    /// The source.
    pub(super) source: TankSource,
    /// Why this one.
    pub(super) why: WhyThisSource,
    /// Every source that the car offers, by the standard the finest first, an own request last.
    pub(super) offered: Vec<TankSource>,
    /// Those that cannot be right, and why.
    pub(super) doubted: Vec<(TankSource, SourceDoubt)>,
}

/// Where tank pressure should come from: from where the person took it before, if the car still
/// offers that. Else a car that offers one source leaves no choice, and among several the finest
/// plausible one is taken. `None` where it offers none.
///
/// # Errors
/// When the link fails.
pub(super) fn choose(
    link: &mut Link,
    units: &[ControlUnit],
    own: &[CustomSignal],
    kept: Option<TankSource>,
) -> Result<Option<Chosen>, JobError> {
    let own = own.iter().find(|own| own.signal == Signal::TankPressure);
    let mut offered = TankSource::offered(&all_offered(units));
    offered.extend(own.map(|_| TankSource::Own));
    let Some(first) = offered.first().copied() else { return Ok(None) };
    if offered.len() < 2 {
        let why = WhyThisSource::OnlyOne;
        return Ok(Some(Chosen { source: first, why, offered, doubted: Vec::new() }));
    }
    let mut readings: Vec<(TankSource, Vec<f64>)> =
        offered.iter().map(|source| (*source, Vec::new())).collect();
    let barometric = read(link, BAROMETRIC, Quantity::BarometricPressure)?;
    for _ in 0..LOOKS {
        for (source, pressures) in &mut readings {
            pressures.extend(match (*source, own) {
                (TankSource::Own, Some(own)) => look_by_request(link, own)?,
                _ => look(link, *source, barometric)?,
            });
        }
    }
    let candidates: Vec<RestReadings<'_>> = readings
        .iter()
        .filter_map(|(source, pressures)| {
            let step = source.step().or(own.map(|own| own.scale.abs()))?;
            Some(RestReadings { source: *source, pressures, step })
        })
        .collect();
    let choice = choose_tank_source(&candidates);
    let (source, why) = match (kept.filter(|it| offered.contains(it)), choice.source) {
        (Some(kept), _) => (kept, WhyThisSource::ByHand),
        (None, Some(source)) => (source, WhyThisSource::FinestPlausible),
        (None, None) => (first, WhyThisSource::NoneIsPlausible),
    };
    Ok(Some(Chosen { source, why, offered, doubted: choice.doubted }))
}

/// The choice as the card shows it.
pub(super) fn line(chosen: &Chosen, language: Language) -> TankSourceLine {
    let option = |source: TankSource| TankOption {
        source,
        name: name(source, language).to_owned(),
        doubt: chosen
            .doubted
            .iter()
            .find(|(doubted, _)| *doubted == source)
            .map(|(_, doubt)| doubt_words(*doubt, language).to_owned()),
    };
    let others = chosen.offered.iter().filter(|it| **it != chosen.source);
    TankSourceLine {
        chosen: option(chosen.source),
        why: why_words(chosen.why, language).to_owned(),
        by_hand: chosen.why == WhyThisSource::ByHand,
        others: others.map(|source| option(*source)).collect(),
    }
}

pub(super) fn name(source: TankSource, language: Language) -> &'static str {
    match source {
        TankSource::Narrow => {
            language.of("parameter 32, steps of 0.25 Pa", "Parameter 32, Schritte von 0,25 Pa")
        }
        TankSource::Wide => {
            language.of("parameter 54, steps of 1 Pa", "Parameter 54, Schritte von 1 Pa")
        }
        TankSource::Absolute => {
            language.of("parameters 53 and 33, changes only", "Parameter 53 und 33, nur Änderungen")
        }
        TankSource::Own => language.of("an own request", "eigene Anfrage"),
    }
}

fn why_words(why: WhyThisSource, language: Language) -> &'static str {
    match why {
        WhyThisSource::OnlyOne => {
            language.of("the car offers no other", "das Auto bietet keinen anderen")
        }
        WhyThisSource::FinestPlausible => language.of(
            "the finest of those that can be right",
            "der feinste von denen, die stimmen können",
        ),
        WhyThisSource::NoneIsPlausible => language.of(
            "none reads what a tank at rest can hold; the finest is taken",
            "keiner zeigt, was ein ruhender Tank halten kann; der feinste gilt",
        ),
        WhyThisSource::ByHand => language.of(
            "taken by hand, and kept for this vehicle",
            "von Hand gewählt und für dieses Fahrzeug behalten",
        ),
    }
}

fn doubt_words(doubt: SourceDoubt, language: Language) -> &'static str {
    match doubt {
        SourceDoubt::TooFewReadings => language.of("too few readings", "zu wenige Werte"),
        SourceDoubt::AtEndOfRange => language.of("at the end of its range", "am Ende des Bereichs"),
        SourceDoubt::FarFromAtmospheric { .. } => {
            language.of("too far from air pressure at rest", "in Ruhe zu weit vom Luftdruck")
        }
        SourceDoubt::Frozen => language
            .of("stands still while another moves", "steht, während ein anderer sich bewegt"),
    }
}

fn look(
    link: &mut Link,
    source: TankSource,
    barometric: Option<f64>,
) -> Result<Option<f64>, JobError> {
    let Some(parameter) = source.parameter() else { return Ok(None) };
    if source == TankSource::Absolute {
        let absolute = read(link, parameter, Quantity::TankPressureAbsolute)?;
        return Ok(absolute
            .zip(barometric)
            .map(|(it, barometric)| gauge_pressure(it, barometric).0));
    }
    let quantity = match source {
        TankSource::Wide => Quantity::TankPressureWide,
        _ => Quantity::TankPressure,
    };
    read(link, parameter, quantity)
}

/// A value beyond the limits of what can be right is no reading.
fn look_by_request(link: &mut Link, own: &CustomSignal) -> Result<Option<f64>, LinkError> {
    let (service, data) = own.request();
    let request = Request::new(service, &data);
    let request = match own.answered_by() {
        Some(unit) => request.to(UnitId(unit)),
        None => request,
    };
    match link.request(&request) {
        Ok(answers) => Ok(answers.iter().find_map(|it| own.decode(&it.payload).ok().flatten())),
        Err(error) if error.is_the_cars_answer() => Ok(None),
        Err(error) => Err(error),
    }
}

fn read(link: &mut Link, parameter: u8, quantity: Quantity) -> Result<Option<f64>, JobError> {
    let value = |answer: &Answer| {
        let content = Service::CurrentData.content(&answer.payload).ok()?;
        let readings = decode_asked(content, &[parameter]).ok()?;
        let mut measured = readings.iter().flat_map(|reading| &reading.measured);
        measured.find(|it| it.quantity == quantity).map(|it| it.value)
    };
    Ok(ask(link, Service::CurrentData, &[parameter])?.iter().find_map(value))
}

#[cfg(test)]
mod tests;
