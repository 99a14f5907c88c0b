use serde::{Deserialize, Serialize};

use crate::units::Instant;

/// The samples of one signal, unevenly timed, times never decreasing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Series {
    times: Vec<Instant>,
    values: Vec<f64>,
}

impl Series {
    /// Appends a sample. Returns `false`, and keeps nothing, if `at` lies before the last sample
    /// or `value` is not finite.
    pub fn push(&mut self, at: Instant, value: f64) -> bool {
        if !value.is_finite() || self.times.last().is_some_and(|last| at < *last) {
            return false;
        }
        self.times.push(at);
        self.values.push(value);
        true
    }

    /// Number of samples.
    pub fn len(&self) -> usize {
        self.times.len()
    }

    /// Whether there is no sample.
    pub fn is_empty(&self) -> bool {
        self.times.is_empty()
    }

    /// Times of the samples.
    pub fn times(&self) -> &[Instant] {
        &self.times
    }

    /// Values of the samples, in the signal's unit.
    pub fn values(&self) -> &[f64] {
        &self.values
    }

    /// Samples in order.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (Instant, f64)> + '_ {
        self.times.iter().copied().zip(self.values.iter().copied())
    }

    /// The last sample.
    pub fn last(&self) -> Option<(Instant, f64)> {
        Some((*self.times.last()?, *self.values.last()?))
    }

    /// The last value at or before `at`.
    pub fn value_at(&self, at: Instant) -> Option<f64> {
        let after = self.times.partition_point(|time| *time <= at);
        self.values.get(after.checked_sub(1)?).copied()
    }

    /// Times and values of the samples from `from` (included) to `to` (excluded).
    pub fn between(&self, from: Instant, to: Instant) -> (&[Instant], &[f64]) {
        let start = self.times.partition_point(|time| *time < from);
        let end = self.times.partition_point(|time| *time < to).max(start);
        (&self.times[start..end], &self.values[start..end])
    }
}
