//! The control unit: what it holds, and how it answers requests.
//!
//! It encodes its values by the standard's formulae written out here once more, not by the table
//! that decodes them, so that an error in one shows against the other.

mod codes;
mod identity;
mod monitors;
mod parameters;

pub(super) use codes::CodeDraw;
pub(super) use identity::Identity;
pub(super) use monitors::MonitorFacts;
pub(super) use parameters::Snapshot;

use super::chance::Chance;
use codes::StoredCodes;

/// User-defined request (service 22) for the tank pressure sensor's output: two bytes, 1 mV a bit.
pub const TANK_SENSOR_IDENTIFIER: u16 = 0x2201;

/// User-defined request (service 22) for the commanded vent valve: one byte, A * 100 / 255 %.
pub const VENT_COMMAND_IDENTIFIER: u16 = 0x2202;

/// A file of own signals (see `vehicle::CustomSignal`) for cars that have these requests.
pub const OWN_SIGNALS: &str = "\
[[signal]]
signal = \"tank_sensor_v\"
service = \"22\"
identifier = \"2201\"
length = 2
scale = 0.001
low = 0.0
high = 5.0

[[signal]]
signal = \"vent_command_percent\"
service = \"22\"
identifier = \"2202\"
length = 1
scale = 0.39215686274509803
low = 0.0
high = 100.0
";

/// Which parameter gives tank pressure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TankForm {
    /// 32: 0.25 Pa a bit.
    Narrow,
    /// 54: 1 Pa a bit.
    Wide,
    /// 53: absolute, 5 Pa a bit.
    Absolute,
}

/// Which parameter gives manifold pressure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum ManifoldForm {
    /// 0B: 1 kPa a bit.
    Coarse,
    /// 87: 1/32 kPa a bit.
    Fine,
    /// Both.
    Both,
}

/// What comes back when several parameters are asked for at once.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Several {
    /// All that the unit has.
    All,
    /// The first few; the rest is dropped.
    First(usize),
    /// Nothing.
    Nothing,
}

/// How this car's units communicate.
#[derive(Clone, Debug)]
pub(super) struct UnitParameters {
    pub(super) key_on_at_start: bool,
    /// 29-bit identifiers instead of 11-bit ones.
    pub(super) long_identifiers: bool,
    /// A transmission control unit answers broadcasts too.
    pub(super) second_unit: bool,
    pub(super) tank: TankForm,
    pub(super) manifold: ManifoldForm,
    pub(super) several: Several,
    /// Shortest and longest time from request to answer, s.
    pub(super) answer_time: (f64, f64),
    /// Values other than tank pressure are refreshed this often, s.
    pub(super) interval: f64,
    /// Service 08 test 01 exists and holds the vent shut for this long, s.
    pub(super) leak_test: Option<f64>,
    /// The user-defined requests exist.
    pub(super) user_defined: bool,
    pub(super) two_banks: bool,
    pub(super) codes: CodeDraw,
}

impl UnitParameters {
    pub(super) fn draw(chance: &mut Chance, hard: bool) -> Self {
        let tank = chance
            .pick(&[(0.72, TankForm::Narrow), (0.24, TankForm::Wide), (0.04, TankForm::Absolute)])
            .unwrap_or(TankForm::Narrow);
        let manifold = chance
            .pick(&[
                (0.65, ManifoldForm::Coarse),
                (0.15, ManifoldForm::Fine),
                (0.2, ManifoldForm::Both),
            ])
            .unwrap_or(ManifoldForm::Coarse);
        let several = if hard {
            [(0.0, Several::All), (0.25, Several::First(2)), (0.75, Several::Nothing)]
        } else {
            [(0.85, Several::All), (0.1, Several::First(3)), (0.05, Several::Nothing)]
        };
        let quick = chance.between(0.004, 0.012);
        Self {
            key_on_at_start: true,
            long_identifiers: chance.happens(0.25),
            second_unit: chance.happens(0.4),
            tank,
            manifold,
            several: chance.pick(&several).unwrap_or(Several::All),
            answer_time: (quick, quick + chance.between(0.002, 0.018)),
            interval: chance.scale_between(0.01, 0.05),
            leak_test: chance.happens(0.5).then(|| chance.between(120.0, 600.0)),
            user_defined: chance.happens(0.5),
            two_banks: chance.happens(0.3),
            codes: CodeDraw::default(),
        }
    }
}

/// What a unit does with a request.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Reaction {
    /// Not its business: it stays silent.
    Silence,
    /// It answers.
    Answer(Vec<u8>),
    /// It answers and shuts the vent for a leak test of this many whole seconds.
    SealsVent(Vec<u8>, u64),
    /// It answers and has erased its codes.
    Erased(Vec<u8>),
}

/// Which unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Unit {
    Engine,
    Transmission,
}

