use std::path::PathBuf;

use clap::Args;

use super::link_argument::parse_link;
use crate::jobs::{LinkAddress, Paper};
use crate::vehicle::Signal;
use crate::wording::Language;

/// Arguments of `close-vent`.
#[derive(Args, Debug)]
pub(super) struct CloseVent {
    /// The adapter: ble:NAME, spp:ADDRESS, serial:DEVICE[:BAUD], tcp:HOST:PORT, virtual[:FAULT[:SEED]]
    #[arg(long, value_parser = parse_link)]
    pub(super) link: LinkAddress,
    /// You have read what it does and agree to this one request
    #[arg(long)]
    pub(super) agree: bool,
}

/// Arguments of `try-signal`.
#[derive(Args, Debug)]
pub(super) struct TrySignal {
    /// The adapter: ble:NAME, spp:ADDRESS, serial:DEVICE[:BAUD], tcp:HOST:PORT, virtual[:FAULT[:SEED]]
    #[arg(long, value_parser = parse_link)]
    pub(super) link: LinkAddress,
    /// The file that describes them; without it own_signals.toml beside the database
    #[arg(long, value_name = "FILE.toml")]
    pub(super) file: Option<PathBuf>,
    /// Only this signal, such as tank_sensor_v
    #[arg(long, value_name = "NAME", value_parser = signal)]
    pub(super) signal: Option<Signal>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

fn signal(words: &str) -> Result<Signal, String> {
    let names = || Signal::ALL.map(Signal::name).join(", ");
    Signal::from_name(words).ok_or_else(|| format!("one of {}", names()))
}

/// Arguments of `photos`.
#[derive(Args, Debug)]
pub(super) struct Photos {
    /// The visit's number in the database, as `history` shows it
    #[arg(long, value_name = "ID")]
    pub(super) visit: i64,
    /// Takes a picture in: JPEG, PNG, WebP or HEIC
    #[arg(long, value_name = "FILE")]
    pub(super) add: Option<PathBuf>,
    /// What it shows
    #[arg(long, value_name = "WORDS", default_value = "", requires = "add")]
    pub(super) caption: String,
    /// Takes the picture with this number out; its file stays
    #[arg(long, value_name = "ID", conflicts_with = "add")]
    pub(super) remove: Option<i64>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Arguments of `backup`.
#[derive(Args, Debug)]
pub(super) struct Backup {
    /// Lists the copies instead of making one
    #[arg(long, conflicts_with = "restore")]
    pub(super) list: bool,
    /// Puts this copy in the database's place; what stood there is kept beside it
    #[arg(long, value_name = "FILE.db")]
    pub(super) restore: Option<PathBuf>,
}

/// Arguments of `salvage`.
#[derive(Args, Debug)]
pub(super) struct Salvage {
    /// The damaged database; it is only read
    #[arg(value_name = "DAMAGED.db")]
    pub(super) damaged: PathBuf,
    /// The new database
    #[arg(long, value_name = "NEW.db")]
    pub(super) out: PathBuf,
}

/// Arguments of `rejudge`.
#[derive(Args, Debug)]
pub(super) struct Rejudge {
    /// Only this visit, by the number that `history` shows
    #[arg(long, value_name = "ID")]
    pub(super) visit: Option<i64>,
}

/// Arguments of `compare`.
#[derive(Args, Debug)]
pub(super) struct Compare {
    /// The later visit, by the number that `history` shows
    #[arg(long, value_name = "ID")]
    pub(super) visit: i64,
    /// The earlier one; without it the newest before it that found a fault
    #[arg(long, value_name = "ID")]
    pub(super) with: Option<i64>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Arguments of `fill-up`.
#[derive(Args, Debug)]
pub(super) struct FillUp {
    /// The vehicle, by name, VIN or number
    #[arg(long, value_name = "V")]
    pub(super) vehicle: String,
    /// How much, in litres
    #[arg(long, value_name = "X", default_value = "")]
    pub(super) litres: String,
    /// What was paid, such as 67.10
    #[arg(long, value_name = "AMOUNT", default_value = "", requires = "currency")]
    pub(super) cost: String,
    /// The currency's three letters, such as EUR
    #[arg(long, value_name = "CODE", default_value = "", requires = "cost")]
    pub(super) currency: String,
    /// What the odometer shows, in kilometres
    #[arg(long, value_name = "KM")]
    pub(super) odometer: Option<u32>,
    /// A note
    #[arg(long, default_value = "")]
    pub(super) note: String,
}

/// Arguments of `customer`.
#[derive(Args, Debug)]
pub(super) struct CustomerOf {
    /// The vehicle, by name, VIN or number
    #[arg(long, value_name = "V")]
    pub(super) vehicle: String,
    /// Whose it is; empty takes the customer away
    #[arg(long)]
    pub(super) name: String,
    /// Telephone number
    #[arg(long, default_value = "")]
    pub(super) phone: String,
    /// Mail address
    #[arg(long, default_value = "")]
    pub(super) email: String,
    /// Notes
    #[arg(long, default_value = "")]
    pub(super) notes: String,
}

/// How a document is written and printed.
#[derive(Args, Clone, Copy, Debug)]
pub(super) struct Print {
    /// The sheet: a4 or letter
    #[arg(long, value_name = "SHEET", value_parser = paper, default_value = "a4")]
    pub(super) paper: Paper,
    /// The language: en or de
    #[arg(long, value_name = "LANGUAGE", value_parser = language, default_value = "en")]
    pub(super) language: Language,
}

fn paper(text: &str) -> Result<Paper, String> {
    match text.to_lowercase().as_str() {
        "a4" => Ok(Paper::A4),
        "letter" => Ok(Paper::Letter),
        _ => Err("a4 or letter".to_owned()),
    }
}

fn language(text: &str) -> Result<Language, String> {
    match text.to_lowercase().as_str() {
        "en" => Ok(Language::English),
        "de" => Ok(Language::German),
        _ => Err("en or de".to_owned()),
    }
}

/// Arguments of `import`.
#[derive(Args, Debug)]
pub(super) struct Import {
    /// A file that `export` wrote
    #[arg(value_name = "FILE")]
    pub(super) file: PathBuf,
}

/// Arguments of `validate`.
#[derive(Args, Debug)]
pub(super) struct Validate {
    /// How many cars to draw
    #[arg(long, value_name = "N")]
    pub(super) cars: u32,
    /// Harder cars: coarse steps, slow adapters, mild faults
    #[arg(long)]
    pub(super) hard: bool,
    /// Two faults at once in every faulty car
    #[arg(long)]
    pub(super) double: bool,
    /// Draws the cars; the same seed draws the same
    #[arg(long, value_name = "S", default_value_t = 1)]
    pub(super) seed: u64,
    /// Writes what the numbers miss beyond their bounds, as the diagnosis reads it
    #[arg(long, value_name = "FILE")]
    pub(super) model_errors: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}
