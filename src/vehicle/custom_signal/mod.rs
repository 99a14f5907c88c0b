use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::parameter_table::{big_endian, sign_extend};
use super::{DecodeError, OwnSignalFlaw, Service, Signal};

/// A signal that the standard does not offer, read by a request the person took from a manual.
///
/// Written as TOML; numbers that manuals print in hexadecimal are hexadecimal text. The value is
/// `raw · scale + offset` in the signal's unit; there is no formula language on purpose.
///
/// ```toml
/// [[signal]]
/// signal = "tank_sensor_v"
/// unit_address = "7E0"
/// service = "22"
/// identifier = "1234"
/// length = 2
/// scale = 0.001
/// low = 0.0
/// high = 5.0
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CustomSignal {
    /// The signal it gives.
    pub signal: Signal,
    /// Address of the control unit to ask; all are asked if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_address: Option<Hex>,
    /// Service to ask with: 01, 21 or 22, as only these read.
    pub service: Hex,
    /// Identifier within the service: one byte for 01 and 21, two for 22.
    pub identifier: Hex,
    /// Length in bytes of the data that answer it.
    pub length: usize,
    /// Place of the value's first byte in the data.
    #[serde(default)]
    pub start: usize,
    /// Length of the value in bytes, most significant first; the rest of the data if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bytes: Option<usize>,
    /// Whether the value is two's complement.
    #[serde(default)]
    pub signed: bool,
    /// Factor.
    pub scale: f64,
    /// Added after the factor.
    #[serde(default)]
    pub offset: f64,
    /// Least value that can be right; what lies below is no reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub low: Option<f64>,
    /// Largest value that can be right.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub high: Option<f64>,
    /// Readings a second to aim at.
    #[serde(default = "usual_rate")]
    pub rate_hz: f64,
}

/// A number that manuals print in hexadecimal, kept as such text in the file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Hex(pub u32);

#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    #[serde(default)]
    signal: Vec<CustomSignal>,
}

impl CustomSignal {
    /// Reads a file of own signals. All of it is right or none of it is taken.
    pub fn read_all(text: &str) -> Result<Vec<Self>, DecodeError> {
        let file: File = toml::from_str(text)?;
        for (place, own) in file.signal.iter().enumerate() {
            own.check()?;
            if file.signal.iter().take(place).any(|other| other.signal == own.signal) {
                return Err(own.flaw(OwnSignalFlaw::Twice));
            }
        }
        Ok(file.signal)
    }

    /// A file of own signals.
    pub fn write_all(signals: &[Self]) -> String {
        // Plain values and tables only, which that format always takes.
        toml::to_string(&File { signal: signals.to_vec() }).unwrap_or_default()
    }

    /// The service byte and what follows it in the request.
    pub fn request(&self) -> (u8, Vec<u8>) {
        (self.service_byte(), self.echo())
    }

    /// The value in an answer, whole with its service byte; `None` if it lies outside the limits
    /// of what can be right.
    pub fn decode(&self, payload: &[u8]) -> Result<Option<f64>, DecodeError> {
        let service = self.service_byte();
        let mut rest = payload;
        let expected = std::iter::once(service | 0x40).chain(self.echo());
        for expected in expected {
            match rest.split_first() {
                Some((found, after)) if *found == expected => rest = after,
                Some((found, _)) => {
                    return Err(DecodeError::WrongEcho { expected, found: *found });
                }
                None => return Err(DecodeError::TooShort { service, needed: 1, found: 0 }),
            }
        }
        self.decode_data(rest)
    }

    /// The value in the data of an answer, without service byte and identifier.
    pub fn decode_data(&self, data: &[u8]) -> Result<Option<f64>, DecodeError> {
        let service = self.service_byte();
        let found = data.len();
        if found < self.length {
            return Err(DecodeError::TooShort { service, needed: self.length, found });
        }
        if found > self.length {
            return Err(DecodeError::TooLong { service, expected: self.length, found });
        }
        let bytes = self.value_bytes();
        let outside = || self.flaw(OwnSignalFlaw::ValueOutside);
        let end = self.start.checked_add(bytes).ok_or_else(outside)?;
        let raw = data.get(self.start..end).and_then(big_endian).ok_or_else(outside)?;
        let number = if self.signed { f64::from(sign_extend(raw, bytes)) } else { f64::from(raw) };
        let value = number * self.scale + self.offset;
        let right =
            self.low.is_none_or(|low| value >= low) && self.high.is_none_or(|high| value <= high);
        Ok(right.then_some(value))
    }

    /// Smallest change that the value can show, in the signal's unit.
    pub fn resolution(&self) -> f64 {
        self.scale.abs()
    }

    fn service_byte(&self) -> u8 {
        // Checked when the file is read; a description made otherwise asks with a reading service.
        u8::try_from(self.service.0).unwrap_or(Service::DataByIdentifier.request())
    }

    fn value_bytes(&self) -> usize {
        self.bytes.unwrap_or_else(|| self.length.saturating_sub(self.start))
    }

    fn echo(&self) -> Vec<u8> {
        let [.., high, low] = self.identifier.0.to_be_bytes();
        if self.service_byte() == Service::DataByIdentifier.request() {
            vec![high, low]
        } else {
            vec![low]
        }
    }

    /// Whether the description can be asked and read at all.
    pub fn check(&self) -> Result<(), DecodeError> {
        let service = u8::try_from(self.service.0).ok().and_then(Service::from_request);
        let largest = match service {
            Some(Service::CurrentData | Service::LocalData) => 0xFF,
            Some(Service::DataByIdentifier) => 0xFFFF,
            _ => return Err(self.flaw(OwnSignalFlaw::ServiceNotReading)),
        };
        let numbers = [self.scale, self.offset, self.low.unwrap_or(0.0), self.high.unwrap_or(0.0)];
        let reversed = self.low.zip(self.high).is_some_and(|(low, high)| low >= high);
        let bytes = self.value_bytes();
        let inside = self.start.checked_add(bytes).is_some_and(|end| end <= self.length);
        let flaws = [
            (self.identifier.0 > largest, OwnSignalFlaw::IdentifierTooLarge),
            (!(1..=4).contains(&bytes), OwnSignalFlaw::ValueLength),
            (!inside, OwnSignalFlaw::ValueOutside),
            (
                self.scale == 0.0 || !numbers.iter().all(|number| number.is_finite()),
                OwnSignalFlaw::NotANumber,
            ),
            (reversed, OwnSignalFlaw::LimitsReversed),
            (!(0.01..=100.0).contains(&self.rate_hz), OwnSignalFlaw::Rate),
        ];
        match flaws.into_iter().find(|(wrong, _)| *wrong) {
            Some((_, why)) => Err(self.flaw(why)),
            None => Ok(()),
        }
    }

    fn flaw(&self, why: OwnSignalFlaw) -> DecodeError {
        DecodeError::OwnSignal { name: self.signal.name(), why }
    }
}

fn usual_rate() -> f64 {
    2.0
}

impl fmt::Display for Hex {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{:02X}", self.0)
    }
}

impl Serialize for Hex {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Hex {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        let digits = text.trim();
        if digits.is_empty() || !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return Err(de::Error::custom(format_args!("{text:?} is no hexadecimal number")));
        }
        u32::from_str_radix(digits, 16).map(Self).map_err(de::Error::custom)
    }
}

#[cfg(test)]
mod tests;
