use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use chrono::NaiveDate;
use clap::builder::{PossibleValuesParser, TypedValueParser};
use clap::{Args, Parser, Subcommand};

use super::link_argument::parse_link;
pub(super) use super::more_arguments::{
    Backup, CloseVent, Compare, CustomerOf, FillUp, Import, Photos, Print, Rejudge, Salvage,
    TrySignal, Validate,
};
use crate::jobs::{LinkAddress, ReportFormat};
use crate::vehicle::Fault;

/// Finds the part behind an evaporative-emissions (EVAP) fault. Without a command the app opens.
#[derive(Debug, Parser)]
#[command(name = "stilltank", version)]
pub(super) struct Arguments {
    /// The database; without it the data lives in the platform's data folder
    #[arg(long, global = true, value_name = "FILE")]
    pub(super) database: Option<PathBuf>,
    /// What to do.
    #[command(subcommand)]
    pub(super) task: Option<Task>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub(super) enum Task {
    /// The whole job on the virtual car: connect, read, run the checks, judge, save, report
    Demo(Demo),
    /// The virtual car behind a TCP adapter, until interrupted
    VirtualCar(VirtualCar),
    /// Adapters in reach and those remembered; what a wireless one offers; remembers or forgets one
    Adapters(Adapters),
    /// Identity, trouble codes, readiness, freeze frame, monitor results, signals and their values
    Read(Read),
    /// Polls the check signals into a recording; beside a virtual car a person goes through the
    /// checks by themselves
    Record(Record),
    /// Runs every check that a recording allows and gives the verdict
    Judge(Judge),
    /// What the database holds
    History(History),
    /// A visit as a document
    Report(Report),
    /// Lays an earlier visit of a vehicle under a later one: is the repair proven?
    Compare(Compare),
    /// Many vehicles over a period as one document
    Fleet(Fleet),
    /// Whole virtual visits, drawn at random: how often the verdict is right
    Validate(Validate),
    /// Writes histories to a file or folder, to move or merge them
    Export(Export),
    /// Merges histories from a file
    Import(Import),
    /// Has the car close its vent valve once, for a sealed tank; only after your agreement
    CloseVent(CloseVent),
    /// Asks the car with own requests and shows the answers byte by byte
    TrySignal(TrySignal),
    /// Judges the recordings in the database again; a verdict that differs is kept beside the old one
    Rejudge(Rejudge),
    /// Keeps a filling of the tank
    FillUp(FillUp),
    /// Says whose vehicle it is
    Customer(CustomerOf),
    /// The pictures of a visit: lists them, takes one in or out
    Photos(Photos),
    /// Copies the database now, lists the copies, or puts one in its place
    Backup(Backup),
    /// Saves what can still be read of a damaged database into a new one
    Salvage(Salvage),
}

/// Arguments of `demo`.
#[derive(Args, Debug)]
pub(super) struct Demo {
    /// What is wrong with the car
    #[arg(long, value_parser = fault(), default_value = "purge_valve_leaking")]
    pub(super) fault: FaultOrNone,
    /// Draws the car; the same seed is the same car
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(super) seed: u64,
    /// In the terminal even where there is a display
    #[arg(long)]
    pub(super) headless: bool,
}

/// Arguments of `virtual-car`.
#[derive(Args, Debug)]
pub(super) struct VirtualCar {
    /// Address and port to answer at, such as 127.0.0.1:35000
    #[arg(long, value_name = "ADDR")]
    pub(super) listen: SocketAddr,
    /// What is wrong with the car
    #[arg(long, value_parser = fault(), default_value = "none")]
    pub(super) fault: FaultOrNone,
    /// What else is wrong with it: a fault of another part
    #[arg(long, value_parser = fault(), default_value = "none", requires = "fault")]
    pub(super) also: FaultOrNone,
    /// How bad it is, from 0 (not at all) to 1 (as bad as drawn cars get)
    #[arg(long, value_name = "X", value_parser = severity)]
    pub(super) severity: Option<f64>,
    /// Draws the car; the same seed is the same car
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(super) seed: u64,
}

/// Arguments of `adapters`.
#[derive(Args, Debug)]
pub(super) struct Adapters {
    /// How long to look
    #[arg(long, value_name = "S", value_parser = seconds, default_value = "5")]
    pub(super) seconds: f64,
    /// Asks this wireless adapter which pairs of characteristics could carry its stream
    #[arg(long, value_name = "LINK", value_parser = parse_adapter, conflicts_with_all = ["remember", "forget"])]
    pub(super) streams: Option<LinkAddress>,
    /// Remembers this adapter, with the pair of characteristics where one is named
    #[arg(long, value_name = "LINK", value_parser = parse_adapter, conflicts_with = "forget")]
    pub(super) remember: Option<LinkAddress>,
    /// The name to remember it by
    #[arg(long, requires = "remember")]
    pub(super) name: Option<String>,
    /// Forgets this adapter
    #[arg(long, value_name = "LINK", value_parser = parse_adapter)]
    pub(super) forget: Option<LinkAddress>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Arguments of `read`.
#[derive(Args, Debug)]
pub(super) struct Read {
    /// The adapter: ble:NAME[#WRITE/NOTIFY], spp:ADDRESS, serial:DEVICE[:BAUD], tcp:HOST:PORT, replay:FILE, virtual[:FAULT[:SEED]]
    #[arg(long, value_parser = parse_link)]
    pub(super) link: LinkAddress,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Arguments of `record`.
#[derive(Args, Debug)]
pub(super) struct Record {
    /// The adapter: ble:NAME[#WRITE/NOTIFY], spp:ADDRESS, serial:DEVICE[:BAUD], tcp:HOST:PORT, replay:FILE, virtual[:FAULT[:SEED]]
    #[arg(long, value_parser = parse_link)]
    pub(super) link: LinkAddress,
    /// How long
    #[arg(long, value_name = "S", value_parser = seconds)]
    pub(super) seconds: f64,
    /// The recording to write
    #[arg(long, value_name = "FILE.csv")]
    pub(super) out: PathBuf,
}

/// Arguments of `judge`.
#[derive(Args, Debug)]
pub(super) struct Judge {
    /// The recording
    #[arg(value_name = "FILE.csv")]
    pub(super) recording: PathBuf,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
    /// A TOML file that says which columns of somebody else's log are which signals; remembered
    /// for files with the same columns
    #[arg(long, value_name = "FILE.toml")]
    pub(super) columns: Option<PathBuf>,
}

/// Arguments of `history`.
#[derive(Args, Debug)]
pub(super) struct History {
    /// Only this vehicle, by name, VIN or number
    #[arg(long, value_name = "V")]
    pub(super) vehicle: Option<String>,
    /// As JSON
    #[arg(long)]
    pub(super) json: bool,
}

/// Arguments of `report`.
#[derive(Args, Debug)]
pub(super) struct Report {
    /// The visit's number in the database, as `history` shows it
    #[arg(long, value_name = "ID")]
    pub(super) visit: i64,
    /// The document; its ending chooses html, pdf, csv or json
    #[arg(long, value_name = "FILE", value_parser = document)]
    pub(super) out: Document,
    /// Leaves out the customer and most of the VIN
    #[arg(long)]
    pub(super) private: bool,
    #[command(flatten)]
    pub(super) print: Print,
}

/// Arguments of `fleet`.
#[derive(Args, Debug)]
pub(super) struct Fleet {
    /// First day, such as 2026-01-31
    #[arg(long, value_name = "DATE")]
    pub(super) from: NaiveDate,
    /// Last day, included
    #[arg(long, value_name = "DATE")]
    pub(super) to: NaiveDate,
    /// The document; its ending chooses html, pdf or csv
    #[arg(long, value_name = "FILE", value_parser = fleet_document)]
    pub(super) out: Document,
    /// Whose fleet
    #[arg(long, default_value = "")]
    pub(super) name: String,
    /// Leaves out customers and most of each VIN
    #[arg(long)]
    pub(super) private: bool,
    #[command(flatten)]
    pub(super) print: Print,
}

/// Arguments of `export`.
#[derive(Args, Debug)]
pub(super) struct Export {
    /// Where to: a file ending in stilltank, csv, json or parquet, or a folder for all of them
    #[arg(long, value_name = "FILE")]
    pub(super) out: PathBuf,
    /// Only this vehicle, by name, VIN or number
    #[arg(long, value_name = "V")]
    pub(super) vehicle: Option<String>,
}

/// A fault, or a sound car.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct FaultOrNone(pub(super) Option<Fault>);

/// A document to write.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Document {
    /// Where.
    pub(super) path: PathBuf,
    /// In which format.
    pub(super) format: ReportFormat,
}

/// A link to an adapter that can be met again: no recording and no virtual car.
fn parse_adapter(words: &str) -> Result<LinkAddress, String> {
    match parse_link(words) {
        Ok(LinkAddress::Replay(_) | LinkAddress::Virtual { .. }) => {
            Err("that is no adapter; use ble:, spp:, serial: or tcp:".to_owned())
        }
        other => other.map_err(|error| error.to_string()),
    }
}

fn fault() -> impl TypedValueParser<Value = FaultOrNone> {
    let names = Fault::ALL.map(Fault::name).into_iter().chain(["none"]);
    PossibleValuesParser::new(names).map(|name| FaultOrNone(Fault::from_name(&name)))
}

fn severity(words: &str) -> Result<f64, String> {
    let number = words.parse::<f64>().ok();
    number.filter(|it| (0.0..=1.0).contains(it)).ok_or_else(|| "a number from 0 to 1".to_owned())
}

fn seconds(words: &str) -> Result<f64, String> {
    let number = words.parse::<f64>().ok();
    number
        .filter(|it| (1.0..=86_400.0).contains(it))
        .ok_or_else(|| "a number of seconds from 1 to 86400".to_owned())
}

fn document(words: &str) -> Result<Document, String> {
    let path = Path::new(words);
    let ending = path.extension().and_then(|it| it.to_str()).map(str::to_lowercase);
    let format = match ending.as_deref() {
        Some("html") => ReportFormat::Html,
        Some("pdf") => ReportFormat::Pdf,
        Some("csv") => ReportFormat::Csv,
        Some("json") => ReportFormat::Json,
        _ => return Err("the ending must be html, pdf, csv or json".to_owned()),
    };
    Ok(Document { path: path.to_owned(), format })
}

fn fleet_document(words: &str) -> Result<Document, String> {
    document(words)
        .ok()
        .filter(|document| document.format != ReportFormat::Json)
        .ok_or_else(|| "the ending must be html, pdf or csv".to_owned())
}

#[cfg(test)]
mod tests {
    use clap::{CommandFactory, Parser};

