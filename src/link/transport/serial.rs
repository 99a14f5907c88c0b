use std::io::{Read as _, Write as _};

use serialport::{ErrorKind as PortErrorKind, SerialPort, SerialPortType};

use super::waiting::{PAUSE, SHORTEST_WAIT, read_until};
use super::{Transport, machine_clock};
use crate::link::{Link, LinkError, error::Unreachable};
use crate::units::Instant;

/// A serial port of this machine.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PortSeen {
    /// The name to open it by.
    pub device: String,
    /// What the system calls the thing that is plugged in, if it says.
    pub product: Option<String>,
}

/// A wired adapter, or a Bluetooth serial device that the system shows as a port.
pub struct Serial {
    device: String,
    baud: u32,
    port: Option<Box<dyn SerialPort>>,
}

impl Serial {
    /// Rates that adapters use, commonest first (common practice, no source).
    pub const USUAL_RATES: [u32; 6] = [38_400, 115_200, 9_600, 57_600, 230_400, 500_000];

    /// Opens a port; without a rate, the first usual one at which an adapter answers, or the
    /// commonest if none does.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] with the cause.
    pub fn open(device: &str, baud: Option<u32>) -> Result<Self, LinkError> {
        if let Some(baud) = baud {
            return Self::at(device, baud);
        }
        for rate in Self::USUAL_RATES {
            // A rate that this port cannot do is passed over; a port that is gone is not.
            match Self::at(device, rate) {
                Ok(mut serial) => {
                    if Link::is_answered(&mut serial)? {
                        return Ok(serial);
                    }
                }
                Err(LinkError::Unreachable(Unreachable::InvalidAddress)) => {}
                Err(error) => return Err(error),
            }
        }
        let [commonest, ..] = Self::USUAL_RATES;
        Self::at(device, commonest)
    }

    fn at(device: &str, baud: u32) -> Result<Self, LinkError> {
        Ok(Self { device: device.to_owned(), baud, port: Some(open(device, baud)?) })
    }

    /// Bits per second.
    pub fn baud(&self) -> u32 {
        self.baud
    }

    /// The ports of this machine.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] if the system does not list them.
    pub fn ports() -> Result<Vec<PortSeen>, LinkError> {
        let ports = serialport::available_ports().map_err(|error| why(error.kind()))?;
        let seen = ports.into_iter().map(|port| PortSeen {
            device: port.port_name,
            product: match port.port_type {
                SerialPortType::UsbPort(usb) => usb.product,
                _ => None,
            },
        });
        Ok(seen.collect())
    }

    fn lost(&mut self) -> LinkError {
        self.port = None;
        LinkError::Lost
    }
}

fn open(device: &str, baud: u32) -> Result<Box<dyn SerialPort>, LinkError> {
    let port = serialport::new(device, baud).timeout(SHORTEST_WAIT).open();
    port.map_err(|error| why(error.kind()).into())
}

fn why(kind: PortErrorKind) -> Unreachable {
    match kind {
        // A lock by another program and a device that was unplugged look alike here.
        PortErrorKind::NoDevice => Unreachable::Busy,
        PortErrorKind::InvalidInput => Unreachable::InvalidAddress,
        PortErrorKind::Io(kind) => kind.into(),
        PortErrorKind::Unknown => Unreachable::System,
    }
}

impl Transport for Serial {
    fn now(&self) -> Instant {
        machine_clock::now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let Some(port) = &mut self.port else {
            return Err(LinkError::Lost);
        };
        port.write_all(bytes).map_err(|_| self.lost())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        let Some(port) = &mut self.port else {
            return Err(LinkError::Lost);
        };
        let read = read_until(into, deadline, |wait, buffer| {
            port.set_timeout(wait)?;
            port.read(buffer)
        });
        if read.is_err() {
            self.port = None;
        }
        read
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        self.port = None;
        loop {
            match open(&self.device, self.baud) {
                Ok(port) => {
                    self.port = Some(port);
                    return Ok(());
                }
                Err(error) if machine_clock::now() + PAUSE >= deadline => return Err(error),
                Err(_) => machine_clock::pause(PAUSE),
            }
        }
    }
}

#[cfg(test)]
#[cfg(unix)]
mod tests {
    use std::time::Duration;

    use serialport::TTYPort;

    use super::*;

    /// A pair of pseudo-terminals: what is written to one is read from the other.
    fn pair() -> (TTYPort, String) {
        let (master, slave) = TTYPort::pair().unwrap();
        let name = slave.name().unwrap();
        (master, name)
    }

    fn soon() -> Instant {
        machine_clock::now() + Duration::from_secs(5)
    }

    /// Answers every line with a prompt, until the other side is gone.
    fn adapter(mut port: TTYPort) -> std::thread::JoinHandle<()> {
        std::thread::spawn(move || {
            port.set_timeout(Duration::from_secs(5)).unwrap();
            let mut byte = [0_u8];
            let mut line = Vec::new();
            while port.read_exact(&mut byte).is_ok() {
                line.extend(byte);
                if byte == *b"\r" {
                    line.extend(b"OK\r\r>");
                    if port.write_all(&line).is_err() {
                        return;
                    }
                    line.clear();
                }
            }
        })
    }

    #[test]
    fn bytes_pass_at_every_usual_rate() {
        for rate in Serial::USUAL_RATES {
            let (mut other, name) = pair();
            let mut serial = Serial::open(&name, Some(rate)).unwrap();
            assert_eq!(serial.baud(), rate);
            serial.write(b"ATI\r").unwrap();
            let mut heard = [0_u8; 4];
            other.set_timeout(Duration::from_secs(5)).unwrap();
            other.read_exact(&mut heard).unwrap();
            other.write_all(&heard).unwrap();
            let mut bytes = Vec::new();
            while bytes.len() < 4 {
                assert_ne!(serial.read(&mut bytes, soon()), Ok(0));
            }
            assert_eq!(bytes, b"ATI\r");
        }
    }

    #[test]
    fn a_rate_is_found_where_an_adapter_answers() {
        let (other, name) = pair();
        let peer = adapter(other);
        let serial = Serial::open(&name, None).unwrap();
        assert_eq!(serial.baud(), 38_400);
        drop(serial);
        peer.join().unwrap();
    }

    #[test]
    fn a_hang_up_is_a_loss_and_an_unknown_port_is_not_found() {
        let (other, name) = pair();
        let mut serial = Serial::open(&name, Some(9600)).unwrap();
        drop(other);
        let mut bytes = Vec::new();
        assert_eq!(serial.read(&mut bytes, soon()), Err(LinkError::Lost));
        assert_eq!(serial.write(b"x"), Err(LinkError::Lost));
        let missing = Serial::open("/dev/no-such-port", Some(9600)).err();
        assert_eq!(missing, Some(LinkError::Unreachable(Unreachable::NotFound)));
    }
}
