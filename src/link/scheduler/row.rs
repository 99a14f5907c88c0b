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
    pub(super) due: Instant,
    pub(super) alone: bool,
    pub(super) misses: u32,
    pub(super) silences: u32,
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
            due: Instant::from_micros(i64::MIN / 2),
            alone: false,
            misses: 0,
            silences: 0,
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
        self.latest = Some((unit, data.clone()));
        if doubtful && !repeated {
            self.due = now;
            return None;
        }
        self.units.insert(unit);
        self.chosen = Some(unit);
        (self.misses, self.silences) = (0, 0);
        // The rhythm is kept; what was missed is not caught up.
        self.due = (self.due + self.period).max(now);
        Some(data)
    }

    pub(super) fn handle_silence(&mut self, now: Instant) {
        self.silences = self.silences.saturating_add(1);
        let wait = if self.is_silent() { RARELY } else { self.period };
        self.due = now + wait;
    }
}
