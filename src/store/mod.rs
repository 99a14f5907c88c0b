//! Histories in SQLite: vehicles, visits, recordings, verdicts, repairs.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis.
//! Never: judges, or shows.
