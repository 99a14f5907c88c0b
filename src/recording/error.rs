use std::io::ErrorKind;

use thiserror::Error;

/// Why a file could not become a recording. Nothing of such a file is kept.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum RecordingError {
    /// Reading failed.
    #[error("the file cannot be read: {0}")]
    Unreadable(ErrorKind),
    /// The file holds no header row.
    #[error("the file is empty; its first row must name the columns")]
    Empty,
    /// No column holds the time.
    #[error("no column is called {wanted:?}; the columns are: {found}")]
    NoTimeColumn {
        /// Name of the column that was looked for.
        wanted: String,
        /// Names that the file has.
        found: String,
    },
    /// The cells are separated by something else than the reader was told.
    #[error(
        "cells are separated by {found:?} instead of {expected:?}; save the file with {expected:?} \
         between cells, or name {found:?} as the delimiter in a column map"
    )]
    Delimiter {
        /// The character that seems to separate cells.
        found: char,
        /// The character that should.
        expected: char,
    },
    /// Two columns give the same thing.
    #[error("columns {first:?} and {second:?} both give {gives}; keep one of them")]
    DuplicateColumn {
        /// The one further left.
        first: String,
        /// The one further right.
        second: String,
        /// What both give.
        gives: String,
    },
    /// No column is known.
    #[error("no column is known; a column map can say which column is which signal")]
    NothingKnown,
    /// A row has more or fewer cells than the header.
    #[error("line {line} has {found} cells, the header has {expected}")]
    CellCount {
        /// Line in the file, from 1.
        line: u64,
        /// Cells of the header.
        expected: u64,
        /// Cells of the row.
        found: u64,
    },
    /// A cell does not hold what its column calls for.
    #[error("line {line}, column {column:?}: {text:?} {why}")]
    BadCell {
        /// Line in the file, from 1.
        line: u64,
        /// Name of the column.
        column: String,
        /// What the cell holds, shortened.
        text: String,
        /// What is wrong with it.
        why: CellFlaw,
    },
    /// A column map cannot be read.
    #[error("the column map cannot be read: {0}")]
    ColumnMap(#[from] toml::de::Error),
    /// A column map says something impossible.
    #[error("column map, column {column:?}: {why}")]
    ColumnMapRow {
        /// Name of the column.
        column: String,
        /// What is wrong.
        why: ColumnMapFlaw,
    },
}

/// What is wrong with a cell.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum CellFlaw {
    /// No number where one belongs.
    #[error("is no number")]
    NotANumber,
    /// A decimal comma where a point belongs.
    #[error("has a decimal comma; write a point, or name the comma in a column map")]
    DecimalComma,
    /// Infinite or not a number.
    #[error("is not finite")]
    NotFinite,
    /// A time earlier than the row before.
    #[error("is earlier than the row before")]
    TimeRunsBackwards,
    /// A time beyond what the clock can count.
    #[error("is too large for a time")]
    TimeTooLarge,
    /// A row without a time.
    #[error("is blank; every row needs a time")]
    TimeMissing,
    /// No action of this name.
    #[error("is no action")]
    NotAnAction,
    /// No trouble code.
    #[error("is no trouble code")]
    NotACode,
    /// No tank of a car holds that.
    #[error("is no tank size; write what the owner's manual says, in litres from 10 to 200")]
    NoTankSize,
    /// Not UTF-8.
    #[error("is not UTF-8 text")]
    NotText,
}

/// What is wrong with a row of a column map.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum ColumnMapFlaw {
    /// The unit is not known.
    #[error("unit is not known")]
    UnknownUnit,
    /// The unit measures something else than the signal.
    #[error("unit does not measure what the signal measures")]
    WrongUnit,
    /// Scale or offset is no usable number.
    #[error("scale must be a number other than zero, offset a number")]
    NotANumber,
    /// The delimiter is not one byte, or is the decimal sign.
    #[error("delimiter must be one of , ; | or tab, and differ from the decimal sign")]
    Delimiter,
    /// The decimal sign is neither point nor comma.
    #[error("decimal sign must be a point or a comma")]
    DecimalSign,
    /// The column is named twice.
    #[error("is named twice")]
    Twice,
}
