use serde::{Deserialize, Serialize};

use super::{ColumnMapFlaw, RecordingError};
use crate::units::DisplayUnit;
use crate::vehicle::Signal;

/// How another program's log becomes a recording: which column is which signal, in what unit. The
/// person fills it in once; it is kept as TOML. Columns that carry a signal's own name need no row.
///
/// ```toml
/// delimiter = ";"
/// decimal = ","
/// blank = ["-", "NaN"]
///
/// [time]
/// column = "Time (ms)"
/// unit = "ms"
///
/// [[column]]
/// name = "EVAP pressure"
/// signal = "tank_pressure_pa"
/// unit = "inH2O"
/// ```
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ColumnMap {
    /// Character between cells.
    pub delimiter: char,
    /// Decimal sign.
    pub decimal: char,
    /// Texts that stand for "no sample", beside an empty cell.
    pub blank: Vec<String>,
    /// The column of the time.
    pub time: TimeColumn,
    /// The columns of the signals.
    #[serde(rename = "column")]
    pub columns: Vec<MappedColumn>,
}

/// The column of the time.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TimeColumn {
    /// Its name in the file.
    pub column: String,
    /// What its numbers count.
    #[serde(default)]
    pub unit: TimeUnit,
}

/// What the numbers of a time column count.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub enum TimeUnit {
    /// Seconds.
    #[default]
    #[serde(rename = "s")]
    Seconds,
    /// Milliseconds.
    #[serde(rename = "ms")]
    Milliseconds,
    /// Minutes.
    #[serde(rename = "min")]
    Minutes,
    /// Hours, minutes and seconds with colons between.
    #[serde(rename = "h:min:s")]
    Clock,
}

/// A column of a foreign log.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct MappedColumn {
    /// Its name in the file.
    pub name: String,
    /// The signal it holds.
    pub signal: Signal,
    /// Symbol of the unit it is in; the signal's own if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit: Option<String>,
    /// Factor to the number in the file, before its unit is converted.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub scale: f64,
    /// Added to the number after the factor, before its unit is converted.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub offset: f64,
}

/// What turns a number of a file into a signal's value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Conversion {
    scale: f64,
    offset: f64,
    units: Option<(DisplayUnit, DisplayUnit)>,
}

impl Conversion {
    const NONE: Self = Self { scale: 1.0, offset: 0.0, units: None };

    pub(super) fn apply(self, number: f64) -> f64 {
        // Untouched numbers stay untouched, so that our own files come back exactly.
        if self == Self::NONE {
            return number;
        }
        let scaled = number * self.scale + self.offset;
        self.units.and_then(|(from, to)| from.convert(scaled, to)).unwrap_or(scaled)
    }
}

impl ColumnMap {
    /// Reads a map from TOML and checks it.
    pub fn from_toml(text: &str) -> Result<Self, RecordingError> {
        let map: Self = toml::from_str(text)?;
        map.check()?;
        Ok(map)
    }

    /// The map as TOML.
    pub fn to_toml(&self) -> String {
        // Plain values and tables only, which that format always takes.
        toml::to_string(self).unwrap_or_default()
    }

    /// Whether the map can be used at all.
    pub(super) fn check(&self) -> Result<(), RecordingError> {
        self.delimiter_byte()?;
        if !matches!(self.decimal, '.' | ',') {
            return Err(flaw(&self.time.column, ColumnMapFlaw::DecimalSign));
        }
        for (place, column) in self.columns.iter().enumerate() {
            let named_before = |other: &MappedColumn| other.name == column.name;
            if self.columns.iter().take(place).any(named_before) || column.name == self.time.column
            {
                return Err(flaw(&column.name, ColumnMapFlaw::Twice));
            }
            column.conversion()?;
        }
        Ok(())
    }

    pub(super) fn delimiter_byte(&self) -> Result<u8, RecordingError> {
        match self.delimiter {
            ',' | ';' | '|' | '\t' if self.delimiter != self.decimal => {
                // One of the four, all of them one byte.
                Ok(self.delimiter as u8)
            }
            _ => Err(flaw(&self.time.column, ColumnMapFlaw::Delimiter)),
        }
    }

    pub(super) fn is_blank(&self, cell: &str) -> bool {
        self.blank.iter().any(|blank| blank == cell)
    }

    /// The signal of a column, and how its numbers become that signal's values.
    pub(super) fn signal(
        &self,
        name: &str,
    ) -> Result<Option<(Signal, Conversion)>, RecordingError> {
        match self.columns.iter().find(|column| column.name == name) {
            Some(column) => Ok(Some((column.signal, column.conversion()?))),
            None => Ok(Signal::from_name(name).map(|signal| (signal, Conversion::NONE))),
        }
    }
}

impl Default for ColumnMap {
    /// Our own files.
    fn default() -> Self {
        Self {
            delimiter: ',',
            decimal: '.',
            blank: Vec::new(),
            time: TimeColumn { column: "time_s".to_owned(), unit: TimeUnit::Seconds },
            columns: Vec::new(),
        }
    }
}

impl MappedColumn {
    fn conversion(&self) -> Result<Conversion, RecordingError> {
        if !self.scale.is_finite() || self.scale == 0.0 || !self.offset.is_finite() {
            return Err(flaw(&self.name, ColumnMapFlaw::NotANumber));
        }
        let units = match &self.unit {
            None => None,
            Some(symbol) => {
                let unknown = || flaw(&self.name, ColumnMapFlaw::UnknownUnit);
                let from = DisplayUnit::from_symbol(symbol).ok_or_else(unknown)?;
                let to = DisplayUnit::from_symbol(self.signal.unit()).ok_or_else(unknown)?;
                if from.dimension() != to.dimension() {
                    return Err(flaw(&self.name, ColumnMapFlaw::WrongUnit));
                }
                (from != to).then_some((from, to))
            }
        };
        Ok(Conversion { scale: self.scale, offset: self.offset, units })
    }
}

fn flaw(column: &str, why: ColumnMapFlaw) -> RecordingError {
    RecordingError::ColumnMapRow { column: column.to_owned(), why }
}

fn one() -> f64 {
    1.0
}

fn is_one(number: &f64) -> bool {
    *number == 1.0
}

fn is_zero(number: &f64) -> bool {
    *number == 0.0
}
