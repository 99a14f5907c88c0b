//! Many vehicles over a period, on one document.

mod compose;
mod rows;

pub use compose::compose_fleet;
pub use rows::fleet_csv;

use chrono::{DateTime, FixedOffset};

use super::document::Paper;
use crate::diagnosis::VerdictOutcome;
use crate::evidence::Outcome;
use crate::units::Estimate;
use crate::vehicle::Fault;
use crate::wording::Style;

/// Everything the fleet page shows, filled by the caller.
#[derive(Clone, Debug, PartialEq)]
pub struct Fleet {
    /// Language and units of the document.
    pub style: Style,
    /// The sheet it is printed on.
    pub paper: Paper,
    /// Leaves customers and all but the last six of each VIN out.
    pub private: bool,
    /// Whose fleet, or empty.
    pub name: String,
    /// First day of the period.
    pub from: DateTime<FixedOffset>,
    /// Last day of the period.
    pub to: DateTime<FixedOffset>,
    /// When the document is written.
    pub written: DateTime<FixedOffset>,
    /// The vehicles in the order to show them.
    pub vehicles: Vec<FleetVehicle>,
    /// What repairs cost in the period: ISO 4217 code and exact decimal as text, one a currency.
    pub costs: Vec<(String, String)>,
}

/// A vehicle of the fleet with what the period brought.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FleetVehicle {
    /// The owner's name for it.
    pub name: String,
    /// VIN, if known.
    pub vin: Option<String>,
    /// Whose it is.
    pub customer: Option<String>,
    /// Whether this is a virtual car.
    pub is_virtual: bool,
    /// Visits in the period.
    pub visits: u32,
    /// Start of the newest one.
    pub last_visit: Option<DateTime<FixedOffset>>,
    /// Its verdict with its probability.
    pub verdict: Option<(VerdictOutcome, Option<Fault>, f64)>,
    /// Trouble codes at that visit.
    pub codes: Vec<String>,
    /// How the proof of that visit's repair ended, if one was made: the vacuum is from after it.
    pub proof: Option<Outcome>,
    /// The newest measured vacuum with the purge shut, Pa.
    pub shut_vacuum: Option<Estimate>,
    /// Half the band it was judged against, Pa.
    pub band: Option<f64>,
    /// What was repaired in the period.
    pub repairs: Vec<String>,
    /// What that cost: ISO 4217 code and exact decimal as text, one a currency.
    pub costs: Vec<(String, String)>,
    /// When a recheck is due.
    pub follow_up: Option<DateTime<FixedOffset>>,
}
