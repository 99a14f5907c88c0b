use std::io::{Read as _, Write as _};
use std::net::{TcpStream, ToSocketAddrs as _};
use std::time::Duration;

use super::waiting::{PAUSE, SHORTEST_WAIT, read_until};
use super::{Transport, machine_clock};
use crate::link::{LinkError, error::Unreachable};
use crate::units::Instant;

/// A network adapter, or any serial stream behind a TCP port.
pub struct Tcp {
    host: String,
    port: u16,
    stream: Option<TcpStream>,
}

impl Tcp {
    /// Connects, within `patience`.
    ///
    /// # Errors
    /// [`LinkError::Unreachable`] with the cause.
    pub fn open(host: &str, port: u16, patience: Duration) -> Result<Self, LinkError> {
        let stream = connect(host, port, patience)?;
        Ok(Self { host: host.to_owned(), port, stream: Some(stream) })
    }

    fn lost(&mut self) -> LinkError {
        self.stream = None;
        LinkError::Lost
    }
}

fn connect(host: &str, port: u16, patience: Duration) -> Result<TcpStream, LinkError> {
    let mut why = Unreachable::NotFound;
    let addresses = (host, port).to_socket_addrs().map_err(|_| Unreachable::NotFound)?;
    for address in addresses {
        match TcpStream::connect_timeout(&address, patience.max(SHORTEST_WAIT)) {
            Ok(stream) => {
                // Requests are a few bytes; waiting to fill a packet would cost a round trip each.
                // A stream that refuses the option still works.
                let _ = stream.set_nodelay(true);
                return Ok(stream);
            }
            Err(error) => why = error.kind().into(),
        }
    }
    Err(why.into())
}

impl Transport for Tcp {
    fn now(&self) -> Instant {
        machine_clock::now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let Some(stream) = &mut self.stream else {
            return Err(LinkError::Lost);
        };
        stream.write_all(bytes).map_err(|_| self.lost())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        let Some(stream) = &mut self.stream else {
            return Err(LinkError::Lost);
        };
        let read = read_until(into, deadline, |wait, buffer| {
            stream.set_read_timeout(Some(wait))?;
            stream.read(buffer)
        });
        if read.is_err() {
            self.stream = None;
        }
        read
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        self.stream = None;
        loop {
            let left = deadline.saturating_since(machine_clock::now());
            match connect(&self.host, self.port, left) {
                Ok(stream) => {
                    self.stream = Some(stream);
                    return Ok(());
                }
                Err(error) if left <= PAUSE => return Err(error),
                Err(_) => machine_clock::pause(PAUSE),
            }
        }
    }

    fn is_checked(&self) -> bool {
        true
    }
}

#[cfg(test)]
mod tests {
    use std::net::TcpListener;

    use super::*;

    fn soon() -> Instant {
        machine_clock::now() + Duration::from_secs(5)
    }

    #[test]
    fn bytes_pass_and_a_close_is_a_loss_that_can_be_mended() {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = listener.local_addr().unwrap().port();
        let peer = std::thread::spawn(move || {
            for _ in 0..2 {
                let (mut stream, _) = listener.accept().unwrap();
                let mut buffer = [0_u8; 16];
                let count = stream.read(&mut buffer).unwrap();
                stream.write_all(buffer.get(..count).unwrap()).unwrap();
            }
        });
        let mut tcp = Tcp::open("127.0.0.1", port, Duration::from_secs(5)).unwrap();
        for round in 0..2 {
            tcp.write(b"ATI\r").unwrap();
            let mut bytes = Vec::new();
            while bytes.len() < 4 {
                assert_ne!(tcp.read(&mut bytes, soon()), Ok(0));
            }
            assert_eq!(bytes, b"ATI\r");
            if round == 0 {
                assert_eq!(tcp.read(&mut bytes, soon()), Err(LinkError::Lost));
                assert_eq!(tcp.write(b"x"), Err(LinkError::Lost));
                tcp.reconnect(soon()).unwrap();
            }
        }
        peer.join().unwrap();
    }

    #[test]
    fn a_closed_port_refuses() {
        let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
        let opened = Tcp::open("127.0.0.1", port, Duration::from_secs(1)).err();
        assert_eq!(opened, Some(LinkError::Unreachable(Unreachable::ConnectionRefused)));
    }
}
