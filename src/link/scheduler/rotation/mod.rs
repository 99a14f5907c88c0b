use std::collections::BTreeSet;
use std::time::Duration;

use super::super::UnitId;
use super::super::isotp::assembler::Message;
use super::rate::{Pace, RateReport, RateRow};
use super::row::Row;
use super::wanted::{Item, Reading, Wanted};
use super::{Request, Target};
use crate::units::Instant;

/// SAE J1979 on CAN: up to six parameters in one request.
pub(in crate::link) const MOST_TOGETHER: usize = 6;

/// How far items may fall behind their times.
const BACKLOG: Duration = Duration::from_millis(250);

/// The same on a doubtful line.
const DOUBTFUL_MISSES: u32 = 10;

/// An item that the car leaves out of two whole answers to shared requests is asked alone.
const MISSES_UNTIL_ALONE: u32 = 2;

/// What an adapter takes the trailing digit of a request for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(in crate::link) enum CountMeans {
    /// Not found out yet; whole answers are tried.
    #[default]
    Unknown,
    /// Whole answers.
    Messages,
    /// Lines.
    Lines,
    /// It does not know the digit.
    Nothing,
}

/// Asks for several items in turn, each as often as wanted, several in one request where the car
/// allows it.
#[derive(Clone, Debug)]
pub struct Rotation {
    rows: Vec<Row>,
    together: usize,
    failures_together: u32,
    exchanges: Pace,
    readings: Pace,
    damaged: u64,
}

/// Items that go into one request, by their place in the rotation.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::link) struct Batch {
    rows: Vec<usize>,
    pub(in crate::link) target: Target,
}

impl Rotation {
    /// From the rows wanted. A later row for the same item replaces an earlier one.
    pub fn new(wanted: Vec<Wanted>) -> Self {
        let mut rows: Vec<Row> = Vec::new();
        for wanted in wanted {
            rows.retain(|row| row.wanted.item != wanted.item);
            rows.push(Row::new(wanted));
        }
        Self {
            rows,
            together: MOST_TOGETHER,
            failures_together: 0,
            exchanges: Pace::default(),
            readings: Pace::default(),
            damaged: 0,
        }
    }

    /// How fast readings come, against what was wanted.
    pub fn rate_report(&self) -> RateReport {
        let rows = self.rows.iter().map(|row| RateRow {
            item: row.wanted.item.clone(),
            wanted_hz: row.wanted.rate_hz,
            reached_hz: row.pace.hertz(),
            longest_gap: row.pace.longest_gap(),
            readings: row.pace.count(),
            asked_alone: row.alone || self.together == 1,
            unanswered: row.is_silent(),
        });
        RateReport {
            rows: rows.collect(),
            exchanges_per_second: self.exchanges.hertz(),
            readings_per_second: self.readings.hertz(),
            damaged_exchanges: self.damaged,
        }
    }

    /// When the next item is due; `None` at once, or without rows.
    pub(in crate::link) fn next_due(&self) -> Option<Instant> {
        self.rows.iter().map(|row| row.due).min().flatten()
    }

    /// The items to ask for now: the one that has been due longest, and with it up to five more
    /// that are due or will be before half their period is over.
    ///
    /// Every item falls due one period after it fell due before, so that where the link is too
    /// slow for all, each gets its share of what was wanted. `most` bounds the items of a request.
    pub(in crate::link) fn next_batch(&mut self, now: Instant, most: usize) -> Option<Batch> {
        self.forget_backlog(now);
        let mut order: Vec<(usize, &Row)> = self.rows.iter().enumerate().collect();
        order.sort_by_key(|(_, row)| row.due);
        let is_due = |row: &Row, by: Instant| row.due.is_none_or(|due| due <= by);
        let (first, leader) = order.first().filter(|(_, row)| is_due(row, now))?;
        let target = leader.wanted.unit.map_or(Target::All, Target::Unit);
        let mut rows = vec![*first];
        if self.shares(leader) {
            let fitting = order.iter().skip(1).filter(|(_, row)| {
                self.shares(row)
                    && row.wanted.unit == leader.wanted.unit
                    && is_due(row, now + row.period.div_f64(2.0))
            });
            rows.extend(
                fitting.map(|(place, _)| *place).take(self.together.min(most).saturating_sub(1)),
            );
        }
        Some(Batch { rows, target })
    }

    /// What a pause or a slow link has left undone beyond a moment is not caught up.
    fn forget_backlog(&mut self, now: Instant) {
        let Some(oldest) = self.rows.iter().filter_map(|row| row.due).min() else { return };
        let backlog = now.saturating_since(oldest).saturating_sub(BACKLOG);
        for due in self.rows.iter_mut().filter_map(|row| row.due.as_mut()) {
            *due = *due + backlog;
        }
    }

    fn shares(&self, row: &Row) -> bool {
        matches!(row.wanted.item, Item::Parameter(_)) && !row.alone && row.silences == 0
    }

    fn rows_of<'a>(&'a self, batch: &'a Batch) -> impl Iterator<Item = &'a Row> {
        batch.rows.iter().filter_map(|place| self.rows.get(*place))
    }

    /// The request for a batch.
    pub(in crate::link) fn request(&self, batch: &Batch) -> Request {
        let mut service = 0x01;
        let mut data = Vec::new();
        for row in self.rows_of(batch) {
            match &row.wanted.item {
                Item::Parameter(parameter) => data.push(*parameter),
                Item::Custom { service: custom, data: bytes } => {
                    service = *custom;
                    data.extend_from_slice(bytes);
                }
            }
        }
        match batch.target {
            Target::All => Request::new(service, &data),
            Target::Unit(unit) => Request::new(service, &data).to(unit),
        }
    }

