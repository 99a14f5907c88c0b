//! How long the numerical routines take on recordings of the size that visits have.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use stilltank::analysis::detection_limit::{self, Sides};
use stilltank::analysis::exponential_fit::{self, Setting};
use stilltank::analysis::resampling::Generator;
use stilltank::analysis::sequential::{self, Spending};
use stilltank::analysis::{
    change_point, decimation, descriptive, drift_regression, interval_likelihood, lag,
    orifice_flow, regression, resolution, serial_correlation,
};

/// One signal of a one-hour recording at 20 samples a second.
const HOUR: usize = 72_000;

fn signal(n: usize, interval: f64) -> (Vec<f64>, Vec<f64>) {
    let mut generator = Generator::new(1);
    let times: Vec<f64> =
        (0..n).map(|i| (i as f64 + 0.5 * generator.uniform()) * interval).collect();
    let values = times
        .iter()
        .map(|time| {
            let opened = if (time / 30.0).floor() % 2.0 == 1.0 { -200.0 } else { 0.0 };
            (opened + 20.0 * generator.normal()).round()
        })
        .collect();
    (times, values)
}

fn over_an_hour(criterion: &mut Criterion) {
    let (times, values) = signal(HOUR, 0.05);
    let ones = vec![1.0; HOUR];
    let residuals: Vec<f64> = values.iter().map(|value| value + 100.0).collect();
    let mut group = criterion.benchmark_group("hour");
    group.sample_size(20);
    group.bench_function("median absolute deviation", |b| {
        b.iter(|| descriptive::median_absolute_deviation(black_box(&values)));
    });
    group.bench_function("step and noise", |b| {
        b.iter(|| resolution::noise(black_box(&values), resolution::step(&values)));
    });
    group.bench_function("first-order lag", |b| {
        b.iter(|| lag::first_order(black_box(&times), &values, 0.7));
    });
    group.bench_function("orifice psi", |b| {
        b.iter(|| (0..HOUR).map(|i| orifice_flow::psi(0.3 + 1e-5 * i as f64)).sum::<f64>());
    });
    group.bench_function("regression on three columns", |b| {
        b.iter(|| regression::ordinary(&[&ones, &times, black_box(&values)], &residuals));
    });
    group.bench_function("robust covariance, three columns", |b| {
        b.iter(|| {
            let columns: [&[f64]; 3] = [&ones, &times, &values];
            serial_correlation::hac_covariance(&columns, black_box(&residuals), Some(&times), None)
        });
    });
    group.bench_function("steps", |b| {
        b.iter(|| change_point::steps(&times, black_box(&values), 20.0, 50.0));
    });
    group.bench_function("block means", |b| {
        b.iter(|| decimation::block_means(&times, black_box(&values), 1000));
    });
    group.bench_function("rounded normal", |b| {
        b.iter(|| interval_likelihood::fit(black_box(&values[..2000]), 1.0));
    });
    group.finish();
}

fn over_a_check(criterion: &mut Criterion) {
    let (times, values) = signal(1000, 0.2);
    let ones = vec![1.0; times.len()];
    let switched: Vec<f64> =
        times.iter().map(|t| f64::from(u8::from((t / 30.0).floor() % 2.0 == 1.0))).collect();
    criterion.bench_function("correlated errors, 1000 samples, three columns", |b| {
        let columns: [&[f64]; 3] = [&ones, &times, &switched];
        b.iter(|| serial_correlation::fit(&columns, black_box(&values), &times, None));
    });
    criterion.bench_function("drift regression, 1000 samples, two columns", |b| {
        let columns: [&[f64]; 2] = [&ones, &switched];
        b.iter(|| drift_regression::fit(&times, black_box(&values), &columns, &[0.0; 2], 0.3));
    });
    let (times, _) = signal(150, 0.15);
    let mut generator = Generator::new(2);
    let recovery: Vec<f64> = times
        .iter()
        .map(|time| -1500.0 * (-(time - 4.0).max(0.0) / 0.6).exp() + 10.0 * generator.normal())
        .collect();
    let setting = Setting {
        event: 3.5,
        longest_delay: 3.0,
        sensor_lag: 0.0,
        noise_floor: 10.0,
        timing: 0.03,
        drift: true,
    };
    criterion.bench_function("recovery, 150 samples", |b| {
        b.iter(|| exponential_fit::fit(black_box(&times), &recovery, &setting));
    });
    criterion.bench_function("detection limit", |b| {
        b.iter(|| detection_limit::smallest_effect(black_box(3.0), 17.0, 0.05, 0.95, Sides::One));
    });
    criterion.bench_function("boundaries of five looks", |b| {
        let looks = [0.2, 0.4, 0.6, 0.8, 1.0];
        let spending = Spending::OBrienFleming;
        b.iter(|| sequential::boundaries(black_box(&looks), 0.05, Sides::Two, spending));
    });
}

criterion_group!(benches, over_an_hour, over_a_check);
criterion_main!(benches);
