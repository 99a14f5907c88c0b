//! The core's integration tests, in one binary.

mod analysis_behaviour;
mod analysis_published;
mod command_line;
mod json_schema;
mod main_job;
mod report;
mod virtual_car_over_link;
