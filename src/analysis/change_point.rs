//! Where a level changes: one split, many splits (PELT), CUSUM, and steps in noisy uneven samples.

use super::{all_finite, count, decimation, descriptive};

/// A split of a series in two.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Split {
    /// Index of the first value after the change.
    pub index: usize,
    /// Sum of squares about the two means.
    pub cost: f64,
    /// Sum of squares about one mean.
    pub cost_without: f64,
}

/// The single split into two levels that leaves the least squares, each part at least `shortest`
/// long. `None` where the series is too short or not finite. O(n).
pub fn best_split(values: &[f64], shortest: usize) -> Option<Split> {
    let costs = SegmentCosts::new(values)?;
    let n = values.len();
    let shortest = shortest.max(1);
    let index = (shortest..=n.checked_sub(shortest)?)
        .min_by(|a, b| costs.split(*a).total_cmp(&costs.split(*b)))?;
    Some(Split { index, cost: costs.split(index), cost_without: costs.of(0, n) })
}

/// All changes of level: the ends (exclusive) of the segments but the last, minimising squares
/// about the segments' means plus `penalty` for each change, exactly (pruned exact linear time;
/// Killick, Fearnhead & Eckley 2012). A usual penalty is 3 σ² ln n.
///
/// Pruning needs changes to work: a long series without any costs O(n²), so take block means of
/// more than some thousand samples first (as [`steps`] does). Empty for odd data.
pub fn pelt(values: &[f64], penalty: f64, shortest: usize) -> Vec<usize> {
    let n = values.len();
    let shortest = shortest.max(1);
    let Some(costs) = SegmentCosts::new(values) else { return Vec::new() };
    if n < 2 * shortest || !(penalty >= 0.0) {
        return Vec::new();
    }
    let mut best = vec![f64::INFINITY; n + 1];
    best[0] = -penalty;
    let mut last = vec![0_usize; n + 1];
    let mut candidates = vec![0_usize];
    for end in shortest..=n {
        let mut least = f64::INFINITY;
        for &start in &candidates {
            let cost = best[start] + costs.of(start, end) + penalty;
            if cost < least {
                least = cost;
                last[end] = start;
            }
        }
        best[end] = least;
        candidates.retain(|&start| best[start] + costs.of(start, end) <= least);
        let next = end + 1 - shortest;
        if next >= shortest {
            candidates.push(next);
        }
    }
    let mut ends = Vec::new();
    let mut end = last[n];
    while end > 0 {
        ends.push(end);
        end = last[end];
    }
    ends.reverse();
    ends
}

/// Prefix sums that give the squares about the mean of any stretch at once.
struct SegmentCosts {
    centre: f64,
    sums: Vec<f64>,
    squares: Vec<f64>,
}

impl SegmentCosts {
    fn new(values: &[f64]) -> Option<Self> {
        // Taken about the overall mean, so that a large offset costs no digits.
        let centre = descriptive::mean(values)?;
        if !all_finite(values) {
            return None;
        }
        let mut sums = Vec::with_capacity(values.len() + 1);
        let mut squares = Vec::with_capacity(values.len() + 1);
        let (mut sum, mut square) = (0.0, 0.0);
        sums.push(sum);
        squares.push(square);
        for value in values {
            let deviation = value - centre;
            sum += deviation;
            square += deviation * deviation;
            sums.push(sum);
            squares.push(square);
        }
        Some(Self { centre, sums, squares })
    }

    fn of(&self, start: usize, end: usize) -> f64 {
        let sum = self.sums[end] - self.sums[start];
        (self.squares[end] - self.squares[start] - sum * sum / count(end - start)).max(0.0)
    }

    fn len(&self) -> usize {
        self.sums.len() - 1
    }

    /// Mean of a stretch.
    fn level(&self, start: usize, end: usize) -> f64 {
        self.centre + (self.sums[end] - self.sums[start]) / count(end - start)
    }

    fn split(&self, index: usize) -> f64 {
        self.of(0, index) + self.of(index, self.len())
    }
}

/// Page's (1954) cumulative sums for a shift up and down, in standard deviations.
#[derive(Clone, Debug, PartialEq)]
pub struct Cusum {
    /// max(0, previous + z − k).
    pub up: Vec<f64>,
    /// max(0, previous − z − k).
    pub down: Vec<f64>,
    /// Index of the first value at which either exceeds the limit.
    pub first_alarm: Option<usize>,
}

/// Cumulative sums about a known mean and standard deviation, with slack `k` and limit `h` (0.5 and
/// 5 are usual: about 465 values to a false alarm, from memory of Montgomery's table).
pub fn cusum(values: &[f64], mean: f64, sd: f64, k: f64, h: f64) -> Cusum {
    let (mut high, mut low) = (0.0_f64, 0.0_f64);
    let mut result = Cusum { up: Vec::new(), down: Vec::new(), first_alarm: None };
    if !(sd > 0.0) {
        return result;
    }
    for (i, value) in values.iter().enumerate() {
        let z = (value - mean) / sd;
        // A value that is not finite says nothing: max keeps the other operand beside NaN.
        let z = if z.is_finite() { z } else { 0.0 };
        high = (high + z - k).max(0.0);
        low = (low - z - k).max(0.0);
        result.up.push(high);
        result.down.push(low);
        if result.first_alarm.is_none() && (high > h || low > h) {
            result.first_alarm = Some(i);
        }
    }
    result
}

