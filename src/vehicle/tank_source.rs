use serde::{Deserialize, Serialize};

use super::{Parameter, Signal, SupportedParameters, parameter_table};
use crate::units::Pascal;

/// Where tank pressure can come from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TankSource {
    /// Parameter 32: gauge, quarter pascals.
    Narrow,
    /// Parameter 54: gauge, whole pascals.
    Wide,
    /// Parameter 53 less parameter 33: steps of 5 Pa, but the level is only known to half a
    /// kilopascal, as that is what parameter 33 rounds to. Good for changes alone.
    Absolute,
    /// A request of the person's own.
    Own,
}

/// Readings of one source while the engine was off.
#[derive(Clone, Copy, Debug)]
pub struct RestReadings<'a> {
    /// The source.
    pub source: TankSource,
    /// Gauge pressures in Pa, in order of time.
    pub pressures: &'a [f64],
    /// Smallest change in Pa that the source can show.
    pub step: f64,
}

/// Why a source is not believed.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SourceDoubt {
    /// Fewer readings than can be judged.
    TooFewReadings,
    /// Readings sit at an end of the range, as when nothing is connected.
    AtEndOfRange,
    /// No tank holds such a pressure at rest.
    FarFromAtmospheric {
        /// Middle reading in Pa.
        median: f64,
    },
    /// It stays the same to the last digit while another source moves.
    Frozen,
}

/// Which source to use.
#[derive(Clone, Debug, PartialEq)]
pub struct TankChoice {
    /// The finest source that is believed.
    pub source: Option<TankSource>,
    /// Those that are not, and why.
    pub doubted: Vec<(TankSource, SourceDoubt)>,
}

/// Readings without which a source is not judged.
const LEAST_READINGS: usize = 5;

/// Relief valves of tanks open at 3.5 to 6 kPa (common practice, no source); beyond this no tank
/// stays at rest, and a wrong scaling or sign is likelier.
const LARGEST_AT_REST: f64 = 8000.0;

impl TankSource {
    /// Every source, the finest first.
    pub const ALL: [Self; 4] = [Self::Narrow, Self::Wide, Self::Absolute, Self::Own];

    /// The source's stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Narrow => "narrow",
            Self::Wide => "wide",
            Self::Absolute => "absolute",
            Self::Own => "own",
        }
    }

    /// The source with this stable name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|source| source.name() == name)
    }

    /// The parameter that gives it, unless it is the person's own request.
    pub const fn parameter(self) -> Option<u8> {
        match self {
            Self::Narrow => Some(0x32),
            Self::Wide => Some(0x54),
            Self::Absolute => Some(0x53),
            Self::Own => None,
        }
    }

    /// Sources that a car offers by the standard, the finest first.
    pub fn offered(supported: &SupportedParameters) -> Vec<Self> {
        let baro = super::parameter_for(Signal::BarometricPressure, supported).is_some();
        [Self::Narrow, Self::Wide, Self::Absolute]
            .into_iter()
            .filter(|source| source.parameter().is_some_and(|id| supported.contains(id)))
            .filter(|source| *source != Self::Absolute || baro)
            .collect()
    }

    /// Smallest change in Pa that the source shows by the standard.
    pub fn step(self) -> Option<f64> {
        let field = *parameter_row(self)?.fields().first()?;
        Some(if self == Self::Absolute { field.resolution() * 1000.0 } else { field.resolution() })
    }

    /// Half the width of what the source leaves open about the level, in Pa.
    pub fn level_uncertainty(self) -> Option<f64> {
        Some(if self == Self::Absolute { 500.0 } else { self.step()? / 2.0 })
    }

    /// Lowest and highest gauge pressure the source can state, in Pa. An absolute source has no
    /// fixed ends on the gauge scale.
    fn ends(self) -> Option<(f64, f64)> {
        match self {
            Self::Narrow | Self::Wide => Some(parameter_row(self)?.fields().first()?.range()),
            Self::Absolute | Self::Own => None,
        }
    }
}

/// Gauge pressure from an absolute tank pressure and a barometric pressure, both in kPa.
pub fn gauge_pressure(absolute_kpa: f64, barometric_kpa: f64) -> Pascal {
    Pascal((absolute_kpa - barometric_kpa) * 1000.0)
}

/// Looks at what each source read at rest and takes the finest that is plausible. How fine is
/// told by the larger of its stated step and the smallest step seen, so that a fine parameter fed
/// from a coarse sensor gains nothing.
pub fn choose_tank_source(candidates: &[RestReadings<'_>]) -> TankChoice {
    let mut doubted = Vec::new();
    let mut best: Option<(f64, TankSource)> = None;
    for candidate in candidates {
        if let Some(doubt) = doubt(candidate, candidates) {
            doubted.push((candidate.source, doubt));
            continue;
        }
        let step = effective_step(candidate);
        if best.is_none_or(|(least, _)| step < least) {
            best = Some((step, candidate.source));
        }
    }
    TankChoice { source: best.map(|(_, source)| source), doubted }
}

fn doubt(candidate: &RestReadings<'_>, all: &[RestReadings<'_>]) -> Option<SourceDoubt> {
    let pressures = candidate.pressures;
    if pressures.len() < LEAST_READINGS {
        return Some(SourceDoubt::TooFewReadings);
    }
    if let Some((low, high)) = candidate.source.ends()
        && pressures.iter().any(|pressure| *pressure <= low || *pressure >= high)
    {
        return Some(SourceDoubt::AtEndOfRange);
    }
    let median = median(pressures)?;
    if median.is_nan() || median.abs() > LARGEST_AT_REST {
        return Some(SourceDoubt::FarFromAtmospheric { median });
    }
    let moves_beyond = |other: &RestReadings<'_>| {
        other.source != candidate.source && spread(other.pressures) > 2.0 * candidate.step
    };
    let frozen = spread(pressures) == 0.0 && all.iter().any(moves_beyond);
    frozen.then_some(SourceDoubt::Frozen)
}

