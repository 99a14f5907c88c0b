use std::sync::Arc;

use super::{PairedDevice, SerialSocket, SerialSockets};
use crate::link::LinkError;
use crate::link::error::Unreachable;
use crate::platform::android::{ClassicSocket, JavaTrouble, paired_devices};

/// The phone's radio.
pub(super) struct Sockets;

impl SerialSockets for Sockets {
    fn socket(&self, address: &str, secure: bool) -> Result<Arc<dyn SerialSocket>, LinkError> {
        let socket = ClassicSocket::new(address, secure).map_err(|it| cause_of(&it))?;
        Ok(Arc::new(socket))
    }
}

impl SerialSocket for ClassicSocket {
    fn connect(&self) -> Result<(), LinkError> {
        Self::connect(self).map_err(|it| cause_of(&it))
    }

    fn read(&self, into: &mut Vec<u8>) -> Result<usize, LinkError> {
        Self::read(self, into).map_err(|_| LinkError::Lost)
    }

    fn write(&self, bytes: &[u8]) -> Result<(), LinkError> {
        Self::write(self, bytes).map_err(|_| LinkError::Lost)
    }

    fn close(&self) {
        Self::close(self);
    }
}

/// Devices paired with this phone.
pub(super) fn paired() -> Result<Vec<PairedDevice>, LinkError> {
    let paired = paired_devices().map_err(|it| cause_of(&it))?;
    Ok(paired.into_iter().map(|(address, name)| PairedDevice { address, name }).collect())
}

/// The words of `ClassicSocket.java`; the system's own sentences differ from maker to maker.
fn cause_of(trouble: &JavaTrouble) -> LinkError {
    let why = match trouble.0.as_str() {
        "no_radio" => Unreachable::NoRadio,
        "radio_off" => Unreachable::RadioOff,
        "no_address" => Unreachable::InvalidAddress,
        "not_paired" => Unreachable::PairingNeeded,
        "no_permission" => Unreachable::PermissionDenied,
        // A refusal of the list of paired devices comes as the system's own exception.
        sentence if sentence.contains("BLUETOOTH_CONNECT") => Unreachable::PermissionDenied,
        _ => Unreachable::ConnectionRefused,
    };
    why.into()
}
