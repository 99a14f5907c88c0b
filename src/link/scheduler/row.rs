use std::collections::BTreeSet;
use std::time::Duration;

use super::super::UnitId;
use super::Wanted;
use super::rate::Pace;
use crate::units::Instant;

/// Requests in a row without an answer until an item is asked rarely.
const SILENCES_UNTIL_RARE: u32 = 3;

/// Between attempts to read an item that the car does not answer.
const RARELY: Duration = Duration::from_secs(10);

/// Lowest rate that a row can want; below it an item is asked this often.
const SLOWEST_HZ: f64 = 0.001;

/// One wanted item and what has become of it.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) wanted: Wanted,
    pub(super) period: Duration,
    /// When it is to be asked next; `None` at once.
    pub(super) due: Option<Instant>,
    pub(super) alone: bool,
    pub(super) misses: u32,
    pub(super) silences: u32,
    doubts: u32,
    pub(super) units: BTreeSet<UnitId>,
    pub(super) chosen: Option<UnitId>,
    pub(super) latest: Option<(UnitId, Vec<u8>)>,
    pub(super) pace: Pace,
}

impl Row {
    /// A wanted row that is due at once.
    pub(super) fn new(wanted: Wanted) -> Self {
        let rate = if wanted.rate_hz.is_finite() { wanted.rate_hz } else { SLOWEST_HZ };
        Self {
            chosen: wanted.unit,
            wanted,
            period: Duration::from_secs_f64(1.0 / rate.max(SLOWEST_HZ)),
            due: None,
            alone: false,
            misses: 0,
            silences: 0,
            doubts: 0,
            units: BTreeSet::new(),
            latest: None,
            pace: Pace::default(),
        }
    }

    /// Whether the car has stopped answering it, or never did.
    pub(super) fn is_silent(&self) -> bool {
        self.silences >= SILENCES_UNTIL_RARE
    }

    /// Takes data from a unit; gives them back if they are to be believed and from the unit that
    /// this row follows.
    pub(super) fn handle_data(
        &mut self,
        unit: UnitId,
        data: Vec<u8>,
        doubtful: bool,
        now: Instant,
    ) -> Option<Vec<u8>> {
        let repeated = self.latest.as_ref().is_some_and(|(it, old)| *it == unit && *old == data);
        if self.chosen.is_some_and(|chosen| chosen != unit) {
            // Another unit answers the same request; believed only as a count of answers.
            if !doubtful {
                self.units.insert(unit);
            }
            return None;
        }
        if self.latest.as_ref().is_some_and(|(it, _)| *it == unit) {
            self.units.insert(unit);
        }
        self.latest = Some((unit, data.clone()));
        if doubtful && !repeated {
            // It stays due and is asked again next, but no more than twice: a value that changes
            // from answer to answer must not keep the others from their turn.
            self.doubts = self.doubts.wrapping_add(1);
            if self.doubts.is_multiple_of(3) {
                self.due = Some(now + self.period);
            }
            return None;
        }
        self.units.insert(unit);
        self.chosen = Some(unit);
        (self.misses, self.silences) = (0, 0);
        self.due = Some(self.due.unwrap_or(now) + self.period);
        Some(data)
    }

    pub(super) fn handle_silence(&mut self, now: Instant) {
        self.silences = self.silences.saturating_add(1);
        let wait = if self.is_silent() { RARELY } else { self.period };
        self.due = Some(now + wait);
    }
}
