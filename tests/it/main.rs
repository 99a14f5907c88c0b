//! The core's integration tests, in one binary.
#![allow(
    clippy::unwrap_used,
    clippy::print_stderr,
    reason = "a failing test says so by panicking, and a skipped part says so on standard error"
)]

mod analysis_behaviour;
mod analysis_published;
mod command_line;
mod independent_visits;
mod json_schema;
mod main_job;
mod report;
mod sealed_leak;
mod sealed_tank;
#[cfg(all(unix, feature = "serial"))]
mod serial_line;
mod survival;
mod tools;
mod virtual_car_over_link;
