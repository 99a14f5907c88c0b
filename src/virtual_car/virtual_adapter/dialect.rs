//! The Hayes-type AT dialect common to OBD adapters (common practice, no source).

use super::frames::Layout;

/// Who the adapter says it is.
pub(super) const BANNER: &str = "VIRTUAL OBD 1.0";

/// Protocol numbers of the dialect.
pub(super) const SHORT_FAST: u8 = 6;
pub(super) const LONG_FAST: u8 = 7;

/// Which protocol the adapter was told to use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Protocol {
    /// Find it; `found` once it is known.
    Automatic { found: bool },
    /// This one.
    Fixed(u8),
}

/// What the commands have set.
#[derive(Clone, Debug)]
pub(super) struct Settings {
    pub(super) echo: bool,
    pub(super) line_feeds: bool,
    pub(super) layout: Layout,
    /// 0 waits the full time, 1 and 2 wait as long as the car usually takes.
    pub(super) adaptive: u8,
    /// Unit of 4 ms.
    pub(super) timeout: u8,
    pub(super) protocol: Protocol,
    /// Request identifier; `None` is the broadcast.
    pub(super) target: Option<u32>,
    /// Only answers with this identifier are shown.
    pub(super) filter: Option<u32>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            echo: true,
            line_feeds: false,
            layout: Layout { headers: false, spaces: true, formatted: true },
            adaptive: 1,
            timeout: 0x32,
            protocol: Protocol::Automatic { found: false },
            target: None,
            filter: None,
        }
    }
}

/// What a command comes to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Effect {
    /// Done; the answer is `OK`.
    Done,
    /// The answer is a text.
    Says(String),
    /// Starts anew: takes a moment, ends with the banner.
    Restarts,
    /// Not understood.
    Unknown,
}

/// What the adapter knows about the car that some commands tell.
#[derive(Clone, Copy, Debug)]
pub(super) struct Surroundings {
    pub(super) supply: f64,
    pub(super) key_on: bool,
    pub(super) long_identifiers: bool,
}

impl Settings {
    /// Executes a command, given without `AT`, in capitals and without spaces.
    pub(super) fn execute(&mut self, command: &str, car: Surroundings) -> Effect {
        let number = |text: &str| u32::from_str_radix(text, 16).ok();
        match command {
            "Z" | "WS" => Effect::Restarts,
            "D" => {
                let echo = self.echo;
                *self = Self { echo, ..Self::default() };
                Effect::Done
            }
            "I" => Effect::Says(BANNER.into()),
            "@1" => Effect::Says("VIRTUAL ADAPTER IN A VIRTUAL CAR".into()),
            "RV" => Effect::Says(format!("{:.1}V", car.supply)),
            "IGN" => Effect::Says(if car.key_on { "ON" } else { "OFF" }.into()),
            "DPN" => Effect::Says(self.protocol_number(car)),
            "DP" => Effect::Says(self.protocol_name(car)),
            "E0" | "E1" => set(&mut self.echo, command),
            "L0" | "L1" => set(&mut self.line_feeds, command),
            "S0" | "S1" => set(&mut self.layout.spaces, command),
            "H0" | "H1" => set(&mut self.layout.headers, command),
            "CAF0" | "CAF1" => set(&mut self.layout.formatted, command),
            "AT0" | "AT1" | "AT2" => {
                self.adaptive = command.bytes().next_back().map_or(1, |digit| digit - b'0');
                Effect::Done
            }
            "CRA" | "AR" => {
                self.filter = None;
                Effect::Done
            }
            "PC" => {
                if let Protocol::Automatic { found } = &mut self.protocol {
                    *found = false;
                }
                Effect::Done
            }
            // Memory, long messages, flow control, masks: nothing to set on this adapter.
            "M0" | "M1" | "AL" | "NL" | "R0" | "R1" | "V0" | "V1" | "D0" | "D1" | "CFC0"
            | "CFC1" | "FCSM0" | "FCSM1" | "FCSM2" | "JHF0" | "JHF1" => Effect::Done,
            _ => self.execute_with_value(command, number),
        }
    }

    fn execute_with_value(
        &mut self,
        command: &str,
        number: impl Fn(&str) -> Option<u32>,
    ) -> Effect {
        let value = |prefix: &str| command.strip_prefix(prefix).filter(|rest| !rest.is_empty());
        if let Some(text) = value("ST") {
            let Some(timeout) = number(text).and_then(|it| u8::try_from(it).ok()) else {
                return Effect::Unknown;
            };
            // Zero restores the default.
            self.timeout = if timeout == 0 { 0x32 } else { timeout };
            Effect::Done
        } else if let Some(text) = value("SP").or_else(|| value("TP")) {
            // A leading A keeps the automatic search as a fallback.
            let digit = if text.len() == 2 { text.strip_prefix('A') } else { Some(text) };
            match digit.filter(|it| it.len() == 1).and_then(&number) {
                Some(0) => self.protocol = Protocol::Automatic { found: false },
                Some(_) if text.len() == 2 => {
                    self.protocol = Protocol::Automatic { found: false };
                }
                Some(fixed @ 1..=0xC) => self.protocol = Protocol::Fixed(fixed as u8),
                _ => return Effect::Unknown,
            }
            Effect::Done
        } else if let Some(text) = value("SH") {
            self.target = match (text.len(), number(text)) {
                (3, Some(identifier)) if identifier <= 0x7FF => Some(identifier),
                // The three bytes of a 29-bit identifier; its priority byte is 18 hexadecimal.
                (6, Some(identifier)) => Some(0x1800_0000 | identifier),
                (8, Some(identifier)) => Some(identifier),
                _ => return Effect::Unknown,
            };
            Effect::Done
        } else if let Some(text) = value("CRA") {
            match (text.len(), number(text)) {
                (3 | 8, Some(identifier)) => self.filter = Some(identifier),
                _ => return Effect::Unknown,
            }
            Effect::Done
        } else if ["CP", "CF", "CM", "FCSH", "FCSD", "SW", "PP"]
            .iter()
            .any(|prefix| value(prefix).is_some())
        {
            Effect::Done
        } else {
            Effect::Unknown
        }
    }

    fn protocol_number(&self, car: Surroundings) -> String {
        match self.protocol {
            Protocol::Automatic { found: true } => format!("A{:X}", own_protocol(car)),
            Protocol::Automatic { found: false } => "A0".into(),
            Protocol::Fixed(number) => format!("{number:X}"),
        }
    }

    fn protocol_name(&self, car: Surroundings) -> String {
        let name = |number: u8| match number {
            SHORT_FAST => "ISO 15765-4 (CAN 11/500)",
            LONG_FAST => "ISO 15765-4 (CAN 29/500)",
            8 => "ISO 15765-4 (CAN 11/250)",
            9 => "ISO 15765-4 (CAN 29/250)",
            _ => "OTHER",
        };
        match self.protocol {
            Protocol::Automatic { found: true } => format!("AUTO, {}", name(own_protocol(car))),
            Protocol::Automatic { found: false } => "AUTO".into(),
            Protocol::Fixed(number) => name(number).into(),
        }
    }
}

/// The protocol that the car speaks.
pub(super) fn own_protocol(car: Surroundings) -> u8 {
    if car.long_identifiers { LONG_FAST } else { SHORT_FAST }
}

fn set(switch: &mut bool, command: &str) -> Effect {
    *switch = command.ends_with('1');
    Effect::Done
}
