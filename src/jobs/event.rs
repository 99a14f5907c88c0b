use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Duration;

use chrono::{DateTime, Utc};

use super::backups::BackupLine;
use super::car_report::CarReport;
use super::command::{Complaint, LinkAddress, RepairDraft, VehicleFacts};
use super::history_command::{CustomerLine, HistoryEvent, VehicleDetails};
use super::photos::PhotoLine;
use super::proof::ProofReport;
use super::try_signal::Tried;
use crate::checks::{FitCurve, Progress};
use crate::diagnosis::{Hypothesis, Verdict, VerdictOutcome};
use crate::evidence::{Check, CheckResult, Observation, Outcome};
use crate::link::transport::{StreamOffer, StreamPair};
use crate::recording::ActionAt;
use crate::units::{Estimate, Instant};
use crate::vehicle::{CustomSignal, Fault, Part, Signal};

/// A vehicle in the list.
#[derive(Clone, Debug, PartialEq)]
pub struct VehicleRow {
    /// Its id in the store.
    pub id: i64,
    /// The owner's name for it.
    pub name: String,
    /// VIN, if known.
    pub vin: Option<String>,
    /// Whether this is a virtual car.
    pub is_virtual: bool,
    /// Number of visits.
    pub visits: u32,
    /// Start of the newest visit.
    pub last_visit: Option<DateTime<Utc>>,
    /// The newest verdict.
    pub last_verdict: Option<(VerdictOutcome, Option<Fault>, f64)>,
    /// The newest measured vacuum with the purge shut, Pa.
    pub last_shut_vacuum: Option<Estimate>,
    /// Half the detection band it was judged against, Pa.
    pub band: Option<f64>,
    /// When a follow-up is due.
    pub follow_up: Option<DateTime<Utc>>,
}

/// A visit on a vehicle's page.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitRow {
    /// Its id in the store.
    pub id: i64,
    /// Number within the vehicle, from 1.
    pub number: u32,
    /// When it started.
    pub started: DateTime<Utc>,
    /// What the person said.
    pub complaint: String,
    /// Trouble codes read.
    pub codes: Vec<String>,
    /// Its verdict.
    pub verdict: Option<(VerdictOutcome, Option<Fault>, f64)>,
    /// What was repaired.
    pub repair: Option<RepairReport>,
    /// What guessing would have cost.
    pub guess: Option<GuessReport>,
    /// Vacuum with the purge shut, Pa.
    pub shut_vacuum: Option<Estimate>,
    /// Recovery time, s.
    pub recovery_time: Option<Estimate>,
    /// Half the detection band, Pa.
    pub band: Option<f64>,
    /// What a fill-up did to the short-term trim, per cent.
    pub trim: Option<Estimate>,
}

/// A fill-up on a vehicle's page.
#[derive(Clone, Debug, PartialEq)]
pub struct FillUpRow {
    /// Its id in the store.
    pub id: i64,
    /// When.
    pub filled: DateTime<Utc>,
    /// How much, L, an exact decimal as text.
    pub litre: Option<String>,
    /// What was paid, an exact decimal as text, and its ISO 4217 code.
    pub cost: Option<(String, String)>,
    /// Odometer, km.
    pub odometer_km: Option<u32>,
    /// What was noticed.
    pub note: String,
    /// What it did to the short-term trim, per cent, if a visit looked.
    pub trim: Option<Estimate>,
}

/// A vehicle's page.
#[derive(Clone, Debug, PartialEq)]
pub struct VehiclePage {
    /// The vehicle.
    pub vehicle: VehicleRow,
    /// What it is.
    pub details: VehicleDetails,
    /// Whose it is, if anybody's.
    pub customer: Option<CustomerLine>,
    /// Odometer at the last visit, km.
    pub odometer_km: Option<u32>,
    /// Visits, newest first.
    pub visits: Vec<VisitRow>,
    /// Fill-ups, newest first.
    pub fill_ups: Vec<FillUpRow>,
    /// A fill-up may move the short-term trim by this much either way, per cent.
    pub trim_limit: f64,
}

