use std::fs;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};

use super::history::find_vehicle;
use super::{JobError, MachineClock};
use crate::recording::csv;
use crate::store::{Store, TableFormat, VehicleId};

/// Ending of a bundle: everything that another device needs to go on.
pub(super) const BUNDLE: &str = "stilltank";

/// Writes the histories of one vehicle, or all, to a file whose ending chooses the format, or to a
/// folder that takes them in every format. Returns the files written.
///
/// # Errors
/// [`JobError::UnknownEnding`] for an ending that names no format, and what keeps the database or
/// the files from being used.
pub fn export(
    database: &Path,
    out: &Path,
    vehicle: Option<&str>,
    clock: MachineClock,
) -> Result<Vec<PathBuf>, JobError> {
    // Found out first, so that a wrong ending does not create a database.
    target(out)?;
    let mut store = Store::open(database)?;
    let vehicle = vehicle.map(|words| find_vehicle(&store, words)).transpose()?;
    export_from(&mut store, out, vehicle, clock.date())
}

/// The same from a database that is open.
///
/// # Errors
/// As [`export`].
pub(super) fn export_from(
    store: &mut Store,
    out: &Path,
    vehicle: Option<VehicleId>,
    now: DateTime<Utc>,
) -> Result<Vec<PathBuf>, JobError> {
    match target(out)? {
        Target::Folder => return to_folder(store, out, vehicle, now),
        Target::Table(format) => store.export_table(out, format, vehicle)?,
        Target::Bundle => drop(store.export(out, vehicle, now)?),
    }
    Ok(vec![out.to_path_buf()])
}

/// What a path asks for.
enum Target {
    Folder,
    Table(TableFormat),
    Bundle,
}

fn target(out: &Path) -> Result<Target, JobError> {
    if out.is_dir() || out.extension().is_none() {
        return Ok(Target::Folder);
    }
    if out.extension().is_some_and(|it| it.eq_ignore_ascii_case(BUNDLE)) {
        return Ok(Target::Bundle);
    }
    let unknown = || JobError::UnknownEnding { path: out.to_path_buf() };
    TableFormat::of(out).map(Target::Table).ok_or_else(unknown)
}

fn to_folder(
    store: &mut Store,
    out: &Path,
    vehicle: Option<VehicleId>,
    now: DateTime<Utc>,
) -> Result<Vec<PathBuf>, JobError> {
    fs::create_dir_all(out).map_err(|error| JobError::file(out, &error))?;
    let bundle = out.join(format!("histories.{BUNDLE}"));
    store.export(&bundle, vehicle, now)?;
    let mut files = vec![bundle];
    for format in [TableFormat::Csv, TableFormat::Json, TableFormat::Parquet] {
        files.extend(store.export_tables(out, format, vehicle)?);
    }
    let vehicles = match vehicle {
        Some(id) => vec![id],
        None => store.list_vehicles("")?.iter().map(|it| it.id).collect(),
    };
    for id in vehicles {
        for visit in store.list_visits(id)? {
            let path = out.join(format!("recording-{}.csv", visit.id.0));
            let bytes = csv::write(&store.load_recording(visit.id)?);
            fs::write(&path, bytes).map_err(|error| JobError::file(&path, &error))?;
            files.push(path);
        }
    }
    Ok(files)
}
