//! Steps in noisy, unevenly timed samples; wild samples in a regression.

use super::uneven_times;
use stilltank::analysis::resampling::{self, Generator};
use stilltank::analysis::robust::{self, Weighting};
use stilltank::analysis::{change_point, decimation, descriptive};

/// A level that is -300 between 40 s and 70 s and 0 otherwise.
fn dip(n: usize, interval: f64, noise: f64, seed: u64) -> (Vec<f64>, Vec<f64>) {
    let mut generator = Generator::new(seed);
    let times = uneven_times(n, interval, 0.6, &mut generator);
    let values = times
        .iter()
        .map(|t| if (40.0..70.0).contains(t) { -300.0 } else { 0.0 } + noise * generator.normal())
        .collect();
    (times, values)
}

#[test]
fn a_dip_is_two_steps_at_their_times() {
    for (n, interval) in [(500, 0.2), (20_000, 0.005)] {
        let (times, values) = dip(n, interval, 40.0, 1);
        let found = change_point::steps(&times, &values, 40.0, 100.0);
        assert_eq!(found.len(), 2, "{found:?}");
        for (step, at) in found.iter().zip([40.0, 70.0]) {
            assert!(step.after <= at + interval && at - interval <= step.before, "{step:?}");
        }
        let height = found[0].to - found[0].from;
        assert!((height + 300.0).abs() < 4.0 * found[0].standard_error, "{found:?}");
    }
}

#[test]
fn noise_alone_has_no_steps() {
    let mut found = 0;
    for seed in 0..50 {
        let (times, values) = dip(400, 0.05, 40.0, seed);
        found += change_point::steps(&times, &values, 40.0, 30.0).len();
    }
    assert!(found <= 1, "{found} steps in fifty series without one");
}

#[test]
fn a_stuck_sensor_has_no_steps() {
    let times: Vec<f64> = (0..300).map(f64::from).collect();
    assert!(change_point::steps(&times, &[7.0; 300], 0.0, 1.0).is_empty());
}

#[test]
fn wild_samples_do_not_move_a_robust_line() {
    let mut generator = Generator::new(44);
    let x: Vec<f64> = (0..80).map(f64::from).collect();
    let ones = vec![1.0; x.len()];
    for weighting in [Weighting::Huber, Weighting::Biweight] {
        let y: Vec<f64> = x
            .iter()
            .enumerate()
            .map(|(i, x)| 2.0 + 0.5 * x + generator.normal() + if i % 9 == 0 { 60.0 } else { 0.0 })
            .collect();
        let found = robust::fit(&[&ones, &x], &y, weighting).expect("a fit");
        assert!((found.fit.coefficients[1] - 0.5).abs() < 0.03, "{weighting:?} {found:?}");
        assert!(found.weights[9] < 0.1, "{weighting:?}: a wild sample weighs {}", found.weights[9]);
    }
}

#[test]
fn robust_bounds_cover_under_heavy_tails() {
    let mut generator = Generator::new(45);
    let x: Vec<f64> = (0..60).map(f64::from).collect();
    let ones = vec![1.0; x.len()];
    let trials = 400;
    let mut held = 0;
    for _ in 0..trials {
        let y: Vec<f64> = x
            .iter()
            .map(|x| {
                // Student's t with three degrees of freedom.
                let squares: f64 = (0..3).map(|_| generator.normal().powi(2)).sum();
                1.0 + 0.2 * x + generator.normal() / (squares / 3.0).sqrt()
            })
            .collect();
        let found = robust::fit(&[&ones, &x], &y, Weighting::Huber).expect("a fit");
        held += i32::from(found.fit.bounds(1).contains(0.2));
    }
    let share = f64::from(held) / f64::from(trials);
    assert!((0.92..=0.98).contains(&share), "covered {share}");
}

#[test]
fn block_means_keep_the_mean() {
    let (times, values) = dip(1003, 0.1, 5.0, 3);
    let blocks = decimation::block_means(&times, &values, 100);
    assert!(blocks.len() <= 100);
    let total: usize = blocks.iter().map(|block| block.samples).sum();
    assert_eq!(total, 1003);
    let mean = blocks.iter().map(|b| b.value * b.samples as f64).sum::<f64>() / 1003.0;
    assert!((mean - descriptive::mean(&values).expect("a mean")).abs() < 1e-9);
    let windows = decimation::windows_of(&times, &values, 2.0);
    assert_eq!(windows.iter().map(|block| block.samples).sum::<usize>(), 1003);
    assert!(windows.len() <= 52);
}

#[test]
fn block_bootstrap_sees_the_memory_of_a_mean() {
    let mut generator = Generator::new(10);
    let times: Vec<f64> = (0..400).map(f64::from).collect();
    let series = super::slow_errors(&times, 5.0, &mut generator);
    let length = resampling::block_length(&series).expect("a length").stationary;
    let mean_of = |indices: &[usize]| {
        Some(indices.iter().map(|i| series[*i]).sum::<f64>() / indices.len() as f64)
    };
    let blocks = resampling::bootstrap(400, length, 500, 1, mean_of).expect("bounds");
    let single = resampling::bootstrap(400, 1.0, 500, 1, mean_of).expect("bounds");
    let ratio = blocks.half_width() / single.half_width();
    // The errors' memory of 5 samples widens a mean's bounds by √((1 + r)/(1 - r)) = 3.2.
    assert!((1.8..4.2).contains(&ratio), "{ratio}");
    let again = resampling::bootstrap(400, length, 500, 1, mean_of).expect("bounds");
    assert_eq!(blocks, again, "the same seed gives the same bounds");
}

#[test]
fn circular_blocks_are_runs_of_neighbours() {
    let indices = resampling::circular_indices(50, 7, &mut Generator::new(1));
    assert_eq!(indices.len(), 50);
    for (i, pair) in indices.windows(2).enumerate() {
        if (i + 1) % 7 != 0 {
            assert_eq!(pair[1], (pair[0] + 1) % 50);
        }
    }
}
