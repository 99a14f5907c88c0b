use std::collections::BTreeMap;

use super::dialect::{Protocol, Settings, own_protocol};
use super::frames::{Layout, segment, written};
use super::{AdapterParameters, Consequence, surroundings};
use crate::units::Instant;
use crate::virtual_car::chance::Chance;
use crate::virtual_car::control_unit::{ControlUnit, Reaction, Unit};
use crate::virtual_car::person::seconds;

/// One request on the bus until its prompt.
#[derive(Clone, Debug)]
pub(super) struct Exchange {
    request: Vec<u8>,
    to_all: bool,
    /// Answers after which there is no more waiting.
    expected: Option<usize>,
    layout: Layout,
    filter: Option<u32>,
    long_identifiers: bool,
    /// Waits this long after the last frame.
    patience: f64,
    shown: usize,
    /// What is still to come, by time and order.
    agenda: BTreeMap<(Instant, u32), Planned>,
    order: u32,
    ends: Instant,
    /// What to say at the end where nothing was shown.
    silence: &'static str,
    found: bool,
}

#[derive(Clone, Debug)]
enum Planned {
    /// A unit answers; `asked_patience` once it has asked for it.
    Unit {
        unit: Unit,
        asked_patience: bool,
    },
    /// A frame arrives; `last` of its answer.
    Frame {
        lines: Vec<String>,
        last: bool,
    },
    Consequence(Consequence),
}

/// What happened at an event.
#[derive(Debug)]
pub(super) enum Happening {
    Nothing,
    Lines(Vec<String>),
    Consequence(Consequence),
    Ended { remark: Option<&'static str>, found: bool },
}

impl Exchange {
    /// Starts a request given as hexadecimal digits; an odd last digit is the number of answers
    /// expected. `None` if it is no such thing. Says also whether the protocol is searched first.
    pub(super) fn start(
        line: &str,
        at: Instant,
        settings: &Settings,
        unit: &ControlUnit,
        parameters: &AdapterParameters,
        chance: &mut Chance,
    ) -> Option<(Self, bool)> {
        let (mut request, expected) = parse(line)?;
        if !settings.layout.formatted {
            request = unwrap_single_frame(&request)?;
        }
        let surroundings = surroundings(unit);
        let own = own_protocol(surroundings);
        let searches = settings.protocol == Protocol::Automatic { found: false };
        let automatic = matches!(settings.protocol, Protocol::Automatic { .. });
        let speaks = match settings.protocol {
            Protocol::Automatic { .. } => true,
            Protocol::Fixed(number) => number == own,
        };
        let bus_at = if searches { at + seconds(parameters.search) } else { at };
        let timeout = f64::from(settings.timeout) * 0.004;
        let patience = match settings.adaptive {
            0 => timeout,
            1 => timeout.min(0.05),
            _ => timeout.min(0.025),
        };
        let reached = speaks && surroundings.key_on;
        let mut exchange = Self {
            request,
            to_all: settings.target.is_none_or(is_broadcast),
            expected: expected.filter(|count| *count > 0),
            layout: settings.layout,
            filter: settings.filter,
            long_identifiers: surroundings.long_identifiers,
            patience,
            shown: 0,
            agenda: BTreeMap::new(),
            order: 0,
            ends: bus_at + seconds(timeout),
            silence: if reached || !automatic { "NO DATA" } else { "UNABLE TO CONNECT" },
            found: reached,
        };
        if reached {
            exchange.ask_units(bus_at, settings.target, unit, chance);
        }
        Some((exchange, searches))
    }

    fn ask_units(
        &mut self,
        bus_at: Instant,
        target: Option<u32>,
        unit: &ControlUnit,
        chance: &mut Chance,
    ) {
        let (quick, slow) = unit.parameters.answer_time;
        for it in unit.units() {
            let addressed = match target {
                Some(target) if !is_broadcast(target) => {
                    target == request_identifier(*it, self.long_identifiers)
                }
                Some(target) => (target > 0x7FF) == self.long_identifiers,
                None => true,
            };
            if addressed {
                let at = bus_at + seconds(chance.between(quick, slow));
                self.plan(at, Planned::Unit { unit: *it, asked_patience: false });
            }
        }
    }

    pub(super) fn next_event(&self) -> Instant {
        let planned = self.agenda.keys().next().map(|(at, _)| *at);
        planned.map_or(self.ends, |at| at.min(self.ends))
    }

    /// Lets the next event happen.
    pub(super) fn handle(
        &mut self,
        now: Instant,
        unit: &mut ControlUnit,
        parameters: &AdapterParameters,
        chance: &mut Chance,
    ) -> Happening {
        let due = self.agenda.first_key_value().is_some_and(|((at, _), _)| *at <= now);
        if !due {
            if now < self.ends {
                return Happening::Nothing;
            }
            let remark = (self.shown == 0).then_some(self.silence);
            return Happening::Ended { remark, found: self.found };
        }
        match self.agenda.pop_first() {
            Some((_, Planned::Unit { unit: which, asked_patience })) => {
                self.unit_answers(now, which, asked_patience, unit, parameters, chance);
                Happening::Nothing
            }
            Some((_, Planned::Frame { lines, last })) => {
                self.shown += 1;
                let granted = self.agenda.iter().filter_map(|((at, _), planned)| {
                    let waits = matches!(planned, Planned::Unit { asked_patience: true, .. });
                    waits.then(|| *at + seconds(self.patience))
                });
                self.ends = granted.fold(now + seconds(self.patience), Instant::max);
                if (last || parameters.counts_frames)
                    && let Some(expected) = &mut self.expected
                {
                    *expected = expected.saturating_sub(1);
                    if *expected == 0 {
                        self.agenda.clear();
                        self.ends = now;
                    }
                }
                Happening::Lines(lines)
            }
            Some((_, Planned::Consequence(consequence))) => Happening::Consequence(consequence),
            None => Happening::Nothing,
        }
    }

