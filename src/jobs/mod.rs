//! What the program can do, alike for app and command line: one worker, commands in, events out.
//!
//! May import: units, analysis, vehicle, recording, evidence, checks, diagnosis, wording, link, virtual_car, store, report.
//! Never: draws.

mod clock;
mod command;
mod event;

pub use clock::{MachineClock, VisitClock};
pub use command::{Command, Complaint, LinkAddress, Quote, ReadScope, RepairDraft, ReportFormat};
pub use event::{
    AdapterSeen, CarReport, CheckLine, CheckState, CodeLine, Event, LinkState, MonitorLine,
    ProofReport, ReadinessLine, RepairReport, SampleBatch, SetupStep, VehiclePage, VehicleRow,
    VisitCard, VisitRow,
};
