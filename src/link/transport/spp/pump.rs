use std::sync::mpsc::{Receiver, Sender, SyncSender, channel, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use super::{Door, SerialSocket, SerialSockets, shut};
use crate::link::LinkError;
use crate::link::error::Unreachable;

/// Connects within `patience` and hands on what arrives, piece by piece. The channel ends with the
/// connection.
///
/// # Errors
/// What keeps it from connecting.
pub(super) fn start(
    sockets: &Arc<dyn SerialSockets>,
    address: &str,
    door: &Arc<Mutex<Door>>,
    patience: Duration,
) -> Result<Receiver<Vec<u8>>, LinkError> {
    let (opened, answer) = sync_channel(1);
    let (outbox, arrivals) = channel();
    let (sockets, address) = (Arc::clone(sockets), address.to_owned());
    let its_door = Arc::clone(door);
    std::thread::Builder::new()
        .name(String::from("classic bluetooth"))
        .spawn(move || serve(sockets.as_ref(), &address, &its_door, &opened, &outbox))
        .map_err(|error| Unreachable::from(error.kind()))?;
    match answer.recv_timeout(patience) {
        Ok(Ok(())) => Ok(arrivals),
        Ok(Err(error)) => Err(error),
        Err(_) => {
            shut(door);
            Err(Unreachable::TimedOut.into())
        }
    }
}

fn serve(
    sockets: &dyn SerialSockets,
    address: &str,
    door: &Mutex<Door>,
    opened: &SyncSender<Result<(), LinkError>>,
    outbox: &Sender<Vec<u8>>,
) {
    // An answer that nobody waits for any more is of no use: results of sends are dropped.
    match connect(sockets, address, door) {
        Ok(socket) => {
            let _ = opened.send(Ok(()));
            hand_on(socket.as_ref(), outbox);
            socket.close();
        }
        Err(error) => {
            let _ = opened.send(Err(error));
        }
    }
}

/// Tries the encrypted way first; many cheap adapters know only the other one.
fn connect(
    sockets: &dyn SerialSockets,
    address: &str,
    door: &Mutex<Door>,
) -> Result<Arc<dyn SerialSocket>, LinkError> {
    let mut why = LinkError::Lost;
    for secure in [true, false] {
        let socket = sockets.socket(address, secure)?;
        {
            let mut door = door.lock().unwrap_or_else(PoisonError::into_inner);
            if door.is_shut {
                return Err(Unreachable::TimedOut.into());
            }
            door.socket = Some(Arc::clone(&socket));
        }
        match socket.connect() {
            Ok(()) => return Ok(socket),
            Err(error) => why = error,
        }
        socket.close();
        // Another way does not help against these.
        if matches!(
            why,
            LinkError::Unreachable(
                Unreachable::PermissionDenied | Unreachable::RadioOff | Unreachable::NoRadio
            )
        ) {
            break;
        }
    }
    Err(why)
}

fn hand_on(socket: &dyn SerialSocket, outbox: &Sender<Vec<u8>>) {
    loop {
        let mut bytes = Vec::new();
        match socket.read(&mut bytes) {
            Ok(count) if count > 0 => {
                if outbox.send(bytes).is_err() {
                    return;
                }
            }
            _ => return,
        }
    }
}
