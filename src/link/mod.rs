//! Bytes to and from the car: transports, the adapter's dialect, framing, scheduling.
//!
//! May import: units, platform.
//! Never: knows what a payload means, or waits outside `transport` and the driver.
#![cfg_attr(not(test), deny(clippy::indexing_slicing, clippy::arithmetic_side_effects))]

mod adapter;
mod answer;
mod connection;
mod driver;
mod error;
mod interpretation;
mod isotp;
mod legacy_frame;
mod scheduler;
mod transcript;
pub mod transport;
mod trust;

pub use adapter::{Capabilities, Found, Protocol, SetupStep};
pub use answer::{Answer, UnitId};
pub use driver::{AdapterProfile, Link};
pub use error::{BusTrouble, LinkError, Unreachable};
pub use scheduler::{
    Consent, Item, RateReport, RateRow, Reading, Request, Rotation, Target, Wanted,
};
pub use transcript::{Direction, Entry, Transcript};
pub use transport::Transport;