/// The engine's control unit, and the little that the transmission's has to say.
#[derive(Clone, Debug)]
pub(super) struct ControlUnit {
    pub(super) parameters: UnitParameters,
    identity: Identity,
    codes: StoredCodes,
    snapshot: Snapshot,
    monitors: MonitorFacts,
}

impl ControlUnit {
    pub(super) fn new(
        parameters: UnitParameters,
        identity: Identity,
        snapshot: Snapshot,
        monitors: MonitorFacts,
    ) -> Self {
        let codes = StoredCodes::new(&parameters.codes, &snapshot);
        Self { parameters, identity, codes, snapshot, monitors }
    }

    /// What it holds now.
    pub(super) fn snapshot(&self) -> &Snapshot {
        &self.snapshot
    }

    /// Takes over fresh values.
    pub(super) fn refresh(&mut self, snapshot: Snapshot) {
        self.snapshot = snapshot;
    }

    /// Notices that the purge valve's circuit is open.
    pub(super) fn notice_open_purge_circuit(&mut self) {
        self.codes.notice_open_purge_circuit();
    }

    /// Units of this car, in the order in which they answer.
    pub(super) fn units(&self) -> &'static [Unit] {
        if self.parameters.second_unit {
            &[Unit::Engine, Unit::Transmission]
        } else {
            &[Unit::Engine]
        }
    }

    /// Answers a request's payload. `to_all` says whether it was broadcast: then a unit stays
    /// silent about what it does not have, rather than refuse it.
    pub(super) fn react(&mut self, unit: Unit, request: &[u8], to_all: bool) -> Reaction {
        if !self.snapshot.key_on {
            return Reaction::Silence;
        }
        let reaction = match unit {
            Unit::Engine => self.engine_reacts(request),
            Unit::Transmission => transmission_reacts(request, &self.snapshot),
        };
        match (reaction, request.first()) {
            (Ok(reaction), _) => reaction,
            // Conditions not correct is said to everybody, the rest only face to face.
            (Err(refusal), Some(service)) if !to_all || refusal == Refusal::Conditions => {
                Reaction::Answer(vec![0x7F, *service, refusal as u8])
            }
            (Err(_), _) => Reaction::Silence,
        }
    }

    fn engine_reacts(&mut self, request: &[u8]) -> Result<Reaction, Refusal> {
        match request {
            [0x01, wanted @ ..] => self.current_data(wanted).map(Reaction::Answer),
            [0x02, wanted @ ..] => self.freeze_frame(wanted).map(Reaction::Answer),
            [0x03] => Ok(Reaction::Answer(code_list(0x43, self.codes.stored()))),
            [0x04] if self.snapshot.speed > 0.0 => Err(Refusal::Conditions),
            [0x04] => {
                self.codes.erase();
                self.monitors.forget();
                Ok(Reaction::Erased(vec![0x44]))
            }
            [0x06, wanted] => {
                self.monitors.answer(*wanted).map(Reaction::Answer).ok_or(Refusal::Range)
            }
            [0x07] => Ok(Reaction::Answer(code_list(0x47, self.codes.pending()))),
            [0x08, rest @ ..] => self.leak_test(rest),
            [0x09, wanted] => {
                self.identity.answer(*wanted).map(Reaction::Answer).ok_or(Refusal::Range)
            }
            [0x0A] => Ok(Reaction::Answer(code_list(0x4A, self.codes.permanent()))),
            [0x22, high, low] => self.user_defined(*high, *low).map(Reaction::Answer),
            [0x01..=0x0A | 0x22, ..] => Err(Refusal::Form),
            _ => Err(Refusal::Service),
        }
    }

    fn current_data(&self, wanted: &[u8]) -> Result<Vec<u8>, Refusal> {
        let count = match (wanted.len(), self.parameters.several) {
            (0 | 7.., _) => return Err(Refusal::Form),
            (1, _) => 1,
            (_, Several::All) => wanted.len(),
            (_, Several::First(few)) => few,
            (_, Several::Nothing) => return Err(Refusal::Range),
        };
        let mut answer = vec![0x41];
        for parameter in wanted.iter().take(count) {
            if let Some(data) = self.parameter(*parameter) {
                answer.push(*parameter);
                answer.extend(data);
            }
        }
        if answer.len() > 1 { Ok(answer) } else { Err(Refusal::Range) }
    }

    fn parameter(&self, parameter: u8) -> Option<Vec<u8>> {
        if parameter.is_multiple_of(0x20) {
            return supported(parameter, |it| self.value(it).is_some());
        }
        self.value(parameter)
    }

    fn value(&self, parameter: u8) -> Option<Vec<u8>> {
        self.codes
            .parameter(parameter, &self.snapshot)
            .or_else(|| parameters::encode(parameter, &self.snapshot, &self.parameters))
    }

    fn freeze_frame(&self, wanted: &[u8]) -> Result<Vec<u8>, Refusal> {
        let [parameter, 0x00] = wanted else { return Err(Refusal::Form) };
        let frame = self.codes.frame();
        let value = |parameter: u8| -> Option<Vec<u8>> {
            match (parameter, frame) {
                (0x02, frame) => {
                    Some(frame.map_or(vec![0, 0], |(code, _)| code.to_be_bytes().into()))
                }
                (_, None) => None,
                (0x01 | 0x1C | 0x21 | 0x30 | 0x31 | 0x41 | 0x51, _) => None,
                (_, Some((_, snapshot))) => {
                    parameters::encode(parameter, snapshot, &self.parameters)
                }
            }
        };
        let data = if parameter.is_multiple_of(0x20) {
            supported(*parameter, |it| value(it).is_some())
        } else {
            value(*parameter)
        };
        let mut answer = vec![0x42, *parameter, 0x00];
        answer.extend(data.ok_or(Refusal::Range)?);
        Ok(answer)
    }

    fn leak_test(&self, request: &[u8]) -> Result<Reaction, Refusal> {
        let Some(seconds) = self.parameters.leak_test else { return Err(Refusal::Service) };
        match request {
            // A map of the tests: only the first.
            [0x00, ..] => Ok(Reaction::Answer(vec![0x48, 0x00, 0x80, 0x00, 0x00, 0x00])),
            [0x01, ..] if self.snapshot.vehicle_speed > 0.0 => Err(Refusal::Conditions),
            [0x01, ..] => Ok(Reaction::SealsVent(vec![0x48, 0x01, 0, 0, 0, 0, 0], seconds as u64)),
            _ => Err(Refusal::Range),
        }
    }

    fn user_defined(&self, high: u8, low: u8) -> Result<Vec<u8>, Refusal> {
        let identifier = u16::from_be_bytes([high, low]);
        if !self.parameters.user_defined {
            return Err(Refusal::Service);
        }
        let mut answer = vec![0x62, high, low];
        match identifier {
            TANK_SENSOR_IDENTIFIER => {
                answer.extend(((self.snapshot.tank_volt * 1000.0).round() as u16).to_be_bytes());
            }
            VENT_COMMAND_IDENTIFIER => answer.push((self.snapshot.vent_command * 255.0) as u8),
            _ => return Err(Refusal::Range),
        }
        Ok(answer)
    }
}

