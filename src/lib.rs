//! Stilltank finds the part behind an evaporative-emissions fault.
//!
//! The layers, lowest first. Each opens with its charter: what it is, what it may import, and what
//! it never does. `tests/tidy` reads the charters and fails on an import that a charter does not
//! allow.

pub mod units;

pub mod platform;

pub mod analysis;

pub mod vehicle;

pub mod recording;

pub mod evidence;

pub mod checks;

pub mod diagnosis;

pub mod wording;

pub mod link;

pub mod virtual_car;

pub mod store;

pub mod report;

pub mod jobs;

#[cfg(feature = "ui")]
pub mod ui;

pub mod cli;

#[cfg(target_os = "android")]
mod android_main;