    fn unit_answers(
        &mut self,
        now: Instant,
        which: Unit,
        asked_patience: bool,
        unit: &mut ControlUnit,
        parameters: &AdapterParameters,
        chance: &mut Chance,
    ) {
        let service = self.request.first().copied().unwrap_or(0);
        // Longer answers are collected first; the unit asks the tester to wait (7F .. 78).
        let slow = parameters.patience && matches!(service, 0x06 | 0x09);
        if slow && !asked_patience && which == Unit::Engine && !self.request_is_refused(unit) {
            self.plan_answer(now, which, &[0x7F, service, 0x78], parameters, false);
            let later = now + seconds(chance.between(0.06, 0.15));
            self.plan(later, Planned::Unit { unit: which, asked_patience: true });
            return;
        }
        match unit.react(which, &self.request, self.to_all) {
            Reaction::Silence => {}
            Reaction::Answer(payload) => self.plan_answer(now, which, &payload, parameters, true),
            Reaction::SealsVent(payload, time) => {
                self.plan(now, Planned::Consequence(Consequence::VentSealed(time)));
                self.plan_answer(now, which, &payload, parameters, true);
            }
            Reaction::Erased(payload) => {
                self.plan(now, Planned::Consequence(Consequence::CodesErased));
                self.plan_answer(now, which, &payload, parameters, true);
            }
        }
    }

    fn request_is_refused(&self, unit: &ControlUnit) -> bool {
        // Only requests that read; asking twice changes nothing.
        !matches!(
            unit.clone().react(Unit::Engine, &self.request, self.to_all),
            Reaction::Answer(payload) if payload.first() != Some(&0x7F)
        )
    }

    /// Plans the frames of an answer: the first at once, the others after flow control.
    fn plan_answer(
        &mut self,
        now: Instant,
        unit: Unit,
        payload: &[u8],
        parameters: &AdapterParameters,
        counts: bool,
    ) {
        let identifier = answer_identifier(unit, self.long_identifiers);
        if self.filter.is_some_and(|wanted| wanted != identifier) {
            return;
        }
        let frames = segment(payload, parameters.filler);
        let count = frames.len();
        for (index, frame) in frames.iter().enumerate() {
            let lines = written(frame, identifier, index, payload.len(), self.layout);
            let at = now + seconds(if index == 0 { 0.0 } else { 0.002 + 0.001 * index as f64 });
            let last = counts && index + 1 == count;
            self.ends = self.ends.max(at + seconds(0.001));
            self.plan(at, Planned::Frame { lines, last });
        }
    }

    fn plan(&mut self, at: Instant, planned: Planned) {
        self.agenda.insert((at, self.order), planned);
        self.order += 1;
    }
}

/// The bytes of a request and the number of answers expected.
fn parse(line: &str) -> Option<(Vec<u8>, Option<usize>)> {
    let mut digits = Vec::new();
    for letter in line.chars() {
        digits.push(letter.to_digit(16)? as u8);
    }
    let (pairs, rest) = digits.as_chunks::<2>();
    let expected = rest.first().map(|digit| usize::from(*digit));
    let bytes: Vec<u8> = pairs.iter().map(|[high, low]| high << 4 | low).collect();
    if bytes.is_empty() || bytes.len() > 8 { None } else { Some((bytes, expected)) }
}

/// Takes the framing byte off a request that was given with it.
fn unwrap_single_frame(frame: &[u8]) -> Option<Vec<u8>> {
    let (length, rest) = frame.split_first()?;
    rest.get(..usize::from(*length)).filter(|it| !it.is_empty()).map(<[u8]>::to_vec)
}

/// Broadcasts of ISO 15765-4.
fn is_broadcast(target: u32) -> bool {
    matches!(target, 0x7DF | 0x18DB_33F1)
}

fn request_identifier(unit: Unit, long: bool) -> u32 {
    match (unit, long) {
        (Unit::Engine, false) => 0x7E0,
        (Unit::Transmission, false) => 0x7E1,
        (Unit::Engine, true) => 0x18DA_10F1,
        (Unit::Transmission, true) => 0x18DA_18F1,
    }
}

fn answer_identifier(unit: Unit, long: bool) -> u32 {
    match (unit, long) {
        (Unit::Engine, false) => 0x7E8,
        (Unit::Transmission, false) => 0x7E9,
        (Unit::Engine, true) => 0x18DA_F110,
        (Unit::Transmission, true) => 0x18DA_F118,
    }
}
