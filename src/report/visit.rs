use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

use super::comparison::ComparisonRecord;
use super::document::Paper;
use crate::checks::{FitCurve, Rails};
use crate::diagnosis::Verdict;
use crate::evidence::{Check, CheckResult, MeasureName, Observation, Warning};
use crate::recording::Recording;
use crate::units::Estimate;
use crate::vehicle::{Fault, Part};
use crate::wording::{Style, proof_sentence};

/// Everything a report shows, filled by the caller. The report adds nothing to it and computes
/// nothing from it.
#[derive(Clone, Debug, PartialEq)]
pub struct Visit {
    /// Language and units of the document.
    pub style: Style,
    /// The sheet it is printed on.
    pub paper: Paper,
    /// Leaves the customer and all but the last six of the VIN out.
    pub private: bool,
    /// The vehicle.
    pub vehicle: Vehicle,
    /// Number within the vehicle, from 1.
    pub number: u32,
    /// When the visit started, in the person's time zone.
    pub started: DateTime<FixedOffset>,
    /// When the document is written.
    pub written: DateTime<FixedOffset>,
    /// Why the person came, one plain phrase each; own words last.
    pub complaint: Vec<String>,
    /// Adapter in words, where known.
    pub connected_to: Option<String>,
    /// Codes read when the visit started; `None` if they were not read.
    pub codes_before: Option<Vec<CodeRecord>>,
    /// Codes read at the end; `None` if they were not read again.
    pub codes_after: Option<Vec<CodeRecord>>,
    /// When codes were cleared.
    pub cleared: Option<DateTime<FixedOffset>>,
    /// Monitors and whether each is complete.
    pub readiness: Vec<(String, bool)>,
    /// The visit's signals and actions.
    pub recording: Recording,
    /// The checks made, in the order they were made.
    pub checks: Vec<CheckRecord>,
    /// The checks that were not made.
    pub not_made: Vec<NotMade>,
    /// Checks that the person gave up, each with the reason in their words.
    pub given_up: Vec<(Check, String)>,
    /// What the person observed.
    pub observations: Vec<Observation>,
    /// What weakens the numbers.
    pub warnings: Vec<Warning>,
    /// The conclusion, once there is one.
    pub verdict: Option<Verdict>,
    /// The repair, once entered.
    pub repair: Option<RepairRecord>,
    /// The proof, once made.
    pub proof: Option<ProofRecord>,
    /// An earlier visit that found a fault, laid under this one.
    pub comparison: Option<ComparisonRecord>,
    /// How much of what the adapter cost has been saved back; left out where it is a customer's
    /// vehicle.
    pub tool: Option<ToolRecord>,
    /// When a recheck is due.
    pub follow_up: Option<DateTime<FixedOffset>>,
}

/// The vehicle on the document.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Vehicle {
    /// The owner's name for it.
    pub name: String,
    /// VIN, if known.
    pub vin: Option<String>,
    /// Whether this is a virtual car: then every page says so.
    pub is_virtual: bool,
    /// Odometer, km.
    pub odometer_km: Option<u32>,
    /// Whose it is.
    pub customer: Option<String>,
}

/// A trouble code.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct CodeRecord {
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

/// A check with the bands it was judged against and what it fitted.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckRecord {
    /// What it found.
    pub result: CheckResult,
    /// The bands, in order of time; empty where none was computed.
    pub rails: Vec<Rails>,
    /// What the fits behind its numbers make of the readings; empty where none was made.
    pub fits: Vec<FitCurve>,
}

/// A check that was not made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NotMade {
    /// Which.
    pub check: Check,
    /// Why.
    pub why: WhyNotMade,
}

/// Why a check was not made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WhyNotMade {
    /// The person left it out.
    Skipped,
    /// The car does not offer what it needs.
    NotOffered,
    /// The verdict did not need it.
    NotNeeded,
}

/// A price that was asked. Amounts are exact decimals as text.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PriceAsked {
    /// Who sells it.
    pub seller: String,
    /// Note such as `two days`.
    pub note: String,
    /// The price.
    pub amount: String,
    /// Whether this one was bought.
    pub chosen: bool,
}

/// One line of the bill.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct CostLine {
    /// What was paid for.
    pub text: String,
    /// Exact decimal as text.
    pub amount: String,
}