    use super::{Arguments, FaultOrNone, Task};
    use crate::jobs::ReportFormat;
    use crate::vehicle::Fault;

    fn parse(words: &str) -> Result<Arguments, clap::error::ErrorKind> {
        let all = std::iter::once("stilltank").chain(words.split_whitespace());
        Arguments::try_parse_from(all).map_err(|error| error.kind())
    }

    #[test]
    fn the_description_of_the_commands_is_sound() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn no_command_opens_the_app() {
        assert!(parse("").unwrap().task.is_none());
    }

    #[test]
    fn every_command_takes_a_database() {
        for command in [
            "demo --headless",
            "virtual-car --listen 127.0.0.1:0",
            "adapters",
            "read --link virtual",
            "record --link virtual --seconds 5 --out a.csv",
            "judge a.csv",
            "history",
            "report --visit 1 --out a.html",
            "fleet --from 2026-01-01 --to 2026-03-31 --out a.html",
            "export --out a.csv",
            "import a.stilltank",
            "close-vent --link virtual",
            "try-signal --link virtual",
            "photos --visit 1",
            "rejudge",
            "compare --visit 2",
            "fill-up --vehicle 1 --litres 40",
            "customer --vehicle 1 --name N",
            "backup --list",
            "salvage a.db --out b.db",
        ] {
            let parsed = parse(&format!("{command} --database x.db")).unwrap();
            assert_eq!(parsed.database.as_deref(), Some("x.db".as_ref()), "{command}");
        }
    }

