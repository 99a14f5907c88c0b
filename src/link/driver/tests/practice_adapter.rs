//! An adapter with a car of few words, on a clock of its own, for tests of the driver. What it
//! lacks and how it frames is set by each test.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use crate::link::{LinkError, Protocol, Transport};
use crate::units::Instant;

/// A unit: its identifier, and its answer to a request at a time in milliseconds.
#[derive(Clone, Copy)]
pub(crate) struct PracticeUnit {
    pub id: u32,
    pub answer: fn(&[u8], i64) -> Option<Vec<u8>>,
}

/// What the trailing digit of a request means.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Digit {
    Messages,
    Lines,
    Unknown,
}

#[derive(Clone)]
pub(crate) struct Practice {
    pub protocol: Protocol,
    pub units: Vec<PracticeUnit>,
    /// Beginnings of commands that it does not know.
    pub lacks: &'static [&'static str],
    /// Takes "headers on" and shows none.
    pub hides_headers: bool,
    pub digit: Digit,
    /// From a command to its answer.
    pub latency: Duration,
    /// How long it waits for further answers.
    pub wait: Duration,
    /// An answer to every request of the car, instead of the car's.
    pub says: Option<&'static str>,
    /// What carries its bytes checks them.
    pub checked: bool,
    /// Never repeats what it receives.
    pub mute: bool,
    /// Repeats a line only at its end.
    pub late_echo: bool,
    /// Takes bytes in while an answer is under way, instead of being interrupted.
    pub buffers: bool,
}

impl Default for Practice {
    fn default() -> Self {
        Self {
            protocol: Protocol::Can11,
            units: vec![PracticeUnit { id: 0x7E8, answer: engine }],
            lacks: &[],
            hides_headers: false,
            digit: Digit::Messages,
            latency: Duration::from_millis(15),
            wait: Duration::from_millis(50),
            says: None,
            checked: true,
            mute: false,
            late_echo: false,
            buffers: false,
        }
    }
}

/// Parameters that the practice car answers, and the bytes of each.
pub(crate) const PARAMETERS: [(u8, usize); 7] =
    [(0x0B, 1), (0x0C, 2), (0x11, 1), (0x2E, 1), (0x32, 2), (0x33, 1), (0x42, 2)];

/// The engine unit: parameters whose values change every 50 ms to every few seconds.
pub(crate) fn engine(request: &[u8], millis: i64) -> Option<Vec<u8>> {
    match request {
        [0x01, 0x00] => Some(vec![0x41, 0x00, 0xBE, 0x3E, 0xA8, 0x13]),
        [0x01, parameters @ ..] => {
            let mut answer = vec![0x41];
            for parameter in parameters {
                if let Some((_, length)) = PARAMETERS.iter().find(|(it, _)| it == parameter) {
                    answer.push(*parameter);
                    answer.extend(value(*parameter, *length, millis));
                }
            }
            (answer.len() > 1).then_some(answer)
        }
        [0x09, 0x02] => Some([&[0x49, 0x02, 0x01][..], b"9ZZAB12C0R1000001"].concat()),
        [0x03] => Some(vec![0x43, 0x01, 0x04, 0x96]),
        [0x04] => Some(vec![0x44]),
        [0x22, 0x22, 0x01] => Some(vec![0x62, 0x22, 0x01, 0x09, 0xC4]),
        [0x22, ..] => Some(vec![0x7F, 0x22, 0x31]),
        _ => None,
    }
}

/// The value of a parameter at a time.
pub(crate) fn value(parameter: u8, length: usize, millis: i64) -> Vec<u8> {
    let period = [50, 200, 1000, 5000][usize::from(parameter % 4)];
    let step = millis.div_euclid(period) as u64;
    let mixed = (step ^ u64::from(parameter) << 32).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    mixed.to_be_bytes().into_iter().take(length).collect()
}

/// What the car was asked, in order; with the identifier set for it, if any.
pub(crate) type Requests = Arc<Mutex<Vec<Vec<u8>>>>;
pub(crate) type Targets = Arc<Mutex<Vec<Option<u32>>>>;

pub(crate) struct PracticeAdapter {
    practice: Practice,
    now: Instant,
    line: Vec<u8>,
    latest: String,
    outbox: VecDeque<(Instant, Vec<u8>)>,
    echo: bool,
    spaces: bool,
    headers: bool,
    target: Option<u32>,
    filter: Option<u32>,
    requests: Requests,
    targets: Targets,
}

