//! What the analysis layer promises on invented data whose truth is known: bounds that cover,
//! levels that hold, and no panic on anything.

mod changes;
mod correlated_errors;
mod lags;
mod odd_data;
mod recovery;
mod repeated_looks;
mod rounding;

use stilltank::analysis::resampling::Generator;

/// Sample times about `interval` apart, each moved by up to `jitter` of it.
fn uneven_times(n: usize, interval: f64, jitter: f64, generator: &mut Generator) -> Vec<f64> {
    (0..n).map(|i| (i as f64 + jitter * (generator.uniform() - 0.5)) * interval).collect()
}

/// A continuous first-order autoregression of variance one at the given times.
fn slow_errors(times: &[f64], correlation_time: f64, generator: &mut Generator) -> Vec<f64> {
    let mut value = generator.normal();
    let mut last = times[0];
    times
        .iter()
        .map(|time| {
            let decay = (-(time - last) / correlation_time).exp();
            value = decay * value + (1.0 - decay * decay).sqrt() * generator.normal();
            last = *time;
            value
        })
        .collect()
}

/// A reading of `value` on a sensor with this step.
fn rounded(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}
