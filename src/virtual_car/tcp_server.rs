use std::io::{ErrorKind, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::time::Duration;

use super::garage::Garage;
use super::person::Act;

/// How long the server listens to one client before it looks at the car again.
const LISTENING: Duration = Duration::from_millis(4);

/// How long it waits before it looks for a client again.
const PATIENCE: Duration = Duration::from_millis(50);

/// Puts the car behind a network adapter: serves one client after the other until `stop` says so
/// or the listener fails. Blocks; the car should live at a real clock's pace. A listener that does
/// not block lets `stop` be asked also while nobody is connected.
///
/// A line that begins with `!` is heard by the person at the car instead of the adapter, such as
/// `!start_engine`; they do it as if asked through [`Garage::ask`]. The names are those of
/// [`Act`] in lower case with underscores; a word they do not know is answered with `?`.
///
/// # Errors
/// Failures of the listener; a client that goes away is no failure.
pub fn serve_tcp(
    listener: &TcpListener,
    garage: &Garage,
    stop: &dyn Fn() -> bool,
) -> std::io::Result<()> {
    while !stop() {
        match listener.accept() {
            Ok((stream, _)) => {
                // A client that breaks off leaves the car to the next one.
                let _gone = serve_client(stream, garage, stop);
            }
            Err(error) if error.kind() == ErrorKind::WouldBlock => garage.wait(PATIENCE),
            Err(error) => return Err(error),
        }
    }
    Ok(())
}

fn serve_client(
    mut stream: TcpStream,
    garage: &Garage,
    stop: &dyn Fn() -> bool,
) -> std::io::Result<()> {
    stream.set_nonblocking(false)?;
    stream.set_nodelay(true)?;
    stream.set_read_timeout(Some(LISTENING))?;
    let mut wire = garage.transport();
    let mut sieve = Sieve::default();
    let mut buffer = [0; 256];
    while !stop() {
        match stream.read(&mut buffer) {
            Ok(0) => return Ok(()),
            Ok(count) => {
                let bytes = buffer.get(..count).unwrap_or_default();
                let sifted = sieve.sift(bytes);
                for word in sifted.words {
                    match act(&word) {
                        Some(act) => garage.ask(act),
                        None => stream.write_all(b"?\r\r>")?,
                    }
                }
                if !sifted.bytes.is_empty() && wire.write(&sifted.bytes).is_err() {
                    return Ok(());
                }
            }
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {}
            Err(error) => return Err(error),
        }
        let mut answer = Vec::new();
        let deadline = wire.now() + Duration::from_millis(1);
        if wire.read(&mut answer, deadline).is_err() {
            return Ok(());
        }
        stream.write_all(&answer)?;
    }
    Ok(())
}

/// Parts words to the person from bytes to the adapter.
#[derive(Default)]
struct Sieve {
    /// The word being spoken, once a line began with `!`.
    word: Option<String>,
    within_line: bool,
}

struct Sifted {
    bytes: Vec<u8>,
    words: Vec<String>,
}

impl Sieve {
    fn sift(&mut self, bytes: &[u8]) -> Sifted {
        let mut sifted = Sifted { bytes: Vec::new(), words: Vec::new() };
        for byte in bytes {
            let ends = matches!(byte, b'\r' | b'\n');
            match (&mut self.word, byte) {
                (Some(_), _) if ends => sifted.words.extend(self.word.take()),
                (Some(word), byte) => word.push(char::from(*byte)),
                (None, b'!') if !self.within_line => self.word = Some(String::new()),
                (None, byte) => {
                    self.within_line = !ends;
                    sifted.bytes.push(*byte);
                }
            }
        }
        sifted
    }
}

/// The act of this name.
fn act(name: &str) -> Option<Act> {
    Some(match name {
        "key_on" => Act::KeyOn,
        "key_off" => Act::KeyOff,
        "start_engine" => Act::StartEngine,
        "stop_engine" => Act::StopEngine,
        "unplug_purge" => Act::UnplugPurge,
        "plug_purge" => Act::PlugPurge,
        "open_throttle" => Act::OpenThrottle,
        "release_throttle" => Act::ReleaseThrottle,
        "open_cap" => Act::OpenCap,
        "close_cap" => Act::CloseCap,
        "seal_vent" => Act::SealVent,
        "open_vent" => Act::OpenVent,
        "refuel" => Act::Refuel,
        "replace_part" => Act::ReplacePart,
        "drive" => Act::Drive,
        "park" => Act::Park,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::{Sieve, act};
    use crate::virtual_car::Act;

    #[test]
    fn words_to_the_person_are_parted_from_bytes_to_the_adapter() {
        let mut sieve = Sieve::default();
        let mut bytes = Vec::new();
        let mut words = Vec::new();
        // Arrives in portions that fit no line.
        for portion in ["01", "0C\r!start", "_engine\r", "AT@1!\r!key", "_on\r\n"] {
            let sifted = sieve.sift(portion.as_bytes());
            bytes.extend(sifted.bytes);
            words.extend(sifted.words);
        }
        assert_eq!(bytes, b"010C\rAT@1!\r\n");
        assert_eq!(words, ["start_engine", "key_on"]);
        assert_eq!(act("start_engine"), Some(Act::StartEngine));
        assert_eq!(act("fly"), None);
    }
}
