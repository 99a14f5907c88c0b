//! Adapters that carry a serial stream over Bluetooth LE, whichever UUIDs they use.
//!
//! The platform's Bluetooth stack is asynchronous; it lives on a thread of its own with a
//! single-threaded runtime (the library below panics on others), and plain channels lead to it.

use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, channel, sync_channel};
use std::time::Duration;

use tokio::sync::mpsc::UnboundedSender;

use super::{StreamOffer, StreamPair, Transport, machine_clock};
use crate::link::LinkError;
use crate::link::error::Unreachable;
use crate::units::Instant;

mod cause;
mod radio;
mod serial_stream;

/// Beyond the order's own time limit, for the thread to say so.
const GRACE: Duration = Duration::from_secs(2);

/// Longest time for one write: the system may repeat it on the air.
const WRITE_PATIENCE: Duration = Duration::from_secs(5);

/// A peripheral in reach.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PeripheralSeen {
    /// The name that it sends, if any.
    pub name: Option<String>,
    /// Its address, or what the system gives in its place.
    pub address: String,
    /// Signal strength in dBm.
    pub strength_dbm: Option<i16>,
}

/// Which peripheral, and over which of its characteristics if somebody chose.
#[derive(Clone, Debug)]
struct Wanted {
    name: String,
    stream: Option<StreamPair>,
}

/// What the transport asks of the radio's thread.
enum Order {
    Write(Vec<u8>, SyncSender<Result<(), LinkError>>),
    Reconnect(Duration, SyncSender<Result<(), LinkError>>),
}

/// What comes from the radio's thread.
enum Arrival {
    Bytes(Vec<u8>),
    Lost,
}

/// A wireless adapter.
pub struct Ble {
    orders: UnboundedSender<Order>,
    arrivals: Receiver<Arrival>,
    is_lost: bool,
}

impl Ble {
    /// Looks for a peripheral by its name or address, connects within `patience`, and subscribes
    /// to its stream: the one over the chosen characteristics, or else over those that fit best.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] with the cause: no radio, radio off, not found, refused, pairing
    /// needed, busy, no permission, no serial stream.
    pub fn open(
        name_or_address: &str,
        chosen: Option<&StreamPair>,
        patience: Duration,
    ) -> Result<Self, LinkError> {
        let (orders, inbox) = tokio::sync::mpsc::unbounded_channel();
        let (outbox, arrivals) = channel();
        let (opened, answer) = sync_channel(1);
        let wanted = Wanted { name: name_or_address.to_owned(), stream: chosen.cloned() };
        std::thread::Builder::new()
            .name(String::from("bluetooth"))
            .spawn(move || radio::serve(&wanted, patience, &opened, inbox, &outbox))
            .map_err(|error| Unreachable::from(error.kind()))?;
        answer
            .recv_timeout(patience.saturating_add(GRACE))
            .map_err(|_| Unreachable::TimedOut)??;
        Ok(Self { orders, arrivals, is_lost: false })
    }

    /// Peripherals in reach, strongest first, after looking for this long.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] with the cause: no radio, radio off, no permission.
    pub fn scan(time: Duration) -> Result<Vec<PeripheralSeen>, LinkError> {
        let (outbox, answer) = sync_channel(1);
        std::thread::Builder::new()
            .name(String::from("bluetooth scan"))
            .spawn(move || outbox.send(radio::scan(time)))
            .map_err(|error| Unreachable::from(error.kind()))?;
        let patience = time.saturating_add(GRACE).saturating_add(GRACE);
        answer.recv_timeout(patience).map_err(|_| Unreachable::TimedOut)?
    }

    /// Looks for peripherals on this thread and shows what is in reach, again and again, until
    /// `on_look` says `false`. Order and length of the list follow the system's.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] with the cause: no radio, radio off, no permission.
    pub fn watch(on_look: &mut dyn FnMut(Vec<PeripheralSeen>) -> bool) -> Result<(), LinkError> {
        radio::watch(on_look)
    }

    /// Connects to a peripheral and tells which pairs of characteristics could carry its stream.
    ///
    /// # Errors
    /// As [`Ble::open`]; a peripheral without any such pair gives an empty list.
    pub fn streams(
        name_or_address: &str,
        patience: Duration,
    ) -> Result<Vec<StreamOffer>, LinkError> {
        let (outbox, answer) = sync_channel(1);
        let name = name_or_address.to_owned();
        std::thread::Builder::new()
            .name(String::from("bluetooth streams"))
            .spawn(move || outbox.send(radio::streams(&name, patience)))
            .map_err(|error| Unreachable::from(error.kind()))?;
        answer
            .recv_timeout(patience.saturating_add(GRACE).saturating_add(GRACE))
            .map_err(|_| Unreachable::TimedOut)?
    }

    fn order(
        &mut self,
        make: impl FnOnce(SyncSender<Result<(), LinkError>>) -> Order,
        patience: Duration,
    ) -> Result<(), LinkError> {
        let (outbox, answer) = sync_channel(1);
        self.orders.send(make(outbox)).map_err(|_| LinkError::Lost)?;
        answer.recv_timeout(patience).map_err(|_| LinkError::Lost)?
    }
}

impl Transport for Ble {
    fn now(&self) -> Instant {
        machine_clock::now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        if self.is_lost {
            return Err(LinkError::Lost);
        }
        let bytes = bytes.to_vec();
        let result = self.order(|outbox| Order::Write(bytes, outbox), WRITE_PATIENCE);
        self.is_lost |= result.is_err();
        result
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        if self.is_lost {
            return Err(LinkError::Lost);
        }
        let wait = deadline.saturating_since(machine_clock::now());
        match self.arrivals.recv_timeout(wait) {
            Ok(Arrival::Bytes(bytes)) => {
                into.extend_from_slice(&bytes);
                Ok(bytes.len())
            }
            Err(RecvTimeoutError::Timeout) => Ok(0),
            Ok(Arrival::Lost) | Err(RecvTimeoutError::Disconnected) => {
                self.is_lost = true;
                Err(LinkError::Lost)
            }
        }
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        let patience = deadline.saturating_since(machine_clock::now());
        let grace = patience.saturating_add(GRACE);
        self.order(|outbox| Order::Reconnect(patience, outbox), grace)?;
        // What came before the loss belongs to nothing that will be asked now.
        while self.arrivals.try_recv().is_ok() {}
        self.is_lost = false;
        Ok(())
    }

    fn is_checked(&self) -> bool {
        true
    }
}