/// The OLS-CUSUM test that a mean stayed the same (Ploberger & Kramer 1992): largest absolute
/// partial sum of the residuals over σ√n, and its probability under no change (the Brownian
/// bridge's supremum). `None` where all residuals are zero.
pub fn ols_cusum(residuals: &[f64]) -> Option<(f64, f64)> {
    let n = count(residuals.len());
    let squares: f64 = residuals.iter().map(|value| value * value).sum();
    if !(squares > 0.0 && squares.is_finite()) {
        return None;
    }
    let scale = (squares / n).sqrt() * n.sqrt();
    let mut sum = 0.0;
    let mut most = 0.0_f64;
    for residual in residuals {
        sum += residual;
        most = most.max(sum.abs());
    }
    let statistic = most / scale;
    Some((statistic, kolmogorov_survival(statistic)))
}

/// P(sup |Brownian bridge| > x) = 2 Σ (−1)^(k−1) exp(−2k²x²).
fn kolmogorov_survival(x: f64) -> f64 {
    if x < 0.2 {
        return 1.0;
    }
    let mut sum = 0.0;
    for k in 1..=100 {
        let k = f64::from(k);
        let term = (-2.0 * k * k * x * x).exp();
        sum += if k % 2.0 == 1.0 { term } else { -term };
        if term < 1e-18 {
            break;
        }
    }
    (2.0 * sum).clamp(0.0, 1.0)
}

/// One change of level in a timed series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// Index of the first sample after the change.
    pub index: usize,
    /// Time of the last sample before it, s.
    pub after: f64,
    /// Time of the first sample past it, s: the change lies between the two.
    pub before: f64,
    /// Level of the stretch before.
    pub from: f64,
    /// Level of the stretch after.
    pub to: f64,
    /// Standard error of `to − from`, white errors assumed.
    pub standard_error: f64,
}

/// More samples than this are searched in blocks first.
const MOST_FOR_SEARCH: usize = 1500;

/// Changes of level in noisy, unevenly timed samples with a known noise `sd`, each at least
/// `smallest` high. Long series are searched by block means, and every change is then placed to the
/// sample. Empty for odd data.
pub fn steps(times: &[f64], values: &[f64], sd: f64, smallest: f64) -> Vec<Step> {
    let n = times.len().min(values.len());
    let (times, values) = (&times[..n], &values[..n]);
    if n < 4 || !all_finite(times) || !all_finite(values) || !(sd >= 0.0) {
        return Vec::new();
    }
    let size = n.div_ceil(MOST_FOR_SEARCH);
    let blocks = decimation::blocks_of(times, values, size);
    let means: Vec<f64> = blocks.iter().map(|block| block.value).collect();
    // The median of squared differences sees slow wander that the sensor's own noise does not.
    let jumps: Vec<f64> = means.windows(2).map(|pair| pair[1] - pair[0]).collect();
    let wander = descriptive::median_absolute_deviation(&jumps).unwrap_or(0.0) / 2.0_f64.sqrt();
    let spread = (sd / count(size).sqrt()).max(wander).max(f64::MIN_POSITIVE);
    let penalty = 3.0 * spread * spread * count(means.len()).ln().max(1.0);
    let mut ends: Vec<usize> =
        pelt(&means, penalty, 2).iter().map(|end| (end * size).min(n)).collect();
    let Some(costs) = SegmentCosts::new(values) else { return Vec::new() };
    loop {
        place(&costs, &mut ends, size);
        // A block that straddles a change looks like a level of its own until the changes around it
        // are placed: then it has no height left.
        let before = ends.len();
        remove_small(&costs, &mut ends, smallest);
        if ends.len() == before {
            return describe(times, &ends, &costs, sd);
        }
    }
}

/// Moves every change to the sample that splits its neighbourhood best.
fn place(costs: &SegmentCosts, ends: &mut [usize], size: usize) {
    if size < 2 {
        return;
    }
    for i in 0..ends.len() {
        let start = if i == 0 { 0 } else { ends[i - 1] };
        let stop = ends.get(i + 1).copied().unwrap_or(costs.len());
        let from = ends[i].saturating_sub(2 * size).max(start);
        let to = (ends[i] + 2 * size).min(stop);
        let cost = |at: usize| costs.of(from, at) + costs.of(at, to);
        if let Some(best) = (from + 1..to).min_by(|a, b| cost(*a).total_cmp(&cost(*b))) {
            ends[i] = best;
        }
    }
}

/// Takes out changes lower than `smallest`, the lowest first, since each makes its neighbours
/// higher or lower.
fn remove_small(costs: &SegmentCosts, ends: &mut Vec<usize>, smallest: f64) {
    loop {
        let levels = levels(costs, ends);
        let low = (0..ends.len())
            .map(|i| (i, (levels[i + 1] - levels[i]).abs()))
            .filter(|(_, height)| *height < smallest)
            .min_by(|a, b| a.1.total_cmp(&b.1));
        match low {
            Some((i, _)) => drop(ends.remove(i)),
            None => return,
        }
    }
}

fn levels(costs: &SegmentCosts, ends: &[usize]) -> Vec<f64> {
    let starts = std::iter::once(0).chain(ends.iter().copied());
    let stops = ends.iter().copied().chain(std::iter::once(costs.len()));
    starts.zip(stops).map(|(start, stop)| costs.level(start, stop)).collect()
}

fn describe(times: &[f64], ends: &[usize], costs: &SegmentCosts, sd: f64) -> Vec<Step> {
    let levels = levels(costs, ends);
    (0..ends.len())
        .map(|i| {
            let start = if i == 0 { 0 } else { ends[i - 1] };
            let stop = ends.get(i + 1).copied().unwrap_or(times.len());
            let (left, right) = (count(ends[i] - start), count(stop - ends[i]));
            Step {
                index: ends[i],
                after: times[ends[i] - 1],
                before: times[ends[i]],
                from: levels[i],
                to: levels[i + 1],
                standard_error: sd * (1.0 / left + 1.0 / right).sqrt(),
            }
        })
        .collect()
}
