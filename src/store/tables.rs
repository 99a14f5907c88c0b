//! Histories as plain tables for other programs: CSV, JSON or Parquet.

use std::fs::File;
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};

use rusqlite::{Connection, Row};

use super::database::{Store, beside};
use super::merge_tables::Scope;
use super::parquet::{ParquetWriter, Values};
use super::recordings::each_sample;
use super::table_questions::{Kind, TABLES, Table, WITHIN};
use super::{StoreError, VehicleId, VisitId};

/// A format for tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TableFormat {
    /// Comma-separated values after RFC 4180, UTF-8, header first.
    Csv,
    /// A list of objects.
    Json,
    /// Apache Parquet.
    Parquet,
}

impl TableFormat {
    /// The format that a file's ending names.
    pub fn of(path: &Path) -> Option<Self> {
        match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
            "csv" => Some(Self::Csv),
            "json" => Some(Self::Json),
            "parquet" => Some(Self::Parquet),
            _ => None,
        }
    }

    const fn ending(self) -> &'static str {
        match self {
            Self::Csv => "csv",
            Self::Json => "json",
            Self::Parquet => "parquet",
        }
    }
}

/// Rows that are held at once, and in one row group of a Parquet file.
const ROWS_AT_ONCE: usize = 1 << 18;

impl Store {
    /// Writes every table into a folder, one file each, and returns the files.
    ///
    /// Amounts of money, litres and kilometres are text: exact, and empty where unknown. An
    /// infinite bound is `inf` in CSV and null in JSON.
    pub fn export_tables(
        &self,
        folder: &Path,
        format: TableFormat,
        vehicle: Option<VehicleId>,
    ) -> Result<Vec<PathBuf>, StoreError> {
        std::fs::create_dir_all(folder).map_err(|error| StoreError::file(folder, error))?;
        TABLES
            .iter()
            .map(|table| {
                let path = folder.join(format!("{}.{}", table.name, format.ending()));
                self.export_one(&path, table, format, vehicle)?;
                Ok(path)
            })
            .collect()
    }

    /// Writes one table into a file: the one that the file is named for, such as `samples.csv`,
    /// else the visits.
    pub fn export_table(
        &self,
        path: &Path,
        format: TableFormat,
        vehicle: Option<VehicleId>,
    ) -> Result<(), StoreError> {
        let stem = path.file_stem().and_then(|stem| stem.to_str()).unwrap_or_default();
        let named = TABLES.iter().find(|table| table.name == stem);
        match named.or(TABLES.iter().find(|table| table.name == "visits")) {
            Some(table) => self.export_one(path, table, format, vehicle),
            None => Ok(()),
        }
    }

    fn export_one(
        &self,
        path: &Path,
        table: &Table,
        format: TableFormat,
        vehicle: Option<VehicleId>,
    ) -> Result<(), StoreError> {
        let unfinished = beside(path, ".unfinished");
        let failed = |error| StoreError::file(path, error);
        let file = File::create(&unfinished).map_err(failed)?;
        let mut sheet = Sheet::new(path, file, table, format).map_err(failed)?;
        let scope = vehicle.map_or(Scope::Everything, Scope::Vehicle).parameter();
        self.read(|sql| match table.question {
            Some(question) => ask(sql, &question.replace("WITHIN", WITHIN), &scope, &mut sheet),
            None => samples(sql, &scope, &mut sheet),
        })?;
        sheet.finish().map_err(failed)?;
        std::fs::rename(&unfinished, path).map_err(failed)
    }
}

fn ask(
    sql: &Connection,
    question: &str,
    scope: &str,
    sheet: &mut Sheet<'_>,
) -> Result<(), StoreError> {
    let mut statement = sql.prepare(question)?;
    let mut rows = statement.query([scope])?;
    while let Some(row) = rows.next()? {
        sheet.take(row)?;
    }
    Ok(())
}

fn samples(sql: &Connection, scope: &str, sheet: &mut Sheet<'_>) -> Result<(), StoreError> {
    let mut statement = sql.prepare(&format!(
        "SELECT t.id, t.uid FROM visits AS t JOIN vehicles AS v ON v.id = t.vehicle_id
         WHERE t.state <> 'removed' AND v.state = 'kept' AND {WITHIN}
         ORDER BY t.started_unix_us, t.uid"
    ))?;
    let visits: Vec<(VisitId, String)> = statement
        .query_map([scope], |row| Ok((row.get("id")?, row.get("uid")?)))?
        .collect::<Result<_, _>>()?;
    for (visit, uid) in visits {
        let mut outcome = Ok(());
        each_sample(sql, visit, &mut |signal, samples| {
            for (at, value) in samples {
                if outcome.is_ok() {
                    outcome = sheet.take_sample(&uid, signal.name(), at.micros(), *value);
                }
            }
        })?;
        outcome?;
    }
    Ok(())
}

