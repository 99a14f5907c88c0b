//! Unplugging seen in the pressure alone, for recordings in which nobody said it.

use super::spans::Span;
use crate::analysis::descriptive;

/// Shortest stay in one of the two levels that counts, s.
const SHORTEST: f64 = 1.5;
/// Longest time without a usable sample that a stay bridges: a throttle opening with the valve off, s.
const LONGEST_GAP: f64 = 15.0;
/// Half width of the running mean that quiets the reading, s.
const REACH: f64 = 0.6;

/// Spans in which the connector was off: purge is commanded, yet the tank stands at the higher of
/// two clearly separate levels.
///
/// The two levels come from the split that leaves least variance inside them (Otsu 1979, IEEE
/// Trans. SMC 9:62), over the usable samples with purge commanded: engine running,
/// throttle shut, vent and cap as they should be. One level means that nobody unplugged
/// anything, or that purge moves nothing.
pub(super) fn unplugged_spans(
    times: &[f64],
    pressure: &[f64],
    purge: &[f64],
    usable: &[bool],
    noise: f64,
    step: f64,
) -> Vec<Span> {
    let commanded: Vec<usize> =
        (0..times.len()).filter(|&i| usable[i] && purge[i] > 0.05).collect();
    if commanded.len() < 30 {
        return Vec::new();
    }
    // The command's own ramp also makes low and high levels; only a command that stays up counts.
    let usual = descriptive::median(&commanded.iter().map(|&i| purge[i]).collect::<Vec<_>>())
        .unwrap_or(0.0);
    let steady: Vec<usize> = commanded.into_iter().filter(|&i| purge[i] > 0.6 * usual).collect();
    let (quiet, averaged) = quieted(times, pressure);
    let Some((low, high, threshold)) = split(steady.iter().map(|&i| quiet[i]).collect()) else {
        return Vec::new();
    };
    if high - low < (8.0 * noise / averaged.sqrt()).max(1.5 * step) {
        return Vec::new();
    }
    let mut spans: Vec<Span> = Vec::new();
    let mut open: Option<(f64, f64)> = None;
    for &i in &steady {
        let time = times[i];
        let broken = open.is_some_and(|(_, last)| time - last > LONGEST_GAP);
        if quiet[i] > threshold && !broken {
            open = Some((open.map_or(time, |(from, _)| from), time));
        } else if let Some((from, last)) = open.take()
            && last - from >= SHORTEST
        {
            spans.push((from, last));
        }
    }
    spans.extend(open.filter(|(from, last)| last - from >= SHORTEST));
    spans
}

/// Running means of the readings, and how many readings each holds in the middle of the recording.
fn quieted(times: &[f64], pressure: &[f64]) -> (Vec<f64>, f64) {
    let (mut from, mut to, mut sum, mut counted) = (0, 0, 0.0, 0.0);
    let means = times
        .iter()
        .map(|&time| {
            while to < times.len() && times[to] <= time + REACH {
                sum += pressure[to];
                to += 1;
            }
            while times[from] < time - REACH {
                sum -= pressure[from];
                from += 1;
            }
            counted += (to - from) as f64;
            sum / (to - from) as f64
        })
        .collect();
    (means, (counted / times.len().max(1) as f64).max(1.0))
}

/// Means of the two groups and the threshold between them; `None` where either is a sliver.
fn split(mut values: Vec<f64>) -> Option<(f64, f64, f64)> {
    values.sort_by(f64::total_cmp);
    let count = values.len() as f64;
    let total: f64 = values.iter().sum();
    let mut best: Option<(f64, usize)> = None;
    let mut sum = 0.0;
    for (index, pair) in values.windows(2).enumerate() {
        sum += pair[0];
        let below = index as f64 + 1.0;
        let difference = sum / below - (total - sum) / (count - below);
        let between = below * (count - below) * difference * difference;
        if pair[1] > pair[0] && best.is_none_or(|(known, _)| between > known) {
            best = Some((between, index + 1));
        }
    }
    let (_, cut) = best?;
    if (cut as f64) < 0.08 * count || (cut as f64) > 0.92 * count {
        return None;
    }
    let low = values[..cut].iter().sum::<f64>() / cut as f64;
    let high = values[cut..].iter().sum::<f64>() / (count - cut as f64);
    // A real pair of levels leaves little inside: the gap is several times the spread within.
    let spread = |group: &[f64], mean: f64| {
        (group.iter().map(|v| (v - mean) * (v - mean)).sum::<f64>() / group.len() as f64).sqrt()
    };
    let within = spread(&values[..cut], low).max(spread(&values[cut..], high));
    (high - low > 3.0 * within).then_some((low, high, (low + high) / 2.0))
}
