//! One trait for every way bytes travel, and the ways themselves.

/// The clock that all transports to real adapters share.
pub mod machine_clock;

#[cfg(feature = "bluetooth")]
mod ble;
mod faulty;
mod replay;
#[cfg(feature = "serial")]
mod serial;
mod spp;
mod stream_pair;
mod tcp;
mod transcribing;
mod waiting;

#[cfg(feature = "bluetooth")]
pub use ble::{Ble, PeripheralSeen};
pub use faulty::{Faults, Faulty};
pub use replay::Replay;
#[cfg(feature = "serial")]
pub use serial::{PortSeen, Serial};
pub use spp::{PairedDevice, SerialSocket, SerialSockets, Spp};
pub use stream_pair::{StreamOffer, StreamPair};
pub use tcp::Tcp;
pub use transcribing::Transcribing;

use super::LinkError;
use crate::units::Instant;

/// A way for bytes to reach an adapter. It owns the clock of its side: a real transport follows
/// the machine's clock, the virtual car its own, which runs as fast as the processor allows.
pub trait Transport: Send {
    /// The time on this transport's clock.
    fn now(&self) -> Instant;

    /// Sends bytes, all of them.
    ///
    /// # Errors
    /// [`LinkError::Lost`] when the connection is gone.
    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError>;

    /// Waits until bytes arrive or `deadline` has come, whichever is first, and appends what
    /// arrived to `into`. Returns how many bytes arrived; zero means the deadline came.
    ///
    /// # Errors
    /// [`LinkError::Lost`] when the connection is gone.
    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError>;

    /// Tries to get the connection back after a loss; gives up at `deadline`.
    ///
    /// # Errors
    /// What keeps it from coming back.
    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError>;

    /// Whether what carries the bytes checks them, so that they arrive whole and unchanged or not
    /// at all: Bluetooth LE and TCP do, a serial line does not. Where nothing checks them, the
    /// link has every command repeated by the adapter before it is executed.
    fn is_checked(&self) -> bool {
        false
    }
}

impl<T: Transport + ?Sized> Transport for Box<T> {
    fn now(&self) -> Instant {
        (**self).now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        (**self).write(bytes)
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        (**self).read(into, deadline)
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        (**self).reconnect(deadline)
    }

    fn is_checked(&self) -> bool {
        (**self).is_checked()
    }
}
