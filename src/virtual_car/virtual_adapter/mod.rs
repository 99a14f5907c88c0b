//! The adapter in the car's socket: lines of text in, lines and a prompt out, with the delays of
//! a wireless link, a small processor and a bus.

mod dialect;
mod exchange;
mod frames;

use std::collections::VecDeque;

use super::chance::Chance;
use super::control_unit::ControlUnit;
use super::person::seconds;
use crate::units::Instant;
use dialect::{BANNER, Effect, Protocol, Settings, Surroundings};
use exchange::{Exchange, Happening};

/// What is fixed about an adapter and the way to it. Times s.
#[derive(Clone, Debug)]
pub(super) struct AdapterParameters {
    /// One way to the adapter: shortest and longest.
    up: (f64, f64),
    /// One way back.
    down: (f64, f64),
    /// Time to take a command in.
    handling: (f64, f64),
    /// How much arrives at once, bytes, and the time between two portions.
    portion: (usize, f64),
    /// Share of answers that are held up on the way, and for how long at most.
    hold_up: (f64, f64),
    /// Search for the protocol.
    search: f64,
    /// Fills unused bytes of a frame.
    filler: u8,
    /// The unit first asks for patience before longer answers.
    patience: bool,
    /// The number of answers expected counts frames instead of whole answers; adapters differ.
    counts_frames: bool,
}

impl AdapterParameters {
    /// Makes every way there and back take so many seconds.
    pub(super) fn take(&mut self, there_and_back: f64) {
        let way = there_and_back / 2.0;
        self.up = (way, way);
        self.down = (way, way);
    }

    pub(super) fn draw(chance: &mut Chance, hard: bool) -> Self {
        // Hard: about five exchanges a second.
        let way =
            if hard { chance.between(0.06, 0.085) } else { chance.scale_between(0.004, 0.03) };
        Self {
            up: (way, way * 1.4),
            down: (way, way * 1.8),
            handling: (0.001, chance.between(0.002, 0.006)),
            portion: (if chance.happens(0.6) { 20 } else { 180 }, chance.between(0.0005, 0.012)),
            hold_up: (if hard { 0.01 } else { 0.003 }, if hard { 0.6 } else { 0.25 }),
            search: chance.between(0.4, 5.0),
            filler: chance.pick(&[(5.0, 0x00), (3.0, 0xAA), (2.0, 0x55)]).unwrap_or(0x00),
            patience: chance.happens(0.1),
            counts_frames: chance.happens(0.5),
        }
    }
}

/// What a request brought about in the car.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Consequence {
    /// The vent is shut for this many seconds.
    VentSealed(u64),
    /// Codes were erased.
    CodesErased,
}

/// The adapter's state. Driven by time: bytes in with [`VirtualAdapter::receive`], then
/// [`VirtualAdapter::next_event`] and [`VirtualAdapter::handle`], bytes out with
/// [`VirtualAdapter::poll_output`].
#[derive(Clone, Debug)]
pub(super) struct VirtualAdapter {
    parameters: AdapterParameters,
    chance: Chance,
    settings: Settings,
    inbox: VecDeque<(Instant, Vec<u8>)>,
    line: String,
    last_line: String,
    exchange: Option<Exchange>,
    outbox: VecDeque<(Instant, Vec<u8>)>,
    last_arrival: Instant,
    last_departure: Instant,
    consequences: VecDeque<Consequence>,
}

impl VirtualAdapter {
    pub(super) fn new(parameters: AdapterParameters, chance: Chance) -> Self {
        Self {
            parameters,
            chance,
            settings: Settings::default(),
            inbox: VecDeque::new(),
            line: String::new(),
            last_line: String::new(),
            exchange: None,
            outbox: VecDeque::new(),
            last_arrival: Instant::ZERO,
            last_departure: Instant::ZERO,
            consequences: VecDeque::new(),
        }
    }

    /// Bytes leave the program at `now`.
    pub(super) fn receive(&mut self, bytes: &[u8], now: Instant) {
        let (short, long) = self.parameters.up;
        let at = (now + seconds(self.chance.between(short, long))).max(self.last_departure);
        self.last_departure = at;
        self.inbox.push_back((at, bytes.to_vec()));
    }

    /// When something happens next at the adapter.
    pub(super) fn next_event(&self) -> Option<Instant> {
        let arrival = self.inbox.front().map(|(at, _)| *at);
        let answer = self.exchange.as_ref().map(Exchange::next_event);
        arrival.into_iter().chain(answer).min()
    }

    /// When bytes arrive next at the program.
    pub(super) fn next_output(&self) -> Option<Instant> {
        self.outbox.front().map(|(at, _)| *at)
    }

    /// Bytes that have arrived at the program.
    pub(super) fn poll_output(&mut self, now: Instant) -> Option<Vec<u8>> {
        if self.outbox.front().is_some_and(|(at, _)| *at <= now) {
            self.outbox.pop_front().map(|(_, bytes)| bytes)
        } else {
            None
        }
    }

    /// What requests brought about in the car since the last call.
    pub(super) fn poll_consequence(&mut self) -> Option<Consequence> {
        self.consequences.pop_front()
    }