/// An adapter in reach.
#[derive(Clone, Debug, PartialEq)]
pub struct AdapterSeen {
    /// How to connect to it.
    pub address: LinkAddress,
    /// Its name.
    pub name: String,
    /// Whether that is a name that it says or was given, and not its address.
    pub has_name: bool,
    /// Signal strength in dBm, for wireless ones.
    pub strength_dbm: Option<i16>,
    /// Whether it was used before.
    pub known: bool,
    /// The characteristics that the person chose for its stream.
    pub stream: Option<StreamPair>,
}

impl AdapterSeen {
    /// A wireless adapter that nobody used before; without a name it goes by its address.
    pub fn wireless(address: &str, name: Option<&str>, strength_dbm: Option<i16>) -> Self {
        Self {
            address: LinkAddress::Bluetooth(address.to_owned()),
            name: name.unwrap_or(address).to_owned(),
            has_name: name.is_some(),
            strength_dbm,
            known: false,
            stream: None,
        }
    }
}

/// What happens while connecting.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetupStep {
    /// Opening the transport.
    Opening,
    /// Waking the adapter.
    WakingAdapter,
    /// The adapter looks for the car's protocol; the first time can take half a minute.
    FindingProtocol,
    /// Asking what the car offers.
    AskingSignals,
}

/// How the link is.
#[derive(Clone, Debug, PartialEq)]
pub enum LinkState {
    /// Not connected.
    Idle,
    /// Connecting: the steps done and the one that runs.
    Connecting(SetupStep),
    /// Connected.
    Linked {
        /// Readings a second over all signals, once measured.
        readings_per_second: Option<f64>,
    },
    /// Lost; trying again.
    Lost {
        /// Since when on the visit's clock.
        since: Instant,
    },
    /// Could not connect; the sentence says what to do.
    Failed(String),
}

/// Where a check stands in the visit.
#[derive(Clone, Debug, PartialEq)]
pub enum CheckState {
    /// To do next.
    Next,
    /// To do later.
    Later,
    /// Runs now.
    Running,
    /// Left out by the person.
    Skipped,
    /// The car does not offer what it needs.
    Impossible,
    /// Done.
    Done(Outcome),
}

/// A check on the job card.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckLine {
    /// Which.
    pub check: Check,
    /// Where it stands.
    pub state: CheckState,
    /// One plain sentence: the result's reason, or why it is worth making.
    pub reason: String,
    /// Minutes it takes.
    pub minutes: f64,
    /// Why the person gave it up last, if they did and it was not made since.
    pub given_up: Option<String>,
}

/// A repair with its totals, exact decimals as text.
#[derive(Clone, Debug, PartialEq)]
pub struct RepairReport {
    /// What was entered.
    pub draft: RepairDraft,
    /// What it cost.
    pub total: String,
    /// What a shop's diagnosis would have cost beyond what was spent.
    pub saved: Option<String>,
}

/// A part that a person who guesses buys, in the order of buying.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GuessPart {
    /// Which.
    pub part: Part,
    /// How probable the verdict makes it that this part ends the fault, in thousandths.
    pub per_mille: u32,
    /// What it costs, exact; `None` where nobody said.
    pub price: Option<String>,
}

/// What guessing would have cost: parts bought one after the other, likeliest first by the codes,
/// until the fault is gone.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct GuessReport {
    /// The parts in the order of buying.
    pub parts: Vec<GuessPart>,
    /// The average over the verdict's odds, exact; `None` while a price is missing.
    pub average: Option<String>,
    /// That average less the parts that were bought.
    pub saved: Option<String>,
}

/// How much of what the adapter cost has been saved back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ToolReport {
    /// What the adapter cost, exact.
    pub cost: String,
    /// ISO 4217 code.
    pub currency: String,
    /// What the repairs so far saved against a shop's diagnosis, exact.
    pub saved: String,
    /// What is still to be saved; nothing once all is.
    pub left: Option<String>,
    /// How many repairs that counts.
    pub repairs: u32,
}

