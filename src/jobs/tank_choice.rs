use super::JobError;
use super::control_units::{all_offered, ask};
use crate::link::{Answer, Link};
use crate::vehicle::{
    ControlUnit, Quantity, RestReadings, Service, TankSource, choose_tank_source, decode_asked,
    gauge_pressure,
};

/// Readings of each source: enough to see whether one is frozen while another moves.
const LOOKS: usize = 8;

/// Parameter 33, barometric pressure.
const BAROMETRIC: u8 = 0x33;

/// Where tank pressure should come from. A car that offers one source leaves no choice; among
/// several the finest plausible one is taken.
///
/// # Errors
/// When the link fails.
pub(super) fn choose(
    link: &mut Link,
    units: &[ControlUnit],
) -> Result<Option<TankSource>, JobError> {
    let offered = TankSource::offered(&all_offered(units));
    if offered.len() < 2 {
        return Ok(offered.first().copied());
    }
    let mut readings: Vec<(TankSource, Vec<f64>)> =
        offered.iter().map(|source| (*source, Vec::new())).collect();
    let barometric = read(link, BAROMETRIC, Quantity::BarometricPressure)?;
    for _ in 0..LOOKS {
        for (source, pressures) in &mut readings {
            pressures.extend(look(link, *source, barometric)?);
        }
    }
    let candidates: Vec<RestReadings<'_>> = readings
        .iter()
        .filter_map(|(source, pressures)| {
            Some(RestReadings { source: *source, pressures, step: source.step()? })
        })
        .collect();
    let chosen = choose_tank_source(&candidates).source;
    Ok(chosen.or_else(|| offered.first().copied()))
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
    read(link, parameter, Quantity::TankPressure)
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
