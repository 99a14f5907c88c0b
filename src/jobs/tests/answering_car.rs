//! A car for tests that answers requests as a test lists them, behind an adapter that answers in
//! 20 ms.

use std::collections::VecDeque;
use std::time::Duration;

use crate::jobs::source::CarLink;
use crate::link::{Link, LinkError, Transport};
use crate::store::Listening;
use crate::units::Instant;

/// What follows the header of each answer to a request, both as hexadecimal digits; `count` tells how
/// often anything was asked before.
pub(in crate::jobs) type Answers = fn(asked: &str, count: usize) -> Vec<String>;

/// The answers that a list names for a request.
pub(in crate::jobs) fn listed(answers: &[(&str, &[&str])], asked: &str) -> Vec<String> {
    let known = answers.iter().find(|(request, _)| *request == asked);
    known
        .map(|(_, answers)| answers.iter().map(|it| (*it).to_owned()).collect())
        .unwrap_or_default()
}

/// The link to such a car.
pub(in crate::jobs) fn car_that_answers(answers: Answers, wanted: &Listening) -> CarLink {
    let car = AnsweringCar {
        now: Instant::ZERO,
        line: Vec::new(),
        due: VecDeque::new(),
        answers,
        count: 0,
        echoes: true,
    };
    let link = Link::open(Box::new(car), &mut |_| {}).unwrap();
    CarLink::new(link, None, wanted).unwrap()
}

/// On ISO 9141-2: a header, the payload, and the sum of all bytes.
struct AnsweringCar {
    now: Instant,
    line: Vec<u8>,
    due: VecDeque<Vec<u8>>,
    answers: Answers,
    count: usize,
    /// Whether what arrives is sent back letter by letter.
    echoes: bool,
}

impl AnsweringCar {
    fn answer(&mut self) -> String {
        let line: String = String::from_utf8_lossy(&self.line).trim().replace(' ', "");
        match line.as_str() {
            "ATDPN" => "A3".to_owned(),
            "ATRV" => "12.6V".to_owned(),
            "ATE0" => {
                self.echoes = false;
                "OK".to_owned()
            }
            "ATE1" | "ATZ" | "ATD" | "ATWS" => {
                self.echoes = true;
                "OK".to_owned()
            }
            it if it.starts_with("AT") => "OK".to_owned(),
            // An odd last digit is the number of answers expected.
            it => {
                let asked = &it[..it.len() / 2 * 2];
                let answers = (self.answers)(asked, self.count);
                self.count += 1;
                let lines: Vec<String> = answers.iter().map(|answer| framed(answer)).collect();
                if lines.is_empty() { "NO DATA".to_owned() } else { lines.join("\r") }
            }
        }
    }
}

fn framed(payload: &str) -> String {
    let text = format!("48 6B 10 {payload}");
    let bytes: Vec<u8> =
        text.split(' ').map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect();
    let sum = bytes.iter().fold(0_u8, |sum, byte| sum.wrapping_add(*byte));
    bytes.iter().chain([&sum]).map(|byte| format!("{byte:02X}")).collect()
}

impl Transport for AnsweringCar {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.line.extend_from_slice(bytes);
        if self.echoes {
            self.due.push_back(bytes.to_vec());
        }
        if self.line.ends_with(b"\r") {
            let answer = self.answer();
            self.due.push_back(format!("{answer}\r\r>").into_bytes());
            self.line.clear();
        }
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        match self.due.pop_front() {
            Some(bytes) => {
                self.now = self.now + Duration::from_millis(20);
                into.extend_from_slice(&bytes);
                Ok(bytes.len())
            }
            None => {
                self.now = self.now.max(deadline);
                Ok(0)
            }
        }
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        Ok(())
    }

    fn is_checked(&self) -> bool {
        true
    }
}
