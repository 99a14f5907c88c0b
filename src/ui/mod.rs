//! Glue between the worker and the window.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis, wording, jobs.
//! Never: talks to a car, a file or the database.

#[allow(
    missing_docs,
    unreachable_pub,
    unused_qualifications,
    clippy::all,
    clippy::unwrap_used,
    clippy::todo,
    clippy::allow_attributes_without_reason,
    reason = "generated from the markup"
)]
mod markup {
    slint::include_modules!();
}