impl PracticeAdapter {
    pub(crate) fn new(practice: Practice) -> Self {
        let mut adapter = Self {
            practice,
            now: Instant::ZERO,
            line: Vec::new(),
            latest: String::new(),
            outbox: VecDeque::new(),
            echo: true,
            spaces: true,
            headers: false,
            target: None,
            filter: None,
            requests: Arc::default(),
            targets: Arc::default(),
        };
        adapter.restart();
        adapter
    }

    pub(crate) fn requests(&self) -> Requests {
        self.requests.clone()
    }

    pub(crate) fn targets(&self) -> Targets {
        self.targets.clone()
    }

    fn restart(&mut self) {
        (self.echo, self.spaces, self.headers) = (!self.practice.mute, true, false);
        (self.target, self.filter) = (None, None);
    }

    fn say(&mut self, after: Duration, text: &str) {
        self.say_bytes(after, text.as_bytes().to_vec());
    }

    fn say_bytes(&mut self, after: Duration, bytes: Vec<u8>) {
        let at = self.outbox.back().map_or(self.now, |(at, _)| *at).max(self.now + after);
        self.outbox.push_back((at, bytes));
    }

    /// Executes a line. Blanks and small letters make no difference, and an empty line repeats
    /// the latest command (common practice, no source).
    fn execute(&mut self, line: &[u8]) {
        let latency = self.practice.latency;
        let letters = line.iter().filter(|it| !matches!(it, 0 | b' ' | b'\n'));
        let mut line: String =
            letters.map(|it| char::from(*it).to_ascii_uppercase()).collect::<String>();
        if line.is_empty() {
            line.clone_from(&self.latest);
        }
        self.latest.clone_from(&line);
        let line = line.as_str();
        let Some(command) = line.strip_prefix("AT") else {
            self.ask_car(line);
            return;
        };
        if self.practice.lacks.iter().any(|it| command.starts_with(it)) {
            self.say(latency, "?\r\r>");
            return;
        }
        let mut answer = String::from("OK");
        match command {
            "Z" => {
                self.restart();
                answer = String::from("\rPRACTICE 1.0");
            }
            "I" => answer = String::from("PRACTICE 1.0"),
            "RV" => answer = String::from("12.6V"),
            "DPN" => answer = format!("A{}", self.number()),
            "E0" | "E1" => self.echo = command == "E1" && !self.practice.mute,
            "S0" | "S1" => self.spaces = command == "S1",
            "H0" | "H1" => self.headers = command == "H1" && !self.practice.hides_headers,
            "AR" => self.filter = None,
            _ => {
                let id = |prefix: &str| {
                    u32::from_str_radix(command.strip_prefix(prefix).unwrap_or(""), 16).ok()
                };
                if let Some(header) = id("SH") {
                    self.target = Some(header);
                } else if let Some(filter) = id("CRA") {
                    self.filter = Some(filter);
                } else if id("SP").is_none() && !["L0", "AT1"].contains(&command) {
                    answer = String::from("?");
                }
            }
        }
        self.say(latency, &format!("{answer}\r\r>"));
    }

    fn number(&self) -> u8 {
        match self.practice.protocol {
            Protocol::Can11 => 6,
            Protocol::Can29 => 7,
            Protocol::Iso9141 => 3,
            Protocol::Iso14230 => 5,
            Protocol::J1850 => 2,
        }
    }

    fn ask_car(&mut self, line: &str) {
        let latency = self.practice.latency;
        let digits: Option<Vec<u8>> =
            line.bytes().map(|it| char::from(it).to_digit(16).map(|it| it as u8)).collect();
        let (Some(digits), odd) = (digits, line.len() % 2) else {
            return self.say(latency, "?\r\r>");
        };
        if digits.len() < 2 || odd == 1 && self.practice.digit == Digit::Unknown {
            return self.say(latency, "?\r\r>");
        }
        let count = (odd == 1).then(|| usize::from(digits[digits.len() - 1]));
        let request: Vec<u8> = digits.chunks_exact(2).map(|it| it[0] << 4 | it[1]).collect();
        self.requests.lock().unwrap().push(request.clone());
        self.targets.lock().unwrap().push(self.target);
        if let Some(text) = self.practice.says {
            return self.say(latency, &format!("{text}\r\r>"));
        }
        let millis = (self.now + latency).micros() / 1000;
        let mut shown = 0;
        let mut more = true;
        let mut silent = true;
        for unit in self.practice.units.clone() {
            let addressed = self.target.is_none_or(|it| {
                it == 0x7DF
                    || it == unit.id - 8
                    || it & 0xFF00 == (unit.id & 0xFF) << 8
                    || it == 0xDB_33F1
            });
            let hidden = self.filter.is_some_and(|it| it != unit.id);
            let Some(payload) = (unit.answer)(&request, millis).filter(|_| addressed && !hidden)
            else {
                continue;
            };
            for text in self.lines(unit.id, &payload) {
                if more {
                    silent = false;
                    self.say(latency, &format!("{text}\r"));
                    shown += usize::from(self.practice.digit == Digit::Lines);
                    more = count.is_none_or(|count| shown < count);
                }
            }
            shown += usize::from(self.practice.digit == Digit::Messages);
            more = count.is_none_or(|count| shown < count);
        }
        let wait = if more { self.practice.wait } else { Duration::ZERO };
        self.say(latency + wait, if silent { "NO DATA\r\r>" } else { "\r>" });
    }

