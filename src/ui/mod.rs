//! Glue between the worker and the window.
//!
//! May import: units, platform, vehicle, recording, evidence, checks, diagnosis, wording, jobs.
//! Never: talks to a car, a file or the database.

mod adapter_management;
mod backups_adapter;
mod car_adapter;
mod car_sections;
mod check_adapter;
mod closing_adapter;
mod comparison_adapter;
mod connect_adapter;
mod dates;
mod details_adapter;
mod device_adapter;
mod explore;
mod histories_adapter;
mod known;
mod live_adapter;
mod more_adapter;
mod moving_adapter;
mod next_action;
mod photos_adapter;
mod plot_model;
mod proof_adapter;
mod repair_adapter;
mod repair_savings;
mod report_adapter;
mod session;
mod settings_adapter;
mod signals_adapter;
mod sound;
pub mod strip;
mod strip_zoom;
mod vehicle_adapter;
mod vehicle_lanes;
mod vehicles_adapter;
mod verdict_adapter;
mod visit_adapter;
mod visit_car;
mod visit_foot;
mod window;
mod worker_bridge;

mod previews;
pub mod stage;

pub use markup::AppWindow;
pub use window::{StartUp, UiError, device_changed, serve, serve_failure};

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
