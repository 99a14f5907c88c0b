//! How a signal answers a step, without a model: levels before and after, and when the change had
//! run half, 63 % and 90 % of its way.

use super::{Bounded, all_finite, descriptive};

/// A measured response. Times are seconds after the event.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepResponse {
    /// Median level before the event.
    pub before: f64,
    /// Median level of the last third after the event.
    pub after: f64,
    /// after − before.
    pub change: f64,
    /// When the signal first left its level before for good.
    pub delay: Bounded,
    /// When half of the change was done.
    pub half: Bounded,
    /// When 1 − 1/e of the change was done.
    pub sixty_three: Bounded,
    /// When 90 % of the change was done.
    pub ninety: Bounded,
    /// The farthest the signal went past its final level, as a share of the change.
    pub overshoot: f64,
}

/// Measures the response to a step at `event`. `noise` is the signal's standard deviation at rest:
/// a change below four of them is no change. Crossing times are bounded by the samples on either
/// side, since nothing between them was seen, and widened where noise can move the crossing.
///
/// `None` for odd data, fewer than two samples before or five after the event, or no change.
pub fn measure(times: &[f64], values: &[f64], event: f64, noise: f64) -> Option<StepResponse> {
    if times.len() != values.len() || !all_finite(times) || !all_finite(values) {
        return None;
    }
    let start = times.partition_point(|time| *time <= event);
    let (rest, moving) = (&values[..start], &values[start..]);
    let clock = &times[start..];
    if rest.len() < 2 || moving.len() < 5 {
        return None;
    }
    let before = descriptive::median(rest)?;
    let after = descriptive::median(&moving[moving.len() - (moving.len() / 3).max(2)..])?;
    let change = after - before;
    if !(change.abs() > 4.0 * noise.max(0.0)) || change == 0.0 {
        return None;
    }
    let done: Vec<f64> = moving.iter().map(|value| (value - before) / change).collect();
    let fuzz = noise.max(0.0) / change.abs();
    let response = Response { clock, done: &done, event, last: times[start - 1] };
    let most = done.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(StepResponse {
        before,
        after,
        change,
        delay: response.crossing((3.0 * fuzz).clamp(0.02, 0.5), fuzz),
        half: response.crossing(0.5, fuzz),
        sixty_three: response.crossing(1.0 - (-1.0_f64).exp(), fuzz),
        ninety: response.crossing(0.9, fuzz),
        overshoot: (most - 1.0).max(0.0),
    })
}

struct Response<'a> {
    clock: &'a [f64],
    /// Share of the change that each sample after the event shows.
    done: &'a [f64],
    event: f64,
    /// Time of the last sample before the event.
    last: f64,
}

impl Response<'_> {
    /// When `share` was reached for good: interpolated, bounded by the samples around it.
    fn crossing(&self, share: f64, fuzz: f64) -> Bounded {
        let index = self.reached(share);
        let value = self.interpolated(index, share);
        let low = self.before(self.reached(share - 1.96 * fuzz)).max(self.event) - self.event;
        let late = self.reached((share + 1.96 * fuzz).min(1.0 - fuzz.min(0.4)).max(share));
        let high = self.clock[late] - self.event;
        Bounded { value, low: low.min(value), high: high.max(value) }
    }

    /// Index of the first sample from which `share` is kept, judged by two samples in a row.
    fn reached(&self, share: f64) -> usize {
        let last = self.done.len() - 1;
        (0..last).find(|i| self.done[*i] >= share && self.done[i + 1] >= share).unwrap_or(last)
    }

    fn before(&self, index: usize) -> f64 {
        if index == 0 { self.last } else { self.clock[index - 1] }
    }

    fn interpolated(&self, index: usize, share: f64) -> f64 {
        let (to, reached) = (self.clock[index], self.done[index]);
        let from = self.before(index).max(self.event);
        let had = if index == 0 { 0.0 } else { self.done[index - 1] };
        let part =
            if reached > had { ((share - had) / (reached - had)).clamp(0.0, 1.0) } else { 1.0 };
        from + part * (to - from) - self.event
    }
}
