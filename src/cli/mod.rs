//! The command line: one file a command.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis, wording, link, report, jobs, ui.
//! Never: holds a rule of the job.
