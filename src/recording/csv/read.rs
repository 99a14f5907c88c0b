use std::io::Read;

use csv::{ByteRecord, ErrorKind as CsvErrorKind, ReaderBuilder};

use super::line_ends::LineFeeds;
use super::{ACTION, TANK_LITRE, TROUBLE_CODE, number};
use crate::recording::{
    Action, CellFlaw, ColumnMap, Conversion, Recording, RecordingError, TimeUnit,
};
use crate::units::Instant;
use crate::vehicle::{Signal, TroubleCode};

/// A recording that was read, and what of the file it does not hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Imported {
    /// The recording.
    pub recording: Recording,
    /// What the reader should tell the person.
    pub warnings: Vec<ImportWarning>,
}

/// Something in a file that was left out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ImportWarning {
    /// A column that is no signal and that no map knows.
    UnknownColumn {
        /// Its name.
        name: String,
    },
    /// A signal's column without a single value.
    EmptyColumn {
        /// Its name.
        name: String,
    },
}

/// Reads a recording file, or another program's log through a column map. Either the whole file
/// becomes a recording or none of it. The file is read in one pass, row by row.
pub fn read(source: impl Read, map: Option<&ColumnMap>) -> Result<Imported, RecordingError> {
    let standard = ColumnMap::default();
    let map = map.unwrap_or(&standard);
    map.check()?;
    let mut reader = ReaderBuilder::new()
        .has_headers(false)
        .delimiter(map.delimiter_byte()?)
        .from_reader(LineFeeds::new(source));
    let mut record = ByteRecord::new();
    if !next(&mut reader, &mut record)? {
        return Err(RecordingError::Empty);
    }
    let mut header = Header::read(&record, map)?;
    let mut rows = Rows { recording: Recording::default(), latest: None };
    while next(&mut reader, &mut record)? {
        let line = record.position().map_or(0, csv::Position::line);
        rows.add(&header, &record, line, map)?;
    }
    header.warnings.extend(header.columns.iter().filter_map(|column| match column.role {
        Role::Sample(signal, _) if rows.recording.series(signal).is_none() => {
            Some(ImportWarning::EmptyColumn { name: column.name.clone() })
        }
        _ => None,
    }));
    Ok(Imported { recording: rows.recording, warnings: header.warnings })
}

fn next<R: Read>(
    reader: &mut csv::Reader<R>,
    record: &mut ByteRecord,
) -> Result<bool, RecordingError> {
    reader.read_byte_record(record).map_err(|error| match error.into_kind() {
        CsvErrorKind::Io(error) => RecordingError::Unreadable(error.kind()),
        CsvErrorKind::UnequalLengths { pos, expected_len, len } => RecordingError::CellCount {
            line: pos.map_or(0, |pos| pos.line()),
            expected: expected_len,
            found: len,
        },
        // Bytes are read, and nothing is sought or turned into Rust values by that library.
        _ => RecordingError::Unreadable(std::io::ErrorKind::InvalidData),
    })
}

/// What a column of the file is for.
struct Column {
    place: usize,
    name: String,
    role: Role,
}

#[derive(Clone, Copy)]
enum Role {
    Sample(Signal, Conversion),
    Action,
    TroubleCode,
    TankLitre,
}

struct Header {
    time: (usize, String),
    columns: Vec<Column>,
    warnings: Vec<ImportWarning>,
}

impl Header {
    fn read(record: &ByteRecord, map: &ColumnMap) -> Result<Self, RecordingError> {
        let names: Vec<String> = record
            .iter()
            .enumerate()
            .map(|(place, cell)| {
                let name = String::from_utf8_lossy(cell);
                // Spreadsheets put a byte order mark first.
                let name = if place == 0 { name.trim_start_matches('\u{FEFF}') } else { &name };
                name.trim().to_owned()
            })
            .collect();
        if names.iter().all(String::is_empty) {
            return Err(RecordingError::Empty);
        }
        let mut time: Option<(usize, String)> = None;
        let mut columns: Vec<Column> = Vec::new();
        let mut warnings = Vec::new();
        let mut actions: Option<String> = None;
        let mut codes: Option<String> = None;
        let mut tank: Option<String> = None;
        for (place, name) in names.iter().enumerate() {
            if *name == map.time.column {
                if let Some((_, first)) = &time {
                    return Err(duplicate(first, name, "the time"));
                }
                time = Some((place, name.clone()));
            } else if let Some((signal, conversion)) = map.signal(name)? {
                let gives = |column: &&Column| matches!(column.role, Role::Sample(known, _) if known == signal);
                if let Some(first) = columns.iter().find(gives) {
                    return Err(duplicate(&first.name, name, signal.name()));
                }
                let role = Role::Sample(signal, conversion);
                columns.push(Column { place, name: name.clone(), role });
            } else if [ACTION, TROUBLE_CODE, TANK_LITRE].contains(&name.as_str()) {
                let (known, role) = match name.as_str() {
                    ACTION => (&mut actions, Role::Action),
                    TROUBLE_CODE => (&mut codes, Role::TroubleCode),
                    _ => (&mut tank, Role::TankLitre),
                };
                if let Some(first) = known.replace(name.clone()) {
                    return Err(duplicate(&first, name, name));
                }
                columns.push(Column { place, name: name.clone(), role });
            } else if !name.is_empty() {
                warnings.push(ImportWarning::UnknownColumn { name: name.clone() });
            }
        }
        let Some(time) = time else { return Err(no_time(&names, map)) };
        if columns.is_empty() && !warnings.is_empty() {
            return Err(RecordingError::NothingKnown);
        }
        Ok(Self { time, columns, warnings })
    }
}

