use std::collections::BTreeMap;
use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::history_command::HistoryCommand;
use crate::evidence::{Check, Observation};
use crate::link::transport::StreamPair;
use crate::recording::Action;
use crate::report::Paper;
use crate::vehicle::{CustomSignal, Fault, Part, TankSource};
use crate::wording::Style;

/// Where an adapter is.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum LinkAddress {
    /// Bluetooth LE, by name or address.
    Bluetooth(String),
    /// Bluetooth LE over a pair of characteristics that the person chose.
    BluetoothStream {
        /// Name or address.
        name: String,
        /// The characteristics.
        stream: StreamPair,
    },
    /// Classic Bluetooth, by the address of a paired device.
    Classic(String),
    /// A wired adapter or an RFCOMM device; `None` tries the usual rates.
    Serial {
        /// Device path or port name.
        device: String,
        /// Bits per second.
        baud: Option<u32>,
    },
    /// A network adapter.
    Tcp {
        /// Host name or address.
        host: String,
        /// Port.
        port: u16,
    },
    /// A recording played back.
    Replay(PathBuf),
    /// The virtual car, with a fault and a seed.
    Virtual {
        /// `None` is a sound car.
        fault: Option<Fault>,
        /// Draws the car.
        seed: u64,
        /// Whether it runs at the pace of the real clock; else as fast as the processor allows.
        real_time: bool,
    },
}

/// Why the person came.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Complaint {
    /// The warning light is on.
    LightOn,
    /// Rough after a fill-up.
    RoughAfterFillUp,
    /// An inspection is due or was failed.
    Inspection,
    /// A look at an earlier repair.
    Recheck,
}

impl Complaint {
    /// Every kind.
    pub const ALL: [Self; 4] =
        [Self::LightOn, Self::RoughAfterFillUp, Self::Inspection, Self::Recheck];

    /// The kind's stable name.
    pub const fn name(self) -> &'static str {
        match self {
            Self::LightOn => "light_on",
            Self::RoughAfterFillUp => "rough_after_fill_up",
            Self::Inspection => "inspection",
            Self::Recheck => "recheck",
        }
    }

    /// The kind with this stable name.
    pub fn from_name(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.name() == name)
    }
}

/// What to read from the car.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ReadScope {
    /// Identity, codes, readiness, freeze frame, monitors, supported signals.
    Everything,
    /// Codes only.
    Codes,
}

/// A price asked from a seller. Amounts are exact decimals as text, such as `38.50`.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Quote {
    /// Who sells it.
    pub seller: String,
    /// Note such as `in stock, two days`.
    pub note: String,
    /// The price.
    pub amount: String,
    /// Whether this one was bought.
    pub chosen: bool,
}

/// What the person enters about a repair.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct RepairDraft {
    /// What was replaced or done.
    pub part: String,
    /// Prices asked.
    pub quotes: Vec<Quote>,
    /// ISO 4217 code.
    pub currency: String,
    /// Labour cost.
    pub labour: String,
    /// Cost of the time spent on the diagnosis.
    pub diagnosis: String,
    /// What a shop's diagnosis would have cost.
    pub shop_diagnosis: String,
    /// Taxes and fees that no other amount holds.
    pub tax: String,
    /// What the parts cost that a person who guesses would have bought.
    pub part_prices: BTreeMap<Part, String>,
    /// Notes.
    pub notes: String,
}

/// What a vehicle is, in the person's words.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct VehicleFacts {
    /// Who made it; what a maker's own codes mean is remembered by it.
    pub make: String,
    /// What it burns.
    pub fuel: String,
    /// What its tank holds in litres, an exact decimal as text; empty if not known.
    pub tank_litre: String,
}

/// What the person notes of a fill-up; what nobody knows is empty.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct FillUpDraft {
    /// How much, L, a decimal as text.
    pub litre: String,
    /// What was paid, an exact decimal as text.
    pub cost: String,
    /// ISO 4217 code of the cost.
    pub currency: String,
    /// Odometer, km, as text.
    pub odometer_km: String,
    /// What was noticed.
    pub note: String,
}

/// For whom a request of the person's own holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SignalScope {
    /// Every vehicle.
    AllVehicles,
    /// The open visit's vehicle alone; what is kept here goes before what all share.
    ThisVehicle,
}

/// A document format.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum ReportFormat {
    /// One self-contained page.
    Html,
    /// A PDF file.
    Pdf,
    /// Numbers as rows.
    Csv,
    /// Numbers as a document.
    Json,
}