    /// How many answers a batch will bring, once every item's units are known.
    pub(in crate::link) fn expected(&self, batch: &Batch, means: CountMeans) -> Option<u8> {
        if means == CountMeans::Nothing || self.rows_of(batch).any(|row| row.units.is_empty()) {
            return None;
        }
        let units: BTreeSet<UnitId> =
            self.rows_of(batch).flat_map(|row| row.units.iter().copied()).collect();
        let lines = units.iter().map(|unit| match means {
            CountMeans::Lines => lines_of(
                self.rows_of(batch)
                    .filter(|row| row.units.contains(unit))
                    .map(|row| row.wanted.answer_length())
                    .fold(1, usize::saturating_add),
            ),
            _ => 1,
        });
        u8::try_from(lines.fold(0, usize::saturating_add)).ok().filter(|count| *count <= 15)
    }

    /// Takes the answers to a batch. Returns the readings, and whether an answer was unreadable.
    ///
    /// With `doubtful`, only data that equal the item's latest answer pass; the others are asked
    /// again at once.
    pub(in crate::link) fn handle_answers(
        &mut self,
        batch: &Batch,
        answers: &[(Message, Instant, Duration)],
        doubtful: bool,
        now: Instant,
    ) -> (Vec<Reading>, bool) {
        let mut readings = Vec::new();
        let mut unreadable = false;
        let mut seen: BTreeSet<usize> = BTreeSet::new();
        self.exchanges.handle_reading(now);
        for (message, at, uncertainty) in answers {
            let Some(parts) = self.split(batch, &message.payload) else {
                unreadable = true;
                continue;
            };
            for (place, data) in parts {
                seen.insert(place);
                let Some(row) = self.rows.get_mut(place) else { continue };
                if let Some(data) = row.handle_data(message.unit, data, doubtful, now) {
                    row.pace.handle_reading(*at);
                    self.readings.handle_reading(*at);
                    readings.push(Reading {
                        item: row.wanted.item.clone(),
                        data,
                        unit: message.unit,
                        at: *at,
                        uncertainty: *uncertainty,
                    });
                }
            }
        }
        if !unreadable {
            self.handle_missing(batch, &seen, doubtful, now);
        }
        self.damaged = self.damaged.saturating_add(u64::from(unreadable));
        (readings, unreadable)
    }

    /// Splits a payload into the items of a batch; `None` unless it fits to the last byte.
    fn split(&self, batch: &Batch, payload: &[u8]) -> Option<Vec<(usize, Vec<u8>)>> {
        let (_, mut rest) = payload.split_first()?;
        let mut parts: Vec<(usize, Vec<u8>)> = Vec::new();
        while !rest.is_empty() {
            let (place, row, after) = batch.rows.iter().find_map(|place| {
                let row = self.rows.get(*place)?;
                let after = match &row.wanted.item {
                    Item::Parameter(parameter) => rest.strip_prefix(&[*parameter])?,
                    Item::Custom { data, .. } => rest.strip_prefix(data.as_slice())?,
                };
                Some((*place, row, after))
            })?;
            let (data, remainder) = after.split_at_checked(usize::from(row.wanted.length))?;
            if data.is_empty() || parts.iter().any(|(earlier, _)| *earlier == place) {
                return None;
            }
            parts.push((place, data.to_vec()));
            rest = remainder;
        }
        Some(parts)
    }

    /// Items that a whole, readable answer leaves out: one that shared its request is soon asked
    /// alone, one that was alone counts as silent.
    fn handle_missing(
        &mut self,
        batch: &Batch,
        seen: &BTreeSet<usize>,
        doubtful: bool,
        now: Instant,
    ) {
        // On a doubtful line the request may have arrived without the item.
        let most = if doubtful { DOUBTFUL_MISSES } else { MISSES_UNTIL_ALONE };
        let shared = batch.rows.len() > 1;
        let none = seen.is_empty();
        for place in batch.rows.iter().filter(|place| !seen.contains(place)) {
            let Some(row) = self.rows.get_mut(*place) else { continue };
            if shared && !none {
                row.misses = row.misses.saturating_add(1);
                row.alone |= row.misses >= most;
                row.due = Some(now);
            } else if !shared {
                row.handle_silence(now);
            }
        }
        if shared && none {
            self.handle_failure_together(now);
        } else if shared {
            self.failures_together = 0;
        }
    }

    fn handle_failure_together(&mut self, now: Instant) {
        self.failures_together = self.failures_together.saturating_add(1);
        if self.failures_together >= MISSES_UNTIL_ALONE {
            self.together = 1;
        }
        for row in &mut self.rows {
            row.due = row.due.max(Some(now));
        }
    }

    /// Takes the refusal of a batch: no data, a negative answer, an unknown command.
    pub(in crate::link) fn handle_refusal(&mut self, batch: &Batch, now: Instant) {
        self.exchanges.handle_reading(now);
        self.handle_missing(batch, &BTreeSet::new(), false, now);
        // A car that says nothing to anything is switched off: that says nothing about sharing.
        if self.rows.iter().all(|row| row.is_silent()) {
            self.together = MOST_TOGETHER;
            self.failures_together = 0;
        }
    }

    /// Takes an exchange that failed on the way: everything stays due.
    pub(in crate::link) fn handle_damage(&mut self) {
        self.damaged = self.damaged.saturating_add(1);
    }

    /// Whether no item has been answered lately.
    pub(in crate::link) fn is_unanswered(&self) -> bool {
        !self.rows.is_empty() && self.rows.iter().all(|row| row.is_silent())
    }
}

/// Frames that a payload takes on CAN (ISO 15765-2).
fn lines_of(payload: usize) -> usize {
    if payload <= 7 { 1 } else { payload.saturating_sub(6).div_ceil(7).saturating_add(1) }
}

#[cfg(test)]
mod tests;