/// A file that rows are written to.
struct Sheet<'a> {
    path: &'a Path,
    columns: &'a [(&'static str, Kind)],
    waiting: Vec<Values>,
    rows: usize,
    file: SheetFile,
    first: bool,
}

enum SheetFile {
    Csv(Box<csv::Writer<BufWriter<File>>>),
    Json(BufWriter<File>),
    Parquet(ParquetWriter<BufWriter<File>>),
}

impl<'a> Sheet<'a> {
    fn new(path: &'a Path, to: File, table: &'a Table, format: TableFormat) -> io::Result<Self> {
        let mut to = BufWriter::new(to);
        let columns = table.columns;
        let names: Vec<&'static str> = columns.iter().map(|(name, _)| *name).collect();
        let waiting = empty(columns);
        let file = match format {
            TableFormat::Csv => {
                let mut writer = csv::Writer::from_writer(to);
                writer.write_record(&names)?;
                SheetFile::Csv(Box::new(writer))
            }
            TableFormat::Json => {
                to.write_all(b"[")?;
                SheetFile::Json(to)
            }
            TableFormat::Parquet => SheetFile::Parquet(ParquetWriter::new(to, names, &waiting)?),
        };
        Ok(Self { path, columns, waiting, rows: 0, file, first: true })
    }

    fn take(&mut self, row: &Row<'_>) -> Result<(), StoreError> {
        for ((name, _), values) in self.columns.iter().zip(&mut self.waiting) {
            match values {
                Values::Whole(values) => values.push(row.get(*name)?),
                Values::Real(values) => values.push(row.get(*name)?),
                Values::Text(values) => values.push(row.get(*name)?),
            }
        }
        self.count()
    }

    fn take_sample(
        &mut self,
        visit: &str,
        signal: &str,
        time_us: i64,
        value: f64,
    ) -> Result<(), StoreError> {
        if let [Values::Text(a), Values::Text(b), Values::Whole(c), Values::Real(d)] =
            self.waiting.as_mut_slice()
        {
            a.push(visit.to_owned());
            b.push(signal.to_owned());
            c.push(time_us);
            d.push(value);
        }
        self.count()
    }

    fn count(&mut self) -> Result<(), StoreError> {
        self.rows += 1;
        if self.rows >= ROWS_AT_ONCE {
            self.flush().map_err(|error| StoreError::file(self.path, error))?;
        }
        Ok(())
    }

    fn flush(&mut self) -> io::Result<()> {
        let waiting = std::mem::replace(&mut self.waiting, empty(self.columns));
        let rows = std::mem::take(&mut self.rows);
        match &mut self.file {
            SheetFile::Parquet(writer) => writer.write_group(&waiting)?,
            SheetFile::Csv(writer) => {
                for row in 0..rows {
                    writer.write_record(waiting.iter().map(|values| text_at(values, row)))?;
                }
            }
            SheetFile::Json(to) => {
                for row in 0..rows {
                    to.write_all(if self.first { b"\n" } else { b",\n" })?;
                    self.first = false;
                    let object: serde_json::Map<_, _> = self
                        .columns
                        .iter()
                        .zip(&waiting)
                        .map(|((name, _), values)| ((*name).to_owned(), json_at(values, row)))
                        .collect();
                    serde_json::to_writer(&mut *to, &object)?;
                }
            }
        }
        Ok(())
    }

    fn finish(mut self) -> io::Result<()> {
        self.flush()?;
        let writer = match self.file {
            SheetFile::Parquet(writer) => writer.finish()?,
            SheetFile::Csv(writer) => writer.into_inner().map_err(|error| error.into_error())?,
            SheetFile::Json(mut to) => {
                to.write_all(b"\n]\n")?;
                to
            }
        };
        writer.into_inner().map_err(io::IntoInnerError::into_error)?.sync_all()
    }
}

fn empty(columns: &[(&'static str, Kind)]) -> Vec<Values> {
    let column = |(_, kind): &(&str, Kind)| match kind {
        Kind::Whole => Values::Whole(Vec::new()),
        Kind::Real => Values::Real(Vec::new()),
        Kind::Text => Values::Text(Vec::new()),
    };
    columns.iter().map(column).collect()
}

fn text_at(values: &Values, row: usize) -> String {
    match values {
        Values::Whole(values) => values.get(row).map(i64::to_string),
        Values::Real(values) => values.get(row).map(f64::to_string),
        Values::Text(values) => values.get(row).cloned(),
    }
    .unwrap_or_default()
}

fn json_at(values: &Values, row: usize) -> serde_json::Value {
    match values {
        Values::Whole(values) => values.get(row).copied().into(),
        Values::Real(values) => values.get(row).copied().into(),
        Values::Text(values) => values.get(row).cloned().into(),
    }
}