/// Everything that the app or the command line can ask for.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// Lists the vehicles; an empty search lists all.
    ListVehicles {
        /// Words to look for in names, VINs, codes and notes.
        search: String,
    },
    /// Opens a vehicle's page.
    OpenVehicle(i64),
    /// Adds a vehicle.
    AddVehicle {
        /// The owner's name for it.
        name: String,
        /// VIN, or empty.
        vin: String,
        /// Notes.
        notes: String,
    },
    /// Notes that a vehicle's tank was filled.
    AddFillUp {
        /// Which vehicle.
        vehicle: i64,
        /// What was noted.
        fill_up: FillUpDraft,
    },
    /// Starts a visit with a vehicle.
    StartVisit {
        /// Which vehicle.
        vehicle: i64,
    },
    /// Starts a visit with the virtual car, which gets a vehicle of its own, and connects to it.
    StartDemo {
        /// Its fault; `None` is a sound car, or, without a seed, one that is drawn with or without a
        /// fault.
        fault: Option<Fault>,
        /// Draws the car; `None` lets the program choose.
        seed: Option<u64>,
    },
    /// Opens an earlier visit, or one that was cut off, to go on with it.
    OpenVisit(i64),
    /// Says why the person came.
    SetComplaint {
        /// What kinds apply.
        kinds: Vec<Complaint>,
        /// Own words.
        words: String,
    },
    /// Says what the odometer shows.
    SetOdometer {
        /// Kilometres.
        kilometres: u32,
    },
    /// Looks for adapters; results come as they are found, and as their strengths change.
    ScanAdapters,
    /// Ends the search.
    StopScan,
    /// Remembers an adapter without connecting to it.
    RememberAdapter {
        /// Where it is.
        address: LinkAddress,
        /// Its name.
        name: String,
    },
    /// Forgets an adapter and what was chosen for it.
    ForgetAdapter(LinkAddress),
    /// Asks a wireless adapter which pairs of characteristics it offers.
    ListStreams(LinkAddress),
    /// Takes this pair for an adapter's stream from now on.
    ChooseStream {
        /// Which adapter.
        address: LinkAddress,
        /// The pair; `None` lets the program choose again.
        stream: Option<StreamPair>,
    },
    /// Connects to an adapter.
    Connect(LinkAddress),
    /// Ends the connection.
    Disconnect,
    /// Reads from the car.
    ReadCar(ReadScope),
    /// Starts a check, or makes it again.
    StartCheck(Check),
    /// Gives the running check up: it ends as it stands, and the reason is kept with the visit.
    StopCheck {
        /// Why, in the person's words; may be empty.
        reason: String,
    },
    /// Begins the running check's steps anew. What was recorded stays.
    RepeatCheck,
    /// Opens the visit whose check was cut off when the program ended, if there is one.
    TakeUp,
    /// Holds the running check, or lets it go on.
    PauseCheck(bool),
    /// Leaves a check out of this visit.
    SkipCheck(Check),
    /// Records what the person just did.
    Mark(Action),
    /// Adds or takes away an observation.
    Observe {
        /// Which.
        observation: Observation,
        /// Whether it holds.
        holds: bool,
    },
    /// Records a repair.
    SaveRepair(RepairDraft),
    /// Erases the car's codes. Sent only after the person agreed to this one request.
    ClearCodes {
        /// The person's agreement; anything but `true` is refused.
        consent: bool,
    },
    /// Keeps what the open visit's vehicle is.
    DescribeVehicle(VehicleFacts),
    /// Keeps what the manual says of a maker's own code, for every vehicle of this make.
    NoteCode {
        /// As written, such as `P1450`.
        code: String,
        /// In plain words; empty forgets it.
        meaning: String,
    },
    /// Has the car close its vent valve. Sent only after the person agreed to this one request.
    CloseVent {
        /// The person's agreement; anything but `true` is refused.
        consent: bool,
    },
    /// Takes tank pressure of the open visit's vehicle from this source from now on; `None` leaves
    /// the choice to the program again.
    UseTankSource(Option<TankSource>),
    /// Asks for the person's own requests.
    ListOwnSignals,
    /// Keeps the person's own requests.
    SaveOwnSignals {
        /// The requests.
        signals: Vec<CustomSignal>,
        /// For whom.
        scope: SignalScope,
    },
    /// Asks the connected car once with an own request.
    TryOwnSignal(CustomSignal),
    /// Takes the own requests of a file over.
    ImportOwnSignals {
        /// The file.
        file: PathBuf,
        /// For whom.
        scope: SignalScope,
    },
    /// Writes the own requests to a file.
    ExportOwnSignals {
        /// The file.
        file: PathBuf,
        /// Whose.
        scope: SignalScope,
    },
    /// Plans a look after the next fill-up.
    PlanFollowUp {
        /// Days from now.
        days: u16,
    },
    /// Writes the visit as a document.
    WriteReport {
        /// Which visit; `None` is the open one.
        visit: Option<i64>,
        /// In which format.
        format: ReportFormat,
        /// Where to; `None` puts it in the data folder.
        path: Option<PathBuf>,
        /// Leaves customer and most of the VIN out.
        private: bool,
        /// The sheet it is printed on.
        paper: Paper,
    },
    /// Speaks in this language and in these units from now on.
    SetStyle(Style),
    /// Takes a picture from a file into the open visit.
    AddPhoto {
        /// The file.
        path: PathBuf,
        /// What it shows.
        caption: String,
    },
    /// Takes a picture out of the open visit; its file stays.
    RemovePhoto(i64),
    /// Asks something of the histories besides a visit's own work.
    Histories(HistoryCommand),
    /// Asks for the copies of the database.
    ListBackups,
    /// Copies the database now.
    BackUpNow,
    /// Puts a copy in the database's place; what stood there is kept beside it. Closes the visit.
    Restore {
        /// The copy.
        backup: PathBuf,
        /// The person's agreement; anything but `true` is refused.
        agreed: bool,
    },
    /// Asks for the settings kept from before.
    ReadSettings,
    /// Keeps a setting of the person. Names and values are the asker's own.
    SaveSetting {
        /// Which.
        name: String,
        /// What it is now.
        value: String,
    },
    /// Closes the open visit and the link.
    CloseVisit,
    /// Ends the worker.
    Quit,
}
