//! The window without a display: real pixels, real queries, mocked time.
#![allow(clippy::unwrap_used, reason = "a failing test says so by panicking")]

mod comparison;
mod connect;
mod contrast;
mod controls;
mod cuts;
mod device;
mod histories;
mod job;
mod keeping;
mod live;
mod pictures;
mod stage;
mod translations;
mod vehicle;
