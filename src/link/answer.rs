use std::fmt;
use std::time::Duration;

use crate::units::Instant;

/// Who answers: the CAN identifier of the answer (`7E8`, `18DAF110`), or on older buses the source
/// address (`10`). Zero where the adapter shows no headers, so that units cannot be told apart.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnitId(pub u32);

impl UnitId {
    /// The adapter shows no headers.
    pub const UNTOLD: Self = Self(0);
}

impl fmt::Display for UnitId {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{:X}", self.0)
    }
}

/// One unit's positive answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Answer {
    /// Who answers.
    pub unit: UnitId,
    /// The payload, starting with the service plus 40 (hexadecimal).
    pub payload: Vec<u8>,
    /// The middle of the time in which the unit must have composed the answer.
    pub at: Instant,
    /// Half the length of that time: the true instant lies within `at` ± this.
    pub uncertainty: Duration,
}