    #[test]
    fn the_demo_has_a_fault_unless_told_otherwise() {
        let fault = |words: &str| match parse(words).unwrap().task {
            Some(Task::Demo(demo)) => demo.fault,
            _ => panic!("not the demo"),
        };
        assert_eq!(fault("demo"), FaultOrNone(Some(Fault::PurgeValveLeaking)));
        assert_eq!(fault("demo --fault vapor_leak"), FaultOrNone(Some(Fault::VaporLeak)));
        assert_eq!(fault("demo --fault none"), FaultOrNone(None));
    }

    #[test]
    fn the_ending_chooses_the_document() {
        let format = |words: &str| match parse(words).map(|it| it.task) {
            Ok(Some(Task::Report(report))) => Some(report.out.format),
            _ => None,
        };
        assert_eq!(format("report --visit 1 --out a.PDF"), Some(ReportFormat::Pdf));
        assert_eq!(format("report --visit 1 --out a.doc"), None);
    }

    #[test]
    fn words_that_make_no_sense_are_refused() {
        for words in [
            "demo --fault flat_tyre",
            "virtual-car --listen here",
            "virtual-car --listen 127.0.0.1:0 --severity 2",
            "read --link usb:1",
            "adapters --forget virtual",
            "adapters --name x",
            "adapters --forget ble:a --remember ble:b",
            "record --link virtual --seconds 0 --out a.csv",
            "record --link virtual --seconds NaN --out a.csv",
            "fleet --from 2026-02-30 --to 2026-03-31 --out a.html",
            "fleet --from 2026-01-01 --to 2026-03-31 --out a.json",
        ] {
            assert!(parse(words).is_err(), "{words}");
        }
    }
}
