use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::parameter_table::big_endian;
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
    /// Address of the control unit, as it is asked (7E0) or as it answers (7E8); all are asked if
    /// left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_address: Option<Hex>,
    /// Service to ask with: 01, 06, 09 or 22. Only services that read, of which the program lets
    /// every request out.
    pub service: Hex,
    /// Identifier within the service: one byte for 01, 06 and 09, two for 22.
    pub identifier: Hex,
    /// Length in bytes of the data that answer it.
    pub length: usize,
    /// Place of the value's first byte in the data.
    #[serde(default)]
    pub start: usize,
    /// Length of the value in bytes, most significant first; the rest of the data if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bytes: Option<usize>,
    /// Place of the value's lowest bit within those bytes, 0 for the last byte's lowest.
    #[serde(default)]
    pub bit: u8,
    /// How many bits the value has; all from `bit` up if left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bits: Option<u8>,
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
    /// Ends of the window that the manual gives for the value at rest: tank open, engine off. What
    /// lies outside is evidence against the sensor.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rest_low: Option<f64>,
    /// The upper end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rest_high: Option<f64>,
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

    /// The address that the asked unit's answers carry, if one unit is asked (ISO 15765-4: 7E0 is
    /// answered by 7E8, 18DA10F1 by 18DAF110).
    pub fn answered_by(&self) -> Option<u32> {
        let Hex(address) = self.unit_address?;
        Some(match address {
            0x7E0..=0x7E7 => address.saturating_add(8),
            0x18DA_0000..=0x18DA_FFFF if address & 0xFF == 0xF1 && address >> 8 & 0xFF != 0xF1 => {
                0x18DA_F100 | (address >> 8 & 0xFF)
            }
            _ => address,
        })
    }

    /// The value in an answer, whole with its service byte; `None` if it lies outside the limits
    /// of what can be right.
    pub fn decode(&self, payload: &[u8]) -> Result<Option<f64>, DecodeError> {
        Ok(self.pick(payload)?.value)
    }

    /// The value in an answer with the bytes and bits that it was made of.
    pub fn pick(&self, payload: &[u8]) -> Result<PickedValue, DecodeError> {
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
        self.pick_data(rest)
    }

    /// The value in the data of an answer, without service byte and identifier.
    pub fn decode_data(&self, data: &[u8]) -> Result<Option<f64>, DecodeError> {
        Ok(self.pick_data(data)?.value)
    }

    fn pick_data(&self, data: &[u8]) -> Result<PickedValue, DecodeError> {
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
        let picked = data.get(self.start..end).ok_or_else(outside)?;
        let whole = big_endian(picked).ok_or_else(outside)?;
        let bits = self.value_bits();
        let shifted = whole.checked_shr(u32::from(self.bit)).unwrap_or(0);
        let kept = u32::MAX.checked_shr(32_u32.saturating_sub(u32::from(bits))).unwrap_or(0);
        let number = number(shifted & kept, bits, self.signed);
        let value = number as f64 * self.scale + self.offset;
        let right =
            self.low.is_none_or(|low| value >= low) && self.high.is_none_or(|high| value <= high);
        Ok(PickedValue {
            bytes: picked.to_vec(),
            bit: self.bit,
            bits,
            number,
            unlimited: value,
            value: right.then_some(value),
        })
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

    fn value_bits(&self) -> u8 {
        let there = u8::try_from(self.value_bytes().saturating_mul(8)).unwrap_or(32);
        self.bits.unwrap_or_else(|| there.saturating_sub(self.bit))
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
            Some(Service::CurrentData | Service::MonitorResults | Service::Identification) => 0xFF,
            Some(Service::DataByIdentifier) => 0xFFFF,
            _ => return Err(self.flaw(OwnSignalFlaw::ServiceNotReading)),
        };
        let limits =
            [self.low, self.high, self.rest_low, self.rest_high].map(|it| it.unwrap_or(0.0));
        let [low, high, rest_low, rest_high] = limits;
        let numbers = [self.scale, self.offset, low, high, rest_low, rest_high];
        let wrong_way = |low: Option<f64>, high: Option<f64>| {
            low.zip(high).is_some_and(|(low, high)| low >= high)
        };
        let reversed = wrong_way(self.low, self.high) || wrong_way(self.rest_low, self.rest_high);
        let bytes = self.value_bytes();
        let inside = self.start.checked_add(bytes).is_some_and(|end| end <= self.length);
        let bits = self.value_bits();
        let top = usize::from(self.bit).saturating_add(usize::from(bits));
        let bits_fit = bits > 0 && top <= bytes.saturating_mul(8);
        let flaws = [
            (self.identifier.0 > largest, OwnSignalFlaw::IdentifierTooLarge),
            (!(1..=4).contains(&bytes), OwnSignalFlaw::ValueLength),
            (!inside, OwnSignalFlaw::ValueOutside),
            (!bits_fit, OwnSignalFlaw::BitsOutside),
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

/// What a description picks of an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct PickedValue {
    /// The value's bytes.
    pub bytes: Vec<u8>,
    /// Place of its lowest bit within them.
    pub bit: u8,
    /// How many bits it has.
    pub bits: u8,
    /// The number in these bits.
    pub number: i64,
    /// That number by factor and offset, whether or not it can be right.
    pub unlimited: f64,
    /// The same where it lies within the limits of what can be right.
    pub value: Option<f64>,
}

/// A number of so many bits, read as two's complement if `signed`.
fn number(raw: u32, bits: u8, signed: bool) -> i64 {
    let negative = signed && bits > 0 && raw >> (bits.saturating_sub(1)).min(31) & 1 == 1;
    let wrap = 1_i64.checked_shl(u32::from(bits)).unwrap_or(0);
    if negative { i64::from(raw).saturating_sub(wrap) } else { i64::from(raw) }
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