fn effective_step(candidate: &RestReadings<'_>) -> f64 {
    super::plausibility::smallest_step(candidate.pressures)
        .map_or(candidate.step, |seen| seen.max(candidate.step))
}

fn spread(values: &[f64]) -> f64 {
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if values.is_empty() { 0.0 } else { high - low }
}

fn median(values: &[f64]) -> Option<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied()
}

fn parameter_row(source: TankSource) -> Option<&'static Parameter> {
    parameter_table::parameter(source.parameter()?)
}

#[cfg(test)]
mod tests {
    use super::{
        RestReadings, SourceDoubt, TankChoice, TankSource, choose_tank_source, gauge_pressure,
    };
    use crate::vehicle::SupportedParameters;

    fn readings(source: TankSource, pressures: &[f64]) -> RestReadings<'_> {
        RestReadings { source, pressures, step: source.step().unwrap_or(1.0) }
    }

    fn choose(candidates: &[RestReadings<'_>]) -> TankChoice {
        choose_tank_source(candidates)
    }

    const STILL: [f64; 6] = [0.0, 0.25, -0.25, 0.0, 0.5, 0.25];

    #[test]
    fn the_finest_plausible_source_is_taken() {
        let wide = [0.0, 1.0, -1.0, 0.0, 1.0, 0.0];
        let choice =
            choose(&[readings(TankSource::Wide, &wide), readings(TankSource::Narrow, &STILL)]);
        assert_eq!(choice, TankChoice { source: Some(TankSource::Narrow), doubted: vec![] });
    }

    #[test]
    fn a_fine_parameter_on_a_coarse_sensor_gains_nothing() {
        let coarse = [0.0, 25.0, 0.0, -25.0, 0.0, 25.0];
        let wide = [0.0, 1.0, -1.0, 0.0, 1.0, 0.0];
        let choice =
            choose(&[readings(TankSource::Narrow, &coarse), readings(TankSource::Wide, &wide)]);
        assert_eq!(choice.source, Some(TankSource::Wide));
    }

    /// Zero read through the wrong rule: 00 00 less 32767.
    #[test]
    fn implausible_sources_are_doubted_with_the_reason() {
        let offset = [-32767.0, -32766.0, -32767.0, -32767.0, -32766.0];
        let ends = [8191.75; 6];
        let few = [0.0; 4];
        let choice = choose(&[
            readings(TankSource::Wide, &offset),
            readings(TankSource::Narrow, &ends),
            readings(TankSource::Absolute, &few),
        ]);
        assert_eq!(choice.source, None);
        assert_eq!(
            choice.doubted,
            [
                (TankSource::Wide, SourceDoubt::FarFromAtmospheric { median: -32767.0 }),
                (TankSource::Narrow, SourceDoubt::AtEndOfRange),
                (TankSource::Absolute, SourceDoubt::TooFewReadings),
            ]
        );
    }

    #[test]
    fn a_frozen_source_is_doubted_only_when_another_moves() {
        let frozen = [12.5; 6];
        let moving = [0.0, -20.0, -35.0, -50.0, -60.0, -80.0];
        let both =
            choose(&[readings(TankSource::Narrow, &frozen), readings(TankSource::Wide, &moving)]);
        assert_eq!(both.source, Some(TankSource::Wide));
        assert_eq!(both.doubted, [(TankSource::Narrow, SourceDoubt::Frozen)]);
        let alone = choose(&[readings(TankSource::Narrow, &frozen)]);
        assert_eq!(alone.source, Some(TankSource::Narrow));
        assert_eq!(choose(&[]).source, None);
    }

    #[test]
    fn an_absolute_source_needs_a_barometric_pressure() {
        let offered =
            |ids: &[u8]| TankSource::offered(&ids.iter().copied().collect::<SupportedParameters>());
        assert_eq!(offered(&[0x53]), []);
        assert_eq!(
            offered(&[0x33, 0x53, 0x54, 0x32]),
            [TankSource::Narrow, TankSource::Wide, TankSource::Absolute]
        );
        // SAE J1979, from memory: 5 Pa a count, but parameter 33 rounds to 1 kPa.
        assert!((TankSource::Absolute.step().unwrap() - 5.0).abs() < 1e-12);
        assert_eq!(TankSource::Absolute.level_uncertainty(), Some(500.0));
        assert!((gauge_pressure(99.83, 101.33).0 + 1500.0).abs() < 1e-9);
    }
}
