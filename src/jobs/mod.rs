//! What the program can do, alike for app and command line: one worker, commands in, events out.
//!
//! May import: units, analysis, vehicle, recording, evidence, checks, diagnosis, wording, link, virtual_car, store, report.
//! Never: draws.

mod adapters;
mod car_commands;
mod car_report;
mod car_words;
mod card;
mod clock;
mod command;
mod connect;
mod control_units;
mod data_folder;
mod declared;
mod demo;
mod error;
mod event;
mod explain;
mod export;
mod fleet;
mod history;
mod identity;
mod import;
mod judge;
mod leak_test;
mod look;
mod looking;
mod needed_signals;
mod own_signals;
mod poll;
mod proof;
mod read_car;
mod record;
mod recording_file;
mod repair;
mod replay;
mod report;
mod run_check;
mod serve_car;
mod settings;
mod source;
mod tank_choice;
mod turn;
mod validate;
mod visit;
mod worker;
mod workshop;

pub use crate::link::transport::{StreamOffer, StreamPair};
pub use car_report::{
    CarReport, CodeLine, ConditionLine, InUseLine, LeakTestLine, MonitorLine, ReadinessLine,
    UnitLine,
};
pub use clock::{MachineClock, VisitClock};
pub use command::{Command, Complaint, LinkAddress, Quote, ReadScope, RepairDraft, ReportFormat};
pub use data_folder::default_database;
pub use error::JobError;
pub use event::{
    AdapterSeen, CheckLine, CheckState, Event, LinkState, ProofReport, RepairReport, SampleBatch,
    SetupStep, VehiclePage, VehicleRow, VisitCard, VisitRow,
};
pub use explain::{complaint_phrase, explain, explain_missing};
pub use export::export;
pub use fleet::{FleetPlan, write_fleet};
pub use history::histories;
pub use import::import;
pub use judge::{Judgement, judge};
pub use look::{Look, look_at_car};
pub use own_signals::own_signals_beside;
pub use record::{Recorded, record};
pub use recording_file::{read_log, read_recording};
pub use serve_car::{CarServer, OpenVirtualCar};
pub use validate::{
    Calibration, Coverage, Efficiency, Miss, Row, Validation, ValidationPlan, VisitOutcome,
    validate, visit_virtual_car,
};
pub use worker::Worker;
pub use workshop::Workshop;
