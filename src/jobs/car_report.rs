use serde::{Deserialize, Serialize};

use crate::evidence::Check;
use crate::vehicle::{ConditionState, Outlook, Signal, TankSource};

/// A trouble code on the card.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct CodeLine {
    /// As written, such as `P0496`.
    pub code: String,
    /// In plain words.
    pub meaning: String,
    /// Currently stored.
    pub stored: bool,
    /// Seen once, waiting for the second trip.
    pub pending: bool,
    /// Cleared only by the car itself.
    pub permanent: bool,
}

/// One monitor's readiness.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadinessLine {
    /// The monitor in plain words.
    pub name: String,
    /// Whether it has run to completion since codes were cleared.
    pub complete: bool,
}

/// One monitor result between its limits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MonitorLine {
    /// The monitor in plain words.
    pub name: String,
    /// Value in `unit`.
    pub value: f64,
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
    /// Unit symbol.
    pub unit: String,
    /// Whether the value lies between the limits.
    pub passed: bool,
}

/// A control unit and the software in it.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnitLine {
    /// Address of its answers, hexadecimal; 0 where the adapter does not tell units apart.
    pub address: String,
    /// Its name, if it gives one.
    pub name: Option<String>,
    /// Names of its software.
    pub calibrations: Vec<String>,
    /// Checksums over that software, in the same order.
    pub verification_numbers: Vec<String>,
}

impl UnitLine {
    /// Whether the unit says nothing of itself.
    pub(super) fn is_empty(&self) -> bool {
        self.name.is_none() && self.calibrations.is_empty() && self.verification_numbers.is_empty()
    }
}

/// How often the car's own vapour monitor ran.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct InUseLine {
    /// Times it ran to completion.
    pub completions: u16,
    /// Times the driving would have let it.
    pub opportunities: u16,
    /// Times the general driving conditions were met.
    pub driving_cycles: u16,
    /// Engine starts.
    pub ignition_cycles: u16,
}

/// A usual condition of the car's own leak test.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ConditionLine {
    /// In plain words.
    pub name: String,
    /// What the car says, with its unit.
    pub value: Option<String>,
    /// Between what it must lie.
    pub window: String,
    /// Codes that keep the test from running.
    pub codes: Vec<String>,
    /// Whether it holds.
    pub state: ConditionState,
}

/// Whether the car will run its own leak test. The conditions are common practice; makers may be
/// narrower.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct LeakTestLine {
    /// In one word.
    pub outlook: Outlook,
    /// In one sentence.
    pub sentence: String,
    /// Each condition.
    pub conditions: Vec<ConditionLine>,
}

/// A source of tank pressure that the car offers.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TankOption {
    /// Which.
    pub source: TankSource,
    /// In plain words.
    pub name: String,
    /// Why it cannot be right, where it cannot.
    pub doubt: Option<String>,
}

/// Where tank pressure comes from.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TankSourceLine {
    /// The source in use.
    pub chosen: TankOption,
    /// Why this one, in plain words.
    pub why: String,
    /// Whether a person took it.
    #[serde(default)]
    pub by_hand: bool,
    /// What else the car offers.
    pub others: Vec<TankOption>,
}

/// What the car says.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct CarReport {
    /// VIN, if the car gives one.
    pub vin: Option<String>,
    /// What the VIN tells by itself.
    pub vin_note: Option<String>,
    /// The control units and the software in them.
    pub units: Vec<UnitLine>,
    /// Trouble codes.
    pub codes: Vec<CodeLine>,
    /// Trouble codes of the visit's first reading, once they have been read again.
    pub codes_at_first: Option<Vec<CodeLine>>,
    /// Freeze frame as name and value with unit.
    pub freeze_frame: Vec<(String, String)>,
    /// Code that stored the freeze frame.
    pub freeze_frame_code: Option<String>,
    /// Readiness since codes were cleared.
    pub readiness: Vec<ReadinessLine>,
    /// Readiness of this driving cycle; empty if the car does not tell.
    pub this_cycle: Vec<ReadinessLine>,
    /// How often the vapour monitor ran, if the car counts.
    pub in_use: Option<InUseLine>,
    /// Whether the car's own leak test will run.
    pub leak_test: Option<LeakTestLine>,
    /// Results of the car's own monitors, the vapour system's first.
    pub monitors: Vec<MonitorLine>,
    /// Where tank pressure comes from, by the standard.
    pub tank_source: Option<TankSourceLine>,
    /// Signals the car offers.
    pub signals: Vec<Signal>,
    /// Checks that the offered signals do not allow.
    pub impossible: Vec<Check>,
    /// Readings a second reached over the check signals.
    pub readings_per_second: Option<f64>,
    /// What that rate does not allow, in plain words; empty when it allows everything.
    pub rate_limits: Vec<String>,
    /// Signals whose readings cannot be what they claim, each in a plain sentence.
    pub doubts: Vec<String>,
}