fn duplicate(first: &str, second: &str, gives: &str) -> RecordingError {
    RecordingError::DuplicateColumn {
        first: first.to_owned(),
        second: second.to_owned(),
        gives: gives.to_owned(),
    }
}

/// Without a time column the likeliest reason is another delimiter.
fn no_time(names: &[String], map: &ColumnMap) -> RecordingError {
    let whole = names.join(&map.delimiter.to_string());
    let wanted = map.time.column.as_str();
    for found in [',', ';', '\t', '|'] {
        let named = |name: &str| name.trim().trim_matches('"') == wanted;
        if found != map.delimiter && whole.split(found).any(named) {
            return RecordingError::Delimiter { found, expected: map.delimiter };
        }
    }
    RecordingError::NoTimeColumn { wanted: wanted.to_owned(), found: shorten(&names.join(", ")) }
}

struct Rows {
    recording: Recording,
    latest: Option<Instant>,
}

impl Rows {
    fn add(
        &mut self,
        header: &Header,
        record: &ByteRecord,
        line: u64,
        map: &ColumnMap,
    ) -> Result<(), RecordingError> {
        let (place, name) = &header.time;
        let time = Cell::new(record, *place, name, line)?;
        if time.text.is_empty() {
            // A row of nothing but blanks, as spreadsheets leave at the end, is no row.
            if record.iter().all(|cell| cell.trim_ascii().is_empty()) {
                return Ok(());
            }
            return Err(time.flaw(CellFlaw::TimeMissing));
        }
        let at = instant(time.text, map).map_err(|why| time.flaw(why))?;
        if self.latest.is_some_and(|latest| at < latest) {
            return Err(time.flaw(CellFlaw::TimeRunsBackwards));
        }
        self.latest = Some(at);
        for column in &header.columns {
            let cell = Cell::new(record, column.place, &column.name, line)?;
            if cell.text.is_empty() || map.is_blank(cell.text) {
                continue;
            }
            self.put(at, column.role, &cell, map)?;
        }
        Ok(())
    }

    fn put(
        &mut self,
        at: Instant,
        role: Role,
        cell: &Cell<'_>,
        map: &ColumnMap,
    ) -> Result<(), RecordingError> {
        match role {
            Role::Sample(signal, conversion) => {
                let number = number::parse(cell.text, map.decimal).map_err(|why| cell.flaw(why))?;
                // Times are checked already, so only a number grown infinite is refused.
                if !self.recording.push(signal, at, conversion.apply(number)) {
                    return Err(cell.flaw(CellFlaw::NotFinite));
                }
            }
            Role::Action => {
                let action =
                    Action::from_name(cell.text).ok_or_else(|| cell.flaw(CellFlaw::NotAnAction))?;
                self.recording.push_action(at, action);
            }
            Role::TroubleCode => {
                let code: TroubleCode =
                    cell.text.parse().map_err(|_| cell.flaw(CellFlaw::NotACode))?;
                self.recording.push_code(at, &code.to_string());
            }
            Role::TankLitre => {
                let litre = number::parse(cell.text, map.decimal).map_err(|why| cell.flaw(why))?;
                self.recording.set_tank_litre(Some(litre));
                if self.recording.tank_litre().is_none() {
                    return Err(cell.flaw(CellFlaw::NoTankSize));
                }
            }
        }
        Ok(())
    }
}

fn instant(text: &str, map: &ColumnMap) -> Result<Instant, CellFlaw> {
    match map.time.unit {
        TimeUnit::Seconds => number::parse_seconds(text, map.decimal),
        TimeUnit::Clock => number::parse_clock(text, map.decimal),
        TimeUnit::Milliseconds => number::seconds(number::parse(text, map.decimal)? / 1e3),
        TimeUnit::Minutes => number::seconds(number::parse(text, map.decimal)? * 60.0),
    }
}

struct Cell<'a> {
    text: &'a str,
    name: &'a str,
    line: u64,
}

impl<'a> Cell<'a> {
    fn new(
        record: &'a ByteRecord,
        place: usize,
        name: &'a str,
        line: u64,
    ) -> Result<Self, RecordingError> {
        let bytes = record.get(place).unwrap_or_default();
        match std::str::from_utf8(bytes) {
            Ok(text) => Ok(Self { text: text.trim(), name, line }),
            Err(_) => {
                let text = String::from_utf8_lossy(bytes);
                Err(Cell { text: &text, name, line }.flaw(CellFlaw::NotText))
            }
        }
    }

    fn flaw(&self, why: CellFlaw) -> RecordingError {
        RecordingError::BadCell {
            line: self.line,
            column: self.name.to_owned(),
            text: shorten(self.text),
            why,
        }
    }
}

/// Enough to recognise it by; a broken file may hold megabytes in one cell.
fn shorten(text: &str) -> String {
    const LONGEST: usize = 60;
    if text.chars().count() <= LONGEST {
        return text.to_owned();
    }
    text.chars().take(LONGEST).chain(std::iter::once('…')).collect()
}
