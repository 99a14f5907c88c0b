mod older;
mod scaling;

#[cfg(test)]
mod tests;

use serde::{Deserialize, Serialize};

pub use older::{OlderMonitorResult, decode_older_monitor_result};
pub use scaling::{SCALINGS, UnitAndScaling};

use super::DecodeError;

/// What a monitor result is about. Numbers are those of SAE J1979 appendix D, from memory.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum MonitorName {
    /// 39: leak of the vapour system, cap off or 0.150 in.
    VaporLeakCapOff,
    /// 3A: leak of 0.090 in.
    VaporLeak090,
    /// 3B: leak of 0.040 in.
    VaporLeak040,
    /// 3C: leak of 0.020 in.
    VaporLeak020,
    /// 3D: purge flow.
    PurgeFlow,
    /// Any other.
    Other(u8),
}

impl MonitorName {
    /// The monitors of the vapour system, by number.
    pub const VAPOR_SYSTEM: [u8; 5] = [0x39, 0x3A, 0x3B, 0x3C, 0x3D];

    /// The monitor with this number.
    pub const fn from_id(id: u8) -> Self {
        match id {
            0x39 => Self::VaporLeakCapOff,
            0x3A => Self::VaporLeak090,
            0x3B => Self::VaporLeak040,
            0x3C => Self::VaporLeak020,
            0x3D => Self::PurgeFlow,
            other => Self::Other(other),
        }
    }

    /// The monitor's number.
    pub const fn id(self) -> u8 {
        match self {
            Self::VaporLeakCapOff => 0x39,
            Self::VaporLeak090 => 0x3A,
            Self::VaporLeak040 => 0x3B,
            Self::VaporLeak020 => 0x3C,
            Self::PurgeFlow => 0x3D,
            Self::Other(id) => id,
        }
    }

    /// Diameter of the hole that the monitor looks for, in inches as the rule states it.
    pub const fn hole_inches(self) -> Option<f64> {
        match self {
            Self::VaporLeakCapOff => Some(0.150),
            Self::VaporLeak090 => Some(0.090),
            Self::VaporLeak040 => Some(0.040),
            Self::VaporLeak020 => Some(0.020),
            Self::PurgeFlow | Self::Other(_) => None,
        }
    }
}

/// How a monitor's test ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum MonitorOutcome {
    /// Value and limits are all zero: the test has not run since codes were cleared.
    NotRun,
    /// The value lies between the limits, ends included.
    Passed,
    /// It does not.
    Failed,
}

/// One result of a monitor with its limits, as the car computed it (service 06).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MonitorResult {
    /// The monitor.
    pub monitor: MonitorName,
    /// The maker's number of the test within it.
    pub test: u8,
    /// Number of the unit and scaling.
    pub scaling: u8,
    /// Value in [`Self::unit`].
    pub value: f64,
    /// Lower limit in the same unit.
    pub low: f64,
    /// Upper limit in the same unit.
    pub high: f64,
    /// Symbol of the unit; `None` if the car uses a scaling that the table does not know, and then
    /// the numbers are raw counts that can only be compared with each other.
    pub unit: Option<&'static str>,
    /// How the test ended.
    pub outcome: MonitorOutcome,
}

/// Bytes of one result: monitor, test, scaling, value, lower and upper limit.
const RECORD: usize = 9;

/// The results in an answer to service 06 on CAN: what follows the byte 46. Each record repeats
/// the monitor's number.
pub fn decode_monitor_results(content: &[u8]) -> Result<Vec<MonitorResult>, DecodeError> {
    let records = content.chunks_exact(RECORD);
    let torn = records.remainder().len();
    if content.is_empty() || torn != 0 {
        let whole = content.len().saturating_sub(torn);
        return Err(DecodeError::TooShort {
            service: 0x06,
            needed: whole.saturating_add(RECORD),
            found: content.len(),
        });
    }
    let mut results: Vec<MonitorResult> = Vec::new();
    for record in records {
        let result = decode_record(record)?;
        if let Some(first) = results.first()
            && first.monitor != result.monitor
        {
            return Err(DecodeError::WrongEcho {
                expected: first.monitor.id(),
                found: result.monitor.id(),
            });
        }
        if results.iter().any(|known| known.test == result.test) {
            return Err(DecodeError::Repeated { parameter: result.test });
        }
        results.push(result);
    }
    Ok(results)
}

fn decode_record(record: &[u8]) -> Result<MonitorResult, DecodeError> {
    let [monitor, test, id, v1, v2, l1, l2, h1, h2] = record else {
        return Err(DecodeError::TooShort { service: 0x06, needed: RECORD, found: record.len() });
    };
    let scaling = UnitAndScaling::find(*id);
    let raw = [[*v1, *v2], [*l1, *l2], [*h1, *h2]];
    let number = |bytes: [u8; 2]| match scaling {
        Some(row) => row.value(bytes),
        None => scaling::count(*id, bytes),
    };
    let [value, low, high] = raw.map(number);
    if low > high {
        return Err(DecodeError::LimitsReversed { monitor: *monitor });
    }
    let outcome = if raw == [[0, 0]; 3] {
        MonitorOutcome::NotRun
    } else if (low..=high).contains(&value) {
        MonitorOutcome::Passed
    } else {
        MonitorOutcome::Failed
    };
    Ok(MonitorResult {
        monitor: MonitorName::from_id(*monitor),
        test: *test,
        scaling: *id,
        value,
        low,
        high,
        unit: scaling.map(|row| row.unit),
        outcome,
    })
}