    /// Lets the one thing happen that is due first, if any is due at `now`.
    pub(super) fn handle(&mut self, now: Instant, unit: &mut ControlUnit) {
        if self.inbox.front().is_some_and(|(at, _)| *at <= now) {
            if let Some((at, bytes)) = self.inbox.pop_front() {
                self.take_in(&bytes, at, unit);
            }
            return;
        }
        let Some(mut exchange) = self.exchange.take() else { return };
        match exchange.handle(now, unit, &self.parameters, &mut self.chance) {
            Happening::Lines(lines) => {
                for line in lines {
                    self.say_line(&line, now);
                }
                self.exchange = Some(exchange);
            }
            Happening::Nothing => self.exchange = Some(exchange),
            Happening::Consequence(consequence) => {
                self.consequences.push_back(consequence);
                self.exchange = Some(exchange);
            }
            Happening::Ended { remark, found } => {
                if let Protocol::Automatic { found: known } = &mut self.settings.protocol {
                    *known = found;
                }
                if let Some(remark) = remark {
                    self.say_line(remark, now);
                }
                self.prompt(now);
            }
        }
    }

    fn take_in(&mut self, bytes: &[u8], at: Instant, unit: &mut ControlUnit) {
        // Repeated as it comes in, not first at the end of the line: a program may look at it
        // before it sends the carriage return.
        let mut repeated = Vec::new();
        for byte in bytes {
            if self.exchange.take().is_some() {
                // Any byte stops a request that is under way, and is lost.
                self.say_line("STOPPED", at);
                self.prompt(at);
                continue;
            }
            if self.settings.echo && !matches!(byte, b'\n' | b'\0') {
                repeated.push(*byte);
            }
            match byte {
                b'\r' => {
                    self.repeat(&mut repeated, at);
                    let line = std::mem::take(&mut self.line);
                    self.execute(&line, at, unit);
                }
                b'\n' | b'\0' => {}
                byte => self.line.push(char::from(*byte)),
            }
        }
        self.repeat(&mut repeated, at);
    }

    fn repeat(&mut self, bytes: &mut Vec<u8>, at: Instant) {
        if !bytes.is_empty() {
            self.say(bytes, at);
            bytes.clear();
        }
    }

    fn execute(&mut self, line: &str, at: Instant, unit: &mut ControlUnit) {
        let mut line: String =
            line.chars().filter(|it| !it.is_whitespace()).collect::<String>().to_uppercase();
        if line.is_empty() {
            // An empty line repeats the last one.
            line.clone_from(&self.last_line);
        }
        self.last_line.clone_from(&line);
        let (short, long) = self.parameters.handling;
        let at = at + seconds(self.chance.between(short, long));
        if let Some(command) = line.strip_prefix("AT") {
            let surroundings = surroundings(unit);
            match self.settings.execute(command, surroundings) {
                Effect::Done => self.say_line("OK", at),
                Effect::Says(text) => self.say_line(&text, at),
                Effect::Unknown => self.say_line("?", at),
                Effect::Restarts => {
                    let awake = at + seconds(self.chance.between(0.3, 0.9));
                    self.settings = Settings::default();
                    self.say(b"\r", at);
                    self.say_line("", awake);
                    self.say_line(BANNER, awake);
                    self.prompt(awake);
                    return;
                }
            }
            self.prompt(at);
            return;
        }
        match Exchange::start(&line, at, &self.settings, unit, &self.parameters, &mut self.chance) {
            Some((exchange, searches)) => {
                if searches {
                    self.say_line("SEARCHING...", at);
                }
                self.exchange = Some(exchange);
            }
            None => {
                self.say_line("?", at);
                self.prompt(at);
            }
        }
    }

    fn say_line(&mut self, text: &str, at: Instant) {
        let end = if self.settings.line_feeds { "\r\n" } else { "\r" };
        self.say(format!("{text}{end}").as_bytes(), at);
    }

    fn prompt(&mut self, at: Instant) {
        let text = if self.settings.line_feeds { "\r\n>" } else { "\r>" };
        self.say(text.as_bytes(), at);
    }

    /// Sends bytes on their way to the program.
    fn say(&mut self, bytes: &[u8], at: Instant) {
        let it = &self.parameters;
        let (short, long) = it.down;
        let (share, longest) = it.hold_up;
        let mut way = self.chance.between(short, long);
        if self.chance.happens(share) {
            way += self.chance.between(0.3, 1.0) * longest;
        }
        let mut arrival = (at + seconds(way)).max(self.last_arrival);
        let (size, gap) = it.portion;
        for portion in bytes.chunks(size) {
            self.outbox.push_back((arrival, portion.to_vec()));
            arrival = arrival + seconds(gap);
        }
        self.last_arrival = arrival;
    }
}

fn surroundings(unit: &ControlUnit) -> Surroundings {
    Surroundings {
        supply: unit.snapshot().supply,
        key_on: unit.snapshot().key_on,
        long_identifiers: unit.parameters.long_identifiers,
    }
}

#[cfg(test)]
mod tests;