/// The repair and what it cost.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RepairRecord {
    /// What was replaced or done.
    pub part: String,
    /// The fault it answers.
    pub fault: Option<Fault>,
    /// Prices asked.
    pub prices: Vec<PriceAsked>,
    /// ISO 4217 code of every amount.
    pub currency: String,
    /// The bill.
    pub lines: Vec<CostLine>,
    /// Sum of the bill.
    pub total: String,
    /// What a shop's diagnosis would have cost.
    pub shop_diagnosis: Option<String>,
    /// What was saved against a shop's diagnosis.
    pub saved: Option<String>,
    /// What guessing would have cost.
    pub guess: Option<GuessRecord>,
    /// Notes.
    pub notes: String,
}

/// What guessing would have cost. Amounts are exact decimals as text, in the repair's currency.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct GuessRecord {
    /// The parts in the order of buying.
    pub parts: Vec<GuessPartRecord>,
    /// The average over the verdict's odds; `None` while a price is missing.
    pub average: Option<String>,
    /// That average less the parts that were bought.
    pub saved: Option<String>,
}

/// A part that a person who guesses buys.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct GuessPartRecord {
    /// Which.
    pub part: Part,
    /// How probable the verdict makes it that this part ends the fault, in thousandths.
    pub per_mille: u32,
    /// What it costs, where somebody said.
    pub price: Option<String>,
}

/// How much of what the adapter cost has been saved back. Amounts are exact decimals as text.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct ToolRecord {
    /// What it cost.
    pub cost: String,
    /// ISO 4217 code.
    pub currency: String,
    /// What diagnoses saved so far.
    pub saved: String,
    /// What is still to be saved.
    pub left: Option<String>,
}

/// Before and after the repair.
#[derive(Clone, Debug, PartialEq)]
pub struct ProofRecord {
    /// How the proof ended.
    pub result: CheckResult,
    /// When the earlier recording was made.
    pub before_at: Option<DateTime<FixedOffset>>,
    /// When the later one was made.
    pub after_at: Option<DateTime<FixedOffset>>,
    /// The check whose deed each trace is laid at, before and after.
    pub deeds: (Check, Check),
    /// Before: seconds after the deed, tank pressure, Pa.
    pub before: Vec<(f64, f64)>,
    /// After, alike.
    pub after: Vec<(f64, f64)>,
    /// Limit within which the tank counts as still, Pa.
    pub limit_pa: f64,
    /// Vacuum with the purge shut before and after, Pa, where both were measured.
    pub shut_vacuum: Option<(Estimate, Estimate)>,
    /// The numbers of the proof, the one that tells of the repaired part first.
    pub numbers: Vec<ProofNumber>,
}

/// A number of the proof, in the measure's unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ProofNumber {
    /// Which.
    pub name: MeasureName,
    /// Before the repair, where an earlier check measured it.
    pub before: Option<Estimate>,
    /// After it.
    pub after: Estimate,
}

impl Visit {
    /// What the proof of a repair says, about the part that the verdict named.
    pub(super) fn proof_sentence(&self, proof: &ProofRecord) -> String {
        let fault = self.verdict.as_ref().and_then(|it| it.fault);
        proof_sentence(&proof.result, fault, &self.style)
    }

    /// The VIN as the document shows it.
    pub(super) fn shown_vin(&self) -> Option<String> {
        let vin = self.vehicle.vin.as_deref().filter(|vin| !vin.trim().is_empty())?;
        Some(if self.private { masked(vin) } else { vin.to_owned() })
    }

    /// The customer as the document shows it.
    pub(super) fn shown_customer(&self) -> Option<&str> {
        self.vehicle.customer.as_deref().filter(|name| !self.private && !name.trim().is_empty())
    }

    /// Free text without what privacy leaves out.
    pub(super) fn shown_text(&self, text: &str) -> String {
        if !self.private {
            return text.to_owned();
        }
        let mut shown = text.to_owned();
        if let Some(vin) = self.vehicle.vin.as_deref().filter(|vin| vin.len() > 6) {
            shown = shown.replace(vin, &masked(vin));
        }
        if let Some(customer) = self.vehicle.customer.as_deref().filter(|c| c.trim().len() > 2) {
            shown = shown.replace(customer.trim(), "…");
        }
        shown
    }
}

/// All but the last six characters left out.
pub(super) fn masked(vin: &str) -> String {
    let letters: Vec<char> = vin.chars().collect();
    let last: String = letters.iter().skip(letters.len().saturating_sub(6)).collect();
    format!("…{last}")
}
