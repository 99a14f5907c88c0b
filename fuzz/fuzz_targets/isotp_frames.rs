//! Frames in any order from several units never make an answer that no unit sent: each answer is
//! as long as its first frame announces, and consists of the bytes of that unit's frames.
#![no_main]

use std::time::Duration;

use libfuzzer_sys::fuzz_target;
use stilltank::link::{Link, LinkError, Request, Transport};
use stilltank::units::Instant;

/// A sound adapter whose car answers one request with the lines of the input.
struct Adapter {
    lines: String,
    line: Vec<u8>,
    now: Instant,
    answer: Vec<u8>,
}

impl Transport for Adapter {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.line.extend_from_slice(bytes);
        if self.line.ends_with(b"\r") {
            let answer = match self.line.as_slice() {
                b"ATDPN\r" => "A6\r",
                b"0100\r" => "7E8064100BE3EA81355\r",
                line if line.contains(&b'r') => "?\r",
                line if line.starts_with(b"AT") => "OK\r",
                _ => self.lines.as_str(),
            };
            self.answer = format!("{answer}\r>").into_bytes();
            self.line.clear();
        } else {
            // A command that is proofread: it is repeated before its end comes.
            self.answer = bytes.to_vec();
        }
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        if self.answer.is_empty() {
            self.now = self.now.max(deadline);
        } else {
            self.now = self.now + Duration::from_millis(10);
        }
        into.append(&mut self.answer);
        Ok(into.len())
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        Err(LinkError::Lost)
    }

    fn is_checked(&self) -> bool {
        true
    }
}

fuzz_target!(|input: &[u8]| {
    let frames: Vec<(u32, &[u8])> = input
        .chunks_exact(9)
        .filter_map(|it| it.split_first())
        .map(|(unit, data)| (0x7E8 + u32::from(unit & 3), data))
        .collect();
    let line = |(unit, data): &(u32, &[u8])| {
        let digits: String = data.iter().map(|it| format!("{it:02X}")).collect();
        format!("{unit:03X}{digits}\r")
    };
    let lines = frames.iter().map(line).collect();
    let adapter = Adapter { lines, line: Vec::new(), now: Instant::ZERO, answer: Vec::new() };
    let Ok(mut link) = Link::open(Box::new(adapter), &mut |_| {}) else { return };
    let Ok(answers) = link.request(&Request::new(0x09, &[0x02])) else { return };
    for answer in answers {
        let sent: Vec<u8> = frames
            .iter()
            .filter(|(unit, _)| *unit == answer.unit.0)
            .flat_map(|(_, data)| data.iter().copied())
            .collect();
        assert!(answer.payload.len() <= sent.len());
        // The bytes come in the order in which the unit sent them.
        let mut rest = sent.iter();
        assert!(answer.payload.iter().all(|byte| rest.any(|it| it == byte)));
        let length = answer.payload.len();
        let announced = frames.iter().any(|(unit, data)| {
            *unit == answer.unit.0
                && match *data {
                    [first, ..] if first >> 4 == 0 => usize::from(first & 0x0F) == length,
                    [first, second, ..] if first >> 4 == 1 => {
                        usize::from(first & 0x0F) << 8 | usize::from(*second) == length
                    }
                    _ => false,
                }
        });
        assert!(announced);
    }
});
