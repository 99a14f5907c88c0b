use std::fs;
use std::path::{Path, PathBuf};

use super::history::find_vehicle;
use super::{JobError, MachineClock};
use crate::recording::csv;
use crate::store::{Store, TableFormat, VehicleId};

/// Ending of a bundle: everything that another device needs to go on.
const BUNDLE: &str = "stilltank";

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
    let is_folder = out.is_dir() || out.extension().is_none();
    let is_bundle = out.extension().is_some_and(|it| it.eq_ignore_ascii_case(BUNDLE));
    let format = TableFormat::of(out);
    if !is_folder && !is_bundle && format.is_none() {
        return Err(JobError::UnknownEnding { path: out.to_path_buf() });
    }
    let mut store = Store::open(database)?;
    let vehicle = vehicle.map(|words| find_vehicle(&store, words)).transpose()?;
    if is_folder {
        return to_folder(&mut store, out, vehicle, clock);
    }
    match format {
        Some(format) => store.export_table(out, format, vehicle)?,
        None => drop(store.export(out, vehicle, clock.date())?),
    }
    Ok(vec![out.to_path_buf()])
}

fn to_folder(
    store: &mut Store,
    out: &Path,
    vehicle: Option<VehicleId>,
    clock: MachineClock,
) -> Result<Vec<PathBuf>, JobError> {
    fs::create_dir_all(out).map_err(|error| JobError::file(out, &error))?;
    let bundle = out.join(format!("histories.{BUNDLE}"));
    store.export(&bundle, vehicle, clock.date())?;
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