    fn lines(&self, id: u32, payload: &[u8]) -> Vec<String> {
        let gap = if self.spaces { " " } else { "" };
        let hex =
            |bytes: &[u8]| bytes.iter().map(|it| format!("{it:02X}{gap}")).collect::<String>();
        let checked = |header: [u8; 3]| {
            let mut line = [&header[..], payload].concat();
            line.push(line.iter().fold(0, |sum: u8, it| sum.wrapping_add(*it)));
            vec![hex(&line)]
        };
        let source = (id & 0xFF) as u8;
        let id = match self.practice.protocol {
            Protocol::Can11 => format!("{id:03X}{gap}"),
            Protocol::Can29 => hex(&id.to_be_bytes()),
            Protocol::Iso9141 if self.headers => return checked([0x48, 0x6B, source]),
            Protocol::Iso14230 if self.headers => {
                return checked([0x80 | payload.len() as u8, 0xF1, source]);
            }
            _ => return vec![hex(payload)],
        };
        if payload.len() <= 7 {
            if !self.headers {
                return vec![hex(payload)];
            }
            let mut frame = [&[payload.len() as u8], payload].concat();
            frame.resize(8, 0x55);
            return vec![format!("{id}{}", hex(&frame))];
        }
        let (head, tail) = payload.split_at(6);
        let mut parts = vec![(vec![0x10 | (payload.len() >> 8) as u8, payload.len() as u8], head)];
        for (number, part) in tail.chunks(7).enumerate() {
            parts.push((vec![0x20 | (number as u8 + 1) & 0x0F], part));
        }
        if self.headers {
            let frame = |(start, part): (Vec<u8>, &[u8])| {
                let mut frame = [&start[..], part].concat();
                frame.resize(8, 0x55);
                format!("{id}{}", hex(&frame))
            };
            return parts.into_iter().map(frame).collect();
        }
        let numbered = parts
            .iter()
            .enumerate()
            .map(|(number, (_, part))| format!("{:X}: {}", number & 0x0F, hex(part)));
        std::iter::once(format!("{:03X}", payload.len())).chain(numbered).collect()
    }
}

impl Transport for PracticeAdapter {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let mut repeated = Vec::new();
        for byte in bytes {
            // A byte while an answer is under way interrupts it.
            let answers = self.outbox.iter().any(|(_, text)| text.ends_with(b">"));
            if answers && !self.practice.buffers {
                self.outbox.clear();
                repeated.clear();
                self.say(self.practice.latency, "STOPPED\r\r>");
                self.line.clear();
                continue;
            }
            if self.practice.late_echo && *byte == b'\r' {
                repeated.extend(&self.line);
            }
            if self.echo && (!self.practice.late_echo || *byte == b'\r') {
                repeated.push(*byte);
            }
            if *byte == b'\r' {
                if self.echo {
                    self.say_bytes(self.practice.latency, std::mem::take(&mut repeated));
                }
                let line = std::mem::take(&mut self.line);
                self.execute(&line);
            } else {
                self.line.push(*byte);
            }
        }
        if !repeated.is_empty() {
            self.say_bytes(self.practice.latency, repeated);
        }
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        match self.outbox.front() {
            Some((at, _)) if *at <= deadline => self.now = self.now.max(*at),
            _ => {
                self.now = self.now.max(deadline);
                return Ok(0);
            }
        }
        let bytes = self.outbox.pop_front().map(|(_, bytes)| bytes).unwrap_or_default();
        into.extend_from_slice(&bytes);
        Ok(bytes.len())
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        self.outbox.clear();
        self.line.clear();
        Ok(())
    }

    fn is_checked(&self) -> bool {
        self.practice.checked
    }
}
