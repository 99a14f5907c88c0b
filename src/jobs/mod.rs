//! What the program can do, alike for app and command line: one worker, commands in, events out.
//!
//! May import: units, analysis, vehicle, recording, evidence, checks, diagnosis, wording, link, virtual_car, store, report.
//! Never: draws.

mod adapters;
mod backups;
mod car_commands;
mod car_report;
mod car_words;
mod card;
mod check_plan;
mod clock;
mod command;
mod compare;
mod conflicts;
mod connect;
mod control_units;
mod data_folder;
mod declared;
mod demo;
mod details;
mod error;
mod event;
mod explain;
mod export;
mod fill_up;
mod fleet;
mod found_files;
mod given_up;
mod guess;
mod history;
mod history_command;
mod identity;
mod import;
mod judge;
mod keeping;
mod leak_test;
mod link_loss;
mod look;
mod looking;
mod moving;
mod needed_signals;
mod own_signals;
mod photos;
mod poll;
mod proof;
mod read_car;
mod reading_time;
mod record;
mod recording_file;
mod rejudge;
mod repair;
mod replay;
mod report;
mod rescue;
mod rest_voltage;
mod run_check;
mod running;
mod serve_car;
mod settings;
mod source;
mod tank_choice;
mod tool;
mod try_signal;
mod turn;
mod validate;
mod vehicle_facts;
mod vent;
mod visit;
mod worker;
mod workshop;

#[cfg(test)]
mod tests;

pub use crate::link::transport::{StreamOffer, StreamPair};
pub use crate::report::Paper;
pub use crate::store::{Conflict, Customer, Merged};
pub use adapters::as_remembered;
pub use backups::{BackupLine, back_up, backups, restore, salvage};
pub use car_report::{
    CarReport, CodeLine, ConditionLine, InUseLine, LeakTestLine, MonitorLine, ReadinessLine,
    TankOption, TankSourceLine, UnitLine,
};
pub use clock::{MachineClock, VisitClock};
pub use command::{
    Command, Complaint, FillUpDraft, LinkAddress, Quote, ReadScope, RepairDraft, ReportFormat,
    SignalScope, VehicleFacts,
};
pub use compare::{ComparedNumber, ComparedTraces, ComparedVisit, VisitComparison, compare_visits};
pub use conflicts::ConflictLine;
pub use data_folder::default_database;
pub use error::JobError;
pub use event::{
    AdapterSeen, CheckLine, CheckState, Event, FillUpRow, GuessPart, GuessReport, LinkState,
    OwnSignals, RepairReport, SampleBatch, SetupStep, ToolReport, VehiclePage, VehicleRow,
    VisitCard, VisitRow,
};
pub use explain::{complaint_phrase, explain, explain_missing};
pub use export::export;
pub use fleet::{FleetPlan, write_fleet};
pub use found_files::{FileKind, FoundFile};
pub use given_up::GivenUp;
pub use guess::average_of_guessing;
pub use history::{Histories, histories};
pub use history_command::{CustomerLine, HistoryCommand, HistoryEvent, VehicleDetails};
pub use import::import;
pub use judge::{Judgement, judge};
pub use keeping::{add_fill_up, set_customer};
pub use look::{Look, LookStep, look_at_car};
pub use own_signals::{own_signals_beside, own_signals_file};
pub use photos::{PhotoLine, PhotoState, SmallPicture, VisitPhotos, add_photo, list_photos};
pub use proof::ProofReport;
pub use read_car::ReadPart;
pub use reading_time::{ReadingTime, reading_time};
pub use record::{Recorded, record};
pub use recording_file::{read_log, read_recording};
pub use rejudge::{Rejudged, rejudge};
pub use rescue::{SalvageReport, SalvagedRows};
pub use serve_car::{CarServer, OpenVirtualCar};
pub use tool::{TOOL_COST, TOOL_CURRENCY};
pub use try_signal::{Tried, TriedAnswer, try_signals};
pub use validate::{
    Calibration, Coverage, Efficiency, Miss, Missed, ModelError, Row, Validation, ValidationPlan,
    VisitOutcome, validate, visit_car_of_two_faults, visit_virtual_car, write_model_errors,
};
pub use vent::{VENT_LIMIT, VentWords, close_vent_of, vent_words};
pub use worker::Worker;
pub use workshop::Workshop;
