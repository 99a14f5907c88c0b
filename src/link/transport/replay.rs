use std::collections::VecDeque;

use super::Transport;
use crate::link::LinkError;
use crate::link::transcript::{Direction, Entry, Transcript};
use crate::units::Instant;

/// Plays a transcript back: what was received follows what was sent, at the times of then. What is
/// sent must be what was sent then.
#[derive(Clone, Debug)]
pub struct Replay {
    entries: VecDeque<Entry>,
    played: usize,
    now: Instant,
    /// Sent bytes of the transcript that are still to be sent now.
    awaited: Vec<u8>,
}

impl Replay {
    /// From a transcript.
    pub fn new(transcript: &Transcript) -> Self {
        let entries: VecDeque<Entry> = transcript.entries().cloned().collect();
        let now = entries.front().map_or(Instant::ZERO, |entry| entry.at);
        Self { entries, played: 0, now, awaited: Vec::new() }
    }

    fn next_of(&mut self, direction: Direction) -> Option<Entry> {
        let is_next = self.entries.front().is_some_and(|entry| entry.direction == direction);
        let entry = if is_next { self.entries.pop_front() } else { None };
        if let Some(entry) = &entry {
            self.played = self.played.saturating_add(1);
            self.now = self.now.max(entry.at);
        }
        entry
    }
}

impl Transport for Replay {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        while self.awaited.len() < bytes.len() {
            match self.next_of(Direction::Sent) {
                Some(entry) => self.awaited.extend(entry.bytes),
                // The transcript ends where its connection did.
                None if self.entries.is_empty() => return Err(LinkError::Lost),
                None => return Err(LinkError::TranscriptDiffers { entry: self.played }),
            }
        }
        if self.awaited.get(..bytes.len()) != Some(bytes) {
            return Err(LinkError::TranscriptDiffers { entry: self.played.saturating_sub(1) });
        }
        self.awaited.drain(..bytes.len());
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        match self.entries.front() {
            Some(entry) if entry.direction == Direction::Received && entry.at <= deadline => {
                let bytes = self.next_of(Direction::Received).map(|entry| entry.bytes);
                let bytes = bytes.unwrap_or_default();
                into.extend_from_slice(&bytes);
                Ok(bytes.len())
            }
            Some(entry) if entry.direction == Direction::Lost && entry.at <= deadline => {
                self.next_of(Direction::Lost);
                Err(LinkError::Lost)
            }
            None => Err(LinkError::Lost),
            Some(_) => {
                self.now = self.now.max(deadline);
                Ok(0)
            }
        }
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        self.awaited.clear();
        self.next_of(Direction::Back).map(drop).ok_or(LinkError::Lost)
    }

    fn is_checked(&self) -> bool {
        // As it was then: the echo was turned off, or a carriage return went off alone.
        let sent = self.entries.iter().filter(|entry| entry.direction == Direction::Sent);
        let told = sent
            .map(|entry| entry.bytes.as_slice())
            .find(|it| [&b"ATE0\r"[..], b"\r"].contains(it));
        told != Some(b"\r")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn transcript() -> Transcript {
        let text = "1000 > 010C\\r\n21000 < 7E8 04 41\n22000 <  0C\\r>\n5000000 ! \n5100000 + \n";
        Transcript::from_text(text).unwrap()
    }

    #[test]
    fn what_was_received_comes_at_the_times_of_then() {
        let mut replay = Replay::new(&transcript());
        let mut bytes = Vec::new();
        replay.write(b"010C\r").unwrap();
        assert_eq!(replay.read(&mut bytes, Instant::from_micros(20_000)), Ok(0));
        assert_eq!(replay.now(), Instant::from_micros(20_000));
        assert_eq!(replay.read(&mut bytes, Instant::from_seconds(1.0)), Ok(9));
        assert_eq!(replay.read(&mut bytes, Instant::from_seconds(1.0)), Ok(5));
        assert_eq!(bytes, b"7E8 04 41 0C\r>");
        assert_eq!(replay.now(), Instant::from_micros(22_000));
        let late = Instant::from_seconds(9.0);
        assert_eq!(replay.read(&mut bytes, late), Err(LinkError::Lost));
        assert_eq!(replay.reconnect(late), Ok(()));
        assert_eq!(replay.write(b"x"), Err(LinkError::Lost));
    }

    #[test]
    fn another_request_than_then_is_named() {
        let mut replay = Replay::new(&transcript());
        assert_eq!(replay.write(b"010D\r"), Err(LinkError::TranscriptDiffers { entry: 0 }));
    }
}
