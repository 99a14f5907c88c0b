//! Bytes to and from the car: transports, the adapter's dialect, framing, scheduling.
//!
//! May import: units.
//! Never: knows what a payload means, or waits outside `transport` and the driver.
#![deny(clippy::indexing_slicing, clippy::arithmetic_side_effects)]

mod error;
pub mod transport;

pub use error::LinkError;
pub use transport::Transport;
