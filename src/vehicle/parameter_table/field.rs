use crate::vehicle::{Quantity, Signal};

/// One number inside a parameter's data, with the rule that turns bytes into it:
/// `value = raw · numerator / denominator + offset`. Two factors, so that the standard's own
/// fractions stay exact.
#[derive(Clone, Copy, Debug)]
pub struct Field {
    /// What it measures.
    pub quantity: Quantity,
    /// Which of several alike: the bank of a trim, the number of a sensor; else 1.
    pub place: u8,
    /// Place of the first byte in the data.
    pub at: usize,
    /// Number of bytes, most significant first.
    pub bytes: usize,
    /// Whether the raw number is two's complement.
    pub signed: bool,
    /// Factor.
    pub numerator: f64,
    /// Divisor.
    pub denominator: f64,
    /// Added last.
    pub offset: f64,
    /// Bit of the first data byte that says whether this number is there.
    pub announced_by_bit: Option<u8>,
    /// Raw number that means "not used".
    pub unused: Option<u32>,
}

/// A number from the car.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Measured {
    /// What it measures.
    pub quantity: Quantity,
    /// Which of several alike: the bank of a trim, the number of a sensor; else 1.
    pub place: u8,
    /// The number, in the quantity's unit.
    pub value: f64,
}

impl Measured {
    /// The signal that this number is a sample of, if it is one by itself. An absolute tank
    /// pressure is none: it needs a barometric pressure taken off (see
    /// [`TankSource`](crate::vehicle::TankSource)).
    pub fn signal(&self) -> Option<Signal> {
        signal_of(self.quantity, self.place)
    }
}

impl Field {
    /// An unsigned number of `bytes` bytes that start at `at`, in the quantity's unit as it is.
    pub(super) const fn new(quantity: Quantity, at: usize, bytes: usize) -> Self {
        Self {
            quantity,
            place: 1,
            at,
            bytes,
            signed: false,
            numerator: 1.0,
            denominator: 1.0,
            offset: 0.0,
            announced_by_bit: None,
            unused: None,
        }
    }

    pub(super) const fn scaled(mut self, numerator: f64, denominator: f64) -> Self {
        self.numerator = numerator;
        self.denominator = denominator;
        self
    }

    pub(super) const fn plus(mut self, offset: f64) -> Self {
        self.offset = offset;
        self
    }

    pub(super) const fn signed(mut self) -> Self {
        self.signed = true;
        self
    }

    pub(super) const fn place(mut self, place: u8) -> Self {
        self.place = place;
        self
    }

    pub(super) const fn announced_by_bit(mut self, bit: u8) -> Self {
        self.announced_by_bit = Some(bit);
        self
    }

    pub(super) const fn unused(mut self, raw: u32) -> Self {
        self.unused = Some(raw);
        self
    }

    /// The number, unless the data are too short for it, do not announce it or mark it unused.
    pub(super) fn decode(&self, data: &[u8]) -> Option<Measured> {
        if let Some(bit) = self.announced_by_bit {
            let announced = data.first()?.checked_shr(u32::from(bit))? & 1;
            if announced == 0 {
                return None;
            }
        }
        let bytes = data.get(self.at..self.at.checked_add(self.bytes)?)?;
        let raw = big_endian(bytes)?;
        if self.unused == Some(raw) {
            return None;
        }
        let value = self.value_of(raw);
        Some(Measured { quantity: self.quantity, place: self.place, value })
    }

    /// The value of a raw number.
    pub fn value_of(&self, raw: u32) -> f64 {
        let number =
            if self.signed { f64::from(sign_extend(raw, self.bytes)) } else { f64::from(raw) };
        number * self.numerator / self.denominator + self.offset
    }

    /// The raw number whose value is nearest to `value`, held inside the field's range, with its
    /// bytes. For whoever has to answer like a car.
    pub fn encode(&self, value: f64) -> Vec<u8> {
        let number = ((value - self.offset) * self.denominator / self.numerator).round();
        let (low, high) = self.raw_range();
        let held = if number.is_nan() { 0.0 } else { number.clamp(low, high) };
        let raw = held as i64 as u32;
        let all = raw.to_be_bytes();
        let skip = all.len().saturating_sub(self.bytes);
        all.get(skip..).unwrap_or(&[]).to_vec()
    }

    /// Smallest change of the value.
    pub fn resolution(&self) -> f64 {
        self.numerator / self.denominator
    }

    /// Lowest and highest value that the bytes can carry.
    pub fn range(&self) -> (f64, f64) {
        let (low, high) = self.raw_range();
        let value = |raw: f64| raw * self.numerator / self.denominator + self.offset;
        (value(low), value(high))
    }

    fn raw_range(&self) -> (f64, f64) {
        let values = 256_f64.powi(i32::try_from(self.bytes).unwrap_or(4));
        if self.signed { (-values / 2.0, values / 2.0 - 1.0) } else { (0.0, values - 1.0) }
    }
}

/// Up to four bytes, most significant first, as a number.
pub(in crate::vehicle) fn big_endian(bytes: &[u8]) -> Option<u32> {
    if bytes.is_empty() || bytes.len() > 4 {
        return None;
    }
    Some(bytes.iter().fold(0_u32, |number, byte| number.wrapping_shl(8) | u32::from(*byte)))
}

/// A raw number of `bytes` bytes read as two's complement.
fn sign_extend(raw: u32, bytes: usize) -> i32 {
    match bytes {
        1 => i32::from(raw as u8 as i8),
        2 => i32::from(raw as u16 as i16),
        3 => (raw.wrapping_shl(8) as i32).wrapping_shr(8),
        _ => raw as i32,
    }
}

fn signal_of(quantity: Quantity, place: u8) -> Option<Signal> {
    Some(match (quantity, place) {
        (Quantity::TankPressure | Quantity::TankPressureWide, _) => Signal::TankPressure,
        (Quantity::ManifoldPressure, 1) => Signal::ManifoldPressure,
        (Quantity::BarometricPressure, _) => Signal::BarometricPressure,
        (
            Quantity::Throttle
            | Quantity::RelativeThrottle
            | Quantity::ThrottleB
            | Quantity::ThrottleCommand,
            _,
        ) => Signal::Throttle,
        (Quantity::PurgeCommand, _) => Signal::PurgeCommand,
        (Quantity::EngineSpeed, _) => Signal::EngineSpeed,
        (Quantity::VehicleSpeed, _) => Signal::VehicleSpeed,
        (Quantity::EngineLoad, _) => Signal::EngineLoad,
        (Quantity::Coolant, 1) => Signal::Coolant,
        (Quantity::IntakeAir, 1) => Signal::IntakeAir,
        (Quantity::AmbientAir, _) => Signal::AmbientAir,
        (Quantity::FuelLevel, _) => Signal::FuelLevel,
        (Quantity::ShortTrim, 1) => Signal::ShortTrim1,
        (Quantity::LongTrim, 1) => Signal::LongTrim1,
        (Quantity::ShortTrim, 2) => Signal::ShortTrim2,
        (Quantity::LongTrim, 2) => Signal::LongTrim2,
        (Quantity::Supply, _) => Signal::Supply,
        _ => return None,
    })
}