/// Why a unit refuses, as the byte that says so (ISO 14229-1).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Refusal {
    Service = 0x11,
    Form = 0x12,
    Conditions = 0x22,
    Range = 0x31,
}

/// The map of the 32 identifiers after `first`: the highest bit is the next one.
fn supported(first: u8, has: impl Fn(u8) -> bool) -> Option<Vec<u8>> {
    let anything_from = |from: u16| (from..=0xFF).any(|it| u8::try_from(it).is_ok_and(&has));
    if first != 0 && !anything_from(u16::from(first) + 1) {
        return None;
    }
    let mut map = 0u32;
    for place in 1..=32u16 {
        let identifier = u16::from(first) + place;
        let there = match u8::try_from(identifier) {
            Ok(it) if it.is_multiple_of(0x20) => anything_from(identifier + 1),
            Ok(it) => has(it),
            Err(_) => false,
        };
        map |= u32::from(there) << (32 - place);
    }
    let mut data = Vec::new();
    data.extend(map.to_be_bytes());
    Some(data)
}

fn code_list(answer: u8, codes: &[u16]) -> Vec<u8> {
    let mut payload = vec![answer, codes.len() as u8];
    payload.extend(codes.iter().flat_map(|code| code.to_be_bytes()));
    payload
}

fn transmission_reacts(request: &[u8], snapshot: &Snapshot) -> Result<Reaction, Refusal> {
    let has = |parameter: u8| matches!(parameter, 0x01 | 0x0D | 0x1C);
    let answer = match request {
        [0x01, 0x00] => {
            let mut answer = vec![0x41, 0x00];
            answer.extend(supported(0, has).unwrap_or_default());
            answer
        }
        [0x01, 0x01] => vec![0x41, 0x01, 0x00, 0x04, 0x00, 0x00],
        [0x01, 0x0D] => vec![0x41, 0x0D, snapshot.vehicle_speed.round() as u8],
        [0x01, 0x1C] => vec![0x41, 0x1C, 0x03],
        [0x03] => vec![0x43, 0x00],
        [0x07] => vec![0x47, 0x00],
        [0x0A] => vec![0x4A, 0x00],
        [0x09, 0x00] => vec![0x49, 0x00, 0x10, 0x40, 0x00, 0x00],
        [0x09, 0x04] => [&[0x49, 0x04, 0x01], b"TCV-0001\0\0\0\0\0\0\0\0".as_slice()].concat(),
        [0x09, 0x0A] => [&[0x49, 0x0A, 0x01], b"TCM\0-Transmission\0\0\0".as_slice()].concat(),
        [0x01 | 0x02 | 0x06 | 0x09, ..] => return Err(Refusal::Range),
        _ => return Err(Refusal::Service),
    };
    Ok(Reaction::Answer(answer))
}

#[cfg(test)]
mod tests;
