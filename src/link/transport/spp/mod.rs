//! Adapters with classic Bluetooth: a serial port over the air (serial port profile, RFCOMM).
//!
//! The system's sockets wait without a limit. So a thread of its own reads, and what it reads comes
//! through a channel that can be waited for until a deadline.

#[cfg(target_os = "android")]
mod android;
mod pump;
#[cfg(test)]
mod tests;

use std::sync::mpsc::{Receiver, RecvTimeoutError};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use super::waiting::PAUSE;
use super::{Transport, machine_clock};
use crate::link::LinkError;
use crate::units::Instant;

/// A socket to the serial port of one device. Every method may wait as long as it takes; `close`,
/// called from another thread, ends the wait.
pub trait SerialSocket: Send + Sync {
    /// Connects.
    ///
    /// # Errors
    /// What keeps it from connecting.
    fn connect(&self) -> Result<(), LinkError>;

    /// Appends at least one byte, or nothing when the other side is gone.
    ///
    /// # Errors
    /// [`LinkError::Lost`].
    fn read(&self, into: &mut Vec<u8>) -> Result<usize, LinkError>;

    /// Writes all of it.
    ///
    /// # Errors
    /// [`LinkError::Lost`].
    fn write(&self, bytes: &[u8]) -> Result<(), LinkError>;

    /// Ends the connection.
    fn close(&self);
}

/// Who makes such sockets: the system's radio.
pub trait SerialSockets: Send + Sync {
    /// A socket to this address, not connected yet. A `secure` one is encrypted with the key of the
    /// pairing.
    ///
    /// # Errors
    /// What keeps it from being made: no radio, radio off, not paired, no permission, no address.
    fn socket(&self, address: &str, secure: bool) -> Result<Arc<dyn SerialSocket>, LinkError>;
}

/// A device that is paired with this one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PairedDevice {
    /// Its address.
    pub address: String,
    /// Its name, or its address once more.
    pub name: String,
}

/// The socket of the moment, so that whoever gives up can close it.
#[derive(Default)]
struct Door {
    socket: Option<Arc<dyn SerialSocket>>,
    /// Whether nobody waits for a connection any more.
    is_shut: bool,
}

/// An adapter with classic Bluetooth.
pub struct Spp {
    sockets: Arc<dyn SerialSockets>,
    address: String,
    door: Arc<Mutex<Door>>,
    arrivals: Option<Receiver<Vec<u8>>>,
}

impl Spp {
    /// Connects to the paired device of this address through the system's radio.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] with the cause; where the system has no such sockets that is
    /// [`Unreachable::NoClassic`](crate::link::Unreachable::NoClassic).
    pub fn open(address: &str, patience: Duration) -> Result<Self, LinkError> {
        Self::open_through(system_sockets()?, address, patience)
    }

    /// As [`open`](Self::open), through these sockets.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] with the cause.
    pub fn open_through(
        sockets: Arc<dyn SerialSockets>,
        address: &str,
        patience: Duration,
    ) -> Result<Self, LinkError> {
        let address = address.to_owned();
        let mut spp = Self { sockets, address, door: Arc::default(), arrivals: None };
        spp.join(patience)?;
        Ok(spp)
    }

    /// Devices that are paired with this one. Whether an adapter is among them shows only by
    /// talking to it.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] without the permission; none where the system has no such sockets,
    /// only no devices.
    pub fn paired() -> Result<Vec<PairedDevice>, LinkError> {
        #[cfg(target_os = "android")]
        return android::paired();
        #[cfg(not(target_os = "android"))]
        Ok(Vec::new())
    }

    fn join(&mut self, patience: Duration) -> Result<(), LinkError> {
        self.part();
        self.door = Arc::default();
        self.arrivals = Some(pump::start(&self.sockets, &self.address, &self.door, patience)?);
        Ok(())
    }

    /// Closes the socket, which ends the reading thread.
    fn part(&mut self) {
        self.arrivals = None;
        shut(&self.door);
    }

    fn lost(&mut self) -> LinkError {
        self.part();
        LinkError::Lost
    }
}

impl Transport for Spp {
    fn now(&self) -> Instant {
        machine_clock::now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let socket = self.door.lock().unwrap_or_else(PoisonError::into_inner).socket.clone();
        let socket = socket.filter(|_| self.arrivals.is_some()).ok_or(LinkError::Lost)?;
        socket.write(bytes).map_err(|_| self.lost())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        let arrivals = self.arrivals.as_ref().ok_or(LinkError::Lost)?;
        match arrivals.recv_timeout(deadline.saturating_since(machine_clock::now())) {
            Ok(bytes) => {
                into.extend_from_slice(&bytes);
                Ok(bytes.len())
            }
            Err(RecvTimeoutError::Timeout) => Ok(0),
            Err(RecvTimeoutError::Disconnected) => Err(self.lost()),
        }
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        loop {
            let left = deadline.saturating_since(machine_clock::now());
            match self.join(left) {
                Ok(()) => return Ok(()),
                Err(error) => {
                    if deadline.saturating_since(machine_clock::now()) <= PAUSE {
                        return Err(error);
                    }
                    machine_clock::pause(PAUSE);
                }
            }
        }
    }
}

impl Drop for Spp {
    fn drop(&mut self) {
        self.part();
    }
}

/// Closes the socket of the moment and lets no further one through.
fn shut(door: &Mutex<Door>) {
    let socket = {
        let mut door = door.lock().unwrap_or_else(PoisonError::into_inner);
        door.is_shut = true;
        door.socket.take()
    };
    // Not under the lock: closing may wait for the system.
    if let Some(socket) = socket {
        socket.close();
    }
}

#[cfg(target_os = "android")]
fn system_sockets() -> Result<Arc<dyn SerialSockets>, LinkError> {
    Ok(Arc::new(android::Sockets))
}

#[cfg(not(target_os = "android"))]
fn system_sockets() -> Result<Arc<dyn SerialSockets>, LinkError> {
    Err(crate::link::Unreachable::NoClassic.into())
}
