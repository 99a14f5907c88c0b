//! Whatever an adapter says, a link ends in a typed error or in answers that fit what was asked.
#![no_main]

use std::collections::VecDeque;
use std::time::Duration;

use libfuzzer_sys::fuzz_target;
use stilltank::link::{Link, LinkError, Request, Rotation, Transport, Wanted};
use stilltank::units::Instant;

/// Answers each command with the next piece of the input, and then with silence. Where nothing
/// checks its bytes, it repeats what it receives up to the carriage return.
struct Script {
    pieces: VecDeque<Vec<u8>>,
    is_checked: bool,
    echo: Vec<u8>,
    now: Instant,
    is_asked: bool,
}

impl Transport for Script {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.is_asked |= bytes.contains(&b'\r');
        if !self.is_checked && bytes != b"\r" {
            self.echo.extend_from_slice(bytes);
        }
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        if !self.echo.is_empty() {
            let length = self.echo.len();
            into.append(&mut self.echo);
            return Ok(length);
        }
        if !self.is_asked {
            self.now = self.now.max(deadline);
            return Ok(0);
        }
        self.is_asked = false;
        let piece = self.pieces.pop_front().ok_or(LinkError::Lost)?;
        into.extend_from_slice(&piece);
        self.now = self.now + Duration::from_millis(10);
        Ok(piece.len())
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        Err(LinkError::Lost)
    }

    fn is_checked(&self) -> bool {
        self.is_checked
    }
}

/// What a sound adapter says while it is set up, so that the input reaches further.
const SET_UP: [&[u8]; 9] = [
    b"\rNAME\r\r>",
    b"OK\r\r>",
    b"OK\r\r>",
    b"OK\r\r>",
    b"OK\r\r>",
    b"NAME\r\r>",
    b"12.6V\r\r>",
    b"OK\r\r>",
    b"7E8064100BE3EA81355\r\r>",
];

fuzz_target!(|input: &[u8]| {
    let Some((first, rest)) = input.split_first() else { return };
    let mut pieces: VecDeque<Vec<u8>> = VecDeque::new();
    let is_checked = first & 2 == 2;
    if first & 1 == 1 {
        let proof: &[u8] = if is_checked { b"OK\r\r>" } else { b"?\r\r>" };
        pieces.extend(SET_UP.iter().map(|it| it.to_vec()));
        pieces.insert(1, proof.to_vec());
        pieces.push_back(b"A6\r\r>".to_vec());
        pieces.push_back(b"7E8064100BE3EA81355\r\r>".to_vec());
    }
    pieces.extend(rest.split_inclusive(|it| *it == b'>').map(<[u8]>::to_vec));
    let (now, echo, is_asked) = (Instant::ZERO, Vec::new(), false);
    let script = Script { pieces, is_checked, echo, now, is_asked };
    let Ok(mut link) = Link::open(Box::new(script), &mut |_| {}) else { return };
    let mut rotation =
        Rotation::new(vec![Wanted::parameter(0x0C, 2, 10.0), Wanted::parameter(0x0B, 1, 10.0)]);
    for _ in 0..4 {
        for reading in link.poll(&mut rotation).unwrap_or_default() {
            assert!(matches!(reading.data.len(), 1 | 2));
        }
    }
    if let Ok(answers) = link.request(&Request::new(0x09, &[0x02])) {
        assert!(!answers.is_empty());
        assert!(answers.iter().all(|it| it.payload.starts_with(&[0x49, 0x02])));
    }
});