/// The job card.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitCard {
    /// Visit id.
    pub id: i64,
    /// Its vehicle.
    pub vehicle: VehicleRow,
    /// What the vehicle is.
    pub facts: VehicleFacts,
    /// Number within the vehicle.
    pub number: u32,
    /// When it started.
    pub started: DateTime<Utc>,
    /// Odometer, km.
    pub odometer_km: Option<u32>,
    /// Complaint kinds.
    pub complaints: Vec<Complaint>,
    /// Complaint in own words.
    pub complaint_words: String,
    /// Adapter in words, once connected.
    pub connected_to: Option<String>,
    /// What the car says, once read.
    pub car: Option<CarReport>,
    /// Checks in the order to make them.
    pub checks: Vec<CheckLine>,
    /// Results of the checks made.
    pub results: Vec<CheckResult>,
    /// What the person observed.
    pub observations: Vec<Observation>,
    /// The verdict so far.
    pub verdict: Option<Verdict>,
    /// The verdict in one plain sentence.
    pub verdict_sentence: String,
    /// Repair, once entered.
    pub repair: Option<RepairReport>,
    /// What guessing would have cost, where the verdict points to a fault.
    pub guess: Option<GuessReport>,
    /// How much of the adapter's price has been saved back, where that price is known.
    pub tool: Option<ToolReport>,
    /// Pictures, oldest first.
    pub photos: Vec<PhotoLine>,
    /// Proof, once made.
    pub proof: Option<ProofReport>,
    /// When the car closed its vent at the person's request, while that is not over.
    pub vent_closed: Option<DateTime<Utc>>,
    /// When codes were cleared.
    pub cleared: Option<DateTime<Utc>>,
    /// When the follow-up is due.
    pub follow_up: Option<DateTime<Utc>>,
}

/// Requests of the person's own.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OwnSignals {
    /// Those that hold for every vehicle.
    pub shared: Vec<CustomSignal>,
    /// The open visit's vehicle and those that hold for it alone; `None` without a visit.
    pub of_vehicle: Option<(String, Vec<CustomSignal>)>,
}

/// Samples that arrived together.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SampleBatch {
    /// Signal, time on the visit's clock, value.
    pub samples: Vec<(Signal, Instant, f64)>,
    /// Actions recorded meanwhile.
    pub actions: Vec<ActionAt>,
    /// The visit's clock now.
    pub now: Instant,
}

/// Everything that the worker reports.
#[derive(Clone, Debug, PartialEq)]
pub enum Event {
    /// The vehicle list.
    Vehicles(Vec<VehicleRow>),
    /// A vehicle's page.
    Vehicle(Box<VehiclePage>),
    /// The job card, whole, whenever something on it changed.
    Visit(Box<VisitCard>),
    /// The visit's whole recording so far, when a visit is opened.
    Recording(Box<crate::recording::Recording>),
    /// Adapters in reach, whole list, strongest first.
    Adapters(Vec<AdapterSeen>),
    /// Whether adapters are being looked for.
    Looking(bool),
    /// What a wireless adapter offers.
    Streams {
        /// Which adapter.
        address: LinkAddress,
        /// Its pairs of characteristics; empty if none carries a stream.
        offers: Vec<StreamOffer>,
    },
    /// The link's state.
    Link(LinkState),
    /// Fresh samples.
    Samples(SampleBatch),
    /// The running check.
    Check(Box<Progress>),
    /// Whether the running check is held.
    Paused(bool),
    /// The running check ended.
    CheckEnded(Box<CheckResult>),
    /// What the check that is about to end fitted to the readings.
    Fitted(Vec<FitCurve>),
    /// Probability of the leading hypothesis, and how it moves while a check runs.
    Leading(Hypothesis, f64),
    /// The person's own requests.
    OwnSignals(OwnSignals),
    /// What became of trying one.
    OwnSignalTried(Box<Tried>),
    /// Something to do that is due now, in a sentence.
    Reminder(String),
    /// Settings kept from before, by name.
    Settings(BTreeMap<String, String>),
    /// What the histories report.
    Histories(HistoryEvent),
    /// The copies of the database, newest first.
    Backups(Vec<BackupLine>),
    /// A copy was put in the database's place: nothing of what was shown holds any more.
    Restored,
    /// A document was written.
    ReportWritten(PathBuf),
    /// A long job's progress, 0 to 1, with the time left.
    Working(f64, Option<Duration>),
    /// Something failed; the sentence says what to do. Nothing was lost.
    Failed(String),
}
