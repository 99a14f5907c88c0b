//! Glue between the worker and the window.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis, wording, jobs.
//! Never: talks to a car, a file or the database.
