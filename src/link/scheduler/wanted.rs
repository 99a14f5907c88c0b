use std::time::Duration;

use super::super::UnitId;
use crate::units::Instant;

/// What to read.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Item {
    /// A parameter of service 01.
    Parameter(u8),
    /// A request of another reading service: the service, and what follows it and comes back at
    /// the start of the answer, such as the two bytes of an identifier of service 22.
    Custom {
        /// The service.
        service: u8,
        /// What follows it.
        data: Vec<u8>,
    },
}

/// A row of the rotation.
#[derive(Clone, Debug, PartialEq)]
pub struct Wanted {
    /// What to read.
    pub item: Item,
    /// Bytes of its data, as the item's definition says.
    pub length: u8,
    /// Wanted readings a second.
    pub rate_hz: f64,
    /// Which unit to ask; `None` asks all, and follows the unit that answers first.
    pub unit: Option<UnitId>,
}

impl Wanted {
    /// A parameter of service 01, asked of all units.
    pub fn parameter(parameter: u8, length: u8, rate_hz: f64) -> Self {
        Self { item: Item::Parameter(parameter), length, rate_hz, unit: None }
    }

    /// An identifier of service 22.
    pub fn identifier(identifier: u16, length: u8, rate_hz: f64, unit: Option<UnitId>) -> Self {
        let data = identifier.to_be_bytes().to_vec();
        Self { item: Item::Custom { service: 0x22, data }, length, rate_hz, unit }
    }
}

/// One item's data at a time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    /// What was read.
    pub item: Item,
    /// Its data, as long as the row says.
    pub data: Vec<u8>,
    /// Who answered.
    pub unit: UnitId,
    /// The middle of the time in which the unit must have sampled it.
    pub at: Instant,
    /// Half the length of that time.
    pub uncertainty: Duration,
}

impl Wanted {
    /// Bytes that the item takes in an answer: what names it, and its data.
    pub(super) fn answer_length(&self) -> usize {
        let named = match &self.item {
            Item::Parameter(_) => 1,
            Item::Custom { data, .. } => data.len(),
        };
        named.saturating_add(usize::from(self.length))
    }
}
