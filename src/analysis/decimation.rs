//! Fewer samples that say the same: means over blocks, with their counts as weights.

use super::count;

/// One block of neighbouring samples.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Block {
    /// Mean of the samples' times, s.
    pub time: f64,
    /// Mean of the samples' values.
    pub value: f64,
    /// How many samples stand behind the mean: its weight in a fit.
    pub samples: usize,
}

/// Means over blocks of neighbouring samples, at most `most` blocks. A series that is short
/// enough comes back sample by sample. Samples that are not finite are left out.
pub fn block_means(times: &[f64], values: &[f64], most: usize) -> Vec<Block> {
    let n = times.len().min(values.len());
    let size = n.div_ceil(most.max(1)).max(1);
    blocks_of(times, values, size)
}

/// Means over blocks of `size` neighbouring samples; the last block may be shorter.
pub fn blocks_of(times: &[f64], values: &[f64], size: usize) -> Vec<Block> {
    let size = size.max(1);
    times
        .chunks(size)
        .zip(values.chunks(size))
        .filter_map(|(times, values)| block(times.iter().zip(values)))
        .collect()
}

/// Means over time windows of `width` seconds that start at the first sample; empty windows are
/// left out. Times must not decrease.
pub fn windows_of(times: &[f64], values: &[f64], width: f64) -> Vec<Block> {
    let Some(&start) = times.first() else { return Vec::new() };
    if !(width > 0.0 && width.is_finite() && start.is_finite()) {
        return Vec::new();
    }
    let n = times.len().min(values.len());
    let window = |time: f64| ((time - start) / width).floor();
    let mut blocks = Vec::new();
    let mut from = 0;
    while from < n {
        let current = window(times[from]);
        let length = times[from..n].iter().take_while(|time| window(**time) == current).count();
        let to = from + length.max(1);
        blocks.extend(block(times[from..to].iter().zip(&values[from..to])));
        from = to;
    }
    blocks
}

fn block<'a>(samples: impl Iterator<Item = (&'a f64, &'a f64)>) -> Option<Block> {
    let (mut n, mut time_sum, mut value_sum) = (0_usize, 0.0, 0.0);
    for (time, value) in samples {
        if time.is_finite() && value.is_finite() {
            n += 1;
            time_sum += time;
            value_sum += value;
        }
    }
    (n > 0).then(|| Block { time: time_sum / count(n), value: value_sum / count(n), samples: n })
}
