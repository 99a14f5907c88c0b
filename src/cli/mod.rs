//! The command line: one file a command.
//!
//! May import: units, platform, vehicle, recording, evidence, checks, diagnosis, wording, link, report, jobs, ui.
//! Never: holds a rule of the job.

mod adapters;
mod app;
mod arguments;
mod backup;
mod close_vent;
mod compare;
mod demo;
mod export;
mod failure;
mod fleet;
mod history;
mod import;
mod judge;
mod keep;
mod link_argument;
mod more_arguments;
mod output;
mod photos;
mod read;
mod record;
mod report;
mod table;
mod try_signal;
mod validate;
mod virtual_car;

use std::ffi::OsString;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Parser;

use arguments::{Arguments, Task};
use failure::Failure;
use output::Output;

use crate::jobs::{JobError, default_database};

/// Does what the words say. The status is 0 when it is done (whatever the verdict), 1 if the work
/// failed, 2 if the words or the input were wrong.
pub fn run(words: impl IntoIterator<Item = OsString>) -> ExitCode {
    let arguments = match Arguments::try_parse_from(words) {
        Ok(arguments) => arguments,
        Err(error) => return output::usage(&error),
    };
    let mut output = Output::new();
    match dispatch(arguments, &mut output) {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            output.message(failure.sentence());
            failure.status()
        }
    }
}

fn dispatch(arguments: Arguments, output: &mut Output) -> Result<(), Failure> {
    let database = arguments.database;
    match arguments.task {
        None => app::run(place(database)?, None),
        Some(Task::Demo(demo)) => demo::run(&demo, place(database)?, output),
        Some(Task::VirtualCar(car)) => virtual_car::run(&car, output),
        Some(Task::Adapters(plan)) => adapters::run(&plan, place(database)?, output),
        Some(Task::Read(read)) => read::run(&read, place(database)?, output),
        Some(Task::Record(record)) => record::run(&record, place(database)?, output),
        Some(Task::Judge(judge)) => judge::run(&judge, place(database)?, output),
        Some(Task::History(history)) => history::run(&history, place(database)?, output),
        Some(Task::Report(report)) => report::run(&report, place(database)?, output),
        Some(Task::Compare(visits)) => compare::run(&visits, &place(database)?, output),
        Some(Task::Fleet(fleet)) => fleet::run(&fleet, place(database)?, output),
        Some(Task::Validate(plan)) => validate::run(&plan, output),
        Some(Task::Export(export)) => export::run(&export, place(database)?, output),
        Some(Task::CloseVent(close)) => close_vent::run(&close, place(database)?, output),
        Some(Task::TrySignal(signal)) => try_signal::run(&signal, place(database)?, output),
        Some(Task::Rejudge(again)) => keep::judge_again(&again, place(database)?, output),
        Some(Task::FillUp(fill)) => keep::fill_up(&fill, place(database)?, output),
        Some(Task::Customer(whose)) => keep::customer(&whose, place(database)?, output),
        Some(Task::Photos(photos)) => photos::run(&photos, place(database)?, output),
        Some(Task::Backup(backup)) => backup::run(&backup, place(database)?, output),
        Some(Task::Salvage(salvage)) => backup::run_salvage(&salvage, output),
        Some(Task::Import(import)) => import::run(&import, place(database)?, output),
    }
}

/// The database that was named, or the usual one.
fn place(database: Option<PathBuf>) -> Result<PathBuf, JobError> {
    database.map_or_else(default_database, Ok)
}
