use serde::{Deserialize, Serialize};

use super::{item, long_answer};
use crate::vehicle::DecodeError;

/// A monitor whose runs the car counts (service 09 item 08, spark ignition).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum InUseMonitor {
    /// Catalyst, bank 1.
    Catalyst1,
    /// Catalyst, bank 2.
    Catalyst2,
    /// Oxygen sensors, bank 1.
    OxygenSensor1,
    /// Oxygen sensors, bank 2.
    OxygenSensor2,
    /// Exhaust gas recirculation.
    ExhaustGasRecirculation,
    /// Secondary air.
    SecondaryAir,
    /// Evaporative emissions.
    Evaporative,
    /// Oxygen sensors behind the catalyst, bank 1.
    SecondaryOxygenSensor1,
    /// Oxygen sensors behind the catalyst, bank 2.
    SecondaryOxygenSensor2,
}

impl InUseMonitor {
    /// The monitors in the order of their pairs of counters.
    const ORDER: [Self; 9] = [
        Self::Catalyst1,
        Self::Catalyst2,
        Self::OxygenSensor1,
        Self::OxygenSensor2,
        Self::ExhaustGasRecirculation,
        Self::SecondaryAir,
        Self::Evaporative,
        Self::SecondaryOxygenSensor1,
        Self::SecondaryOxygenSensor2,
    ];
}

/// How often a monitor ran, against how often driving would have let it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct InUseRatio {
    /// Which monitor.
    pub monitor: InUseMonitor,
    /// Times it ran to completion.
    pub completions: u16,
    /// Times the driving conditions for it were met.
    pub opportunities: u16,
}

impl InUseRatio {
    /// Completions per opportunity; `None` without an opportunity.
    pub fn ratio(&self) -> Option<f64> {
        (self.opportunities > 0)
            .then(|| f64::from(self.completions) / f64::from(self.opportunities))
    }

    /// Least ratio that 13 CCR 1968.2 (d)(3.2.1) asks of an evaporative monitor for a 0.020 in
    /// leak (from memory of the regulation).
    pub const LEAST_FOR_SMALL_LEAK: f64 = 0.260;

    /// Least ratio for purge flow and a 0.040 in leak (from memory of the regulation).
    pub const LEAST_FOR_PURGE_FLOW: f64 = 0.520;
}

/// The in-use counters of a control unit. They stay when codes are cleared; all halve when one
/// reaches 65535.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct InUseCounters {
    /// Times the general driving conditions were met.
    pub driving_cycles: u16,
    /// Engine starts.
    pub ignition_cycles: u16,
    /// The pairs, in the standard's order, as many as the car sends.
    pub ratios: Vec<InUseRatio>,
}

impl InUseCounters {
    /// The counters of the evaporative monitor.
    pub fn evaporative(&self) -> Option<InUseRatio> {
        self.ratios.iter().copied().find(|ratio| ratio.monitor == InUseMonitor::Evaporative)
    }
}

/// The in-use counters in the answers of one control unit to service 09 item 08. The standard
/// lists 16 counters (10h), later 20 (14h), and more on later cars; those beyond are left out.
pub fn decode_in_use_counters(contents: &[&[u8]]) -> Result<InUseCounters, DecodeError> {
    let answer = long_answer::join(item::IN_USE_COUNTERS, contents)?;
    let items = long_answer::items(&answer, 2)?;
    let counters: Vec<u16> = items
        .into_iter()
        .filter_map(|bytes| bytes.try_into().ok())
        .map(u16::from_be_bytes)
        .collect();
    let [driving_cycles, ignition_cycles, pairs @ ..] = counters.as_slice() else {
        return Err(DecodeError::TooShort { service: 0x09, needed: 4, found: answer.bytes.len() });
    };
    if pairs.len() % 2 != 0 {
        return Err(DecodeError::CountMismatch {
            service: 0x09,
            stated: counters.len().saturating_add(1),
            found: counters.len(),
        });
    }
    let ratios = InUseMonitor::ORDER
        .into_iter()
        .zip(pairs.chunks_exact(2))
        .filter_map(|(monitor, pair)| match pair {
            [completions, opportunities] => Some(InUseRatio {
                monitor,
                completions: *completions,
                opportunities: *opportunities,
            }),
            _ => None,
        })
        .collect();
    Ok(InUseCounters { driving_cycles: *driving_cycles, ignition_cycles: *ignition_cycles, ratios })
}
