//! Regressions whose errors remember.

use super::{slow_errors, uneven_times};
use stilltank::analysis::resampling::Generator;
use stilltank::analysis::serial_correlation::{self, hac_covariance};
use stilltank::analysis::{distribution, equivalence, regression};

/// Share of 400 series whose 95 % bounds of a switched regressor's gain hold the truth.
fn coverage(bounds_hold: impl Fn(&[f64], &[f64], &[f64], &[f64]) -> bool, white: f64) -> f64 {
    let mut generator = Generator::new(11);
    let trials = 400;
    let mut held = 0;
    for _ in 0..trials {
        let times = uneven_times(240, 0.5, 0.8, &mut generator);
        let slow = slow_errors(&times, 4.0, &mut generator);
        let switched: Vec<f64> = times
            .iter()
            .map(|time| f64::from(u8::from((time / 15.0).floor() % 2.0 == 1.0)))
            .collect();
        let y: Vec<f64> = (0..times.len())
            .map(|i| {
                3.0 + 2.0 * switched[i]
                    + (1.0 - white).sqrt() * slow[i]
                    + white.sqrt() * generator.normal()
            })
            .collect();
        held += i32::from(bounds_hold(&times, &switched, &y, &vec![1.0; times.len()]));
    }
    f64::from(held) / f64::from(trials)
}

#[test]
fn bounds_under_slow_errors_cover() {
    for white in [0.1, 0.5, 1.0] {
        let share = coverage(
            |times, switched, y, ones| {
                let columns: [&[f64]; 3] = [ones, times, switched];
                let fit = serial_correlation::fit(&columns, y, times, None).expect("a fit");
                fit.bounds(2).contains(2.0)
            },
            white,
        );
        assert!((0.92..=0.98).contains(&share), "white share {white}: covered {share}");
    }
}

#[test]
fn plain_bounds_under_slow_errors_do_not_cover_but_robust_ones_nearly_do() {
    let plain = coverage(
        |times, switched, y, ones| {
            let fit = regression::ordinary(&[ones, times, switched], y).expect("a fit");
            fit.bounds(2).contains(2.0)
        },
        0.1,
    );
    assert!(plain < 0.7, "plain bounds covered {plain}");
    let robust = coverage(
        |times, switched, y, ones| {
            let columns: [&[f64]; 3] = [ones, times, switched];
            let fit = regression::ordinary(&columns, y).expect("a fit");
            let residuals = regression::residuals(&columns, y, &fit.coefficients);
            let covariance = hac_covariance(&columns, &residuals, Some(times), None);
            let error = covariance.expect("a covariance")[2][2].sqrt();
            let t = distribution::student_quantile(0.975, 30.0);
            (fit.coefficients[2] - 2.0).abs() < t * error
        },
        0.1,
    );
    assert!(robust > 0.84, "robust bounds covered {robust}");
}

#[test]
fn the_error_model_is_found() {
    let mut generator = Generator::new(5);
    let times = uneven_times(3000, 0.2, 0.5, &mut generator);
    let slow = slow_errors(&times, 3.0, &mut generator);
    let y: Vec<f64> = slow
        .iter()
        .map(|slow| 10.0 + 0.7_f64.sqrt() * slow + 0.3_f64.sqrt() * generator.normal())
        .collect();
    let fit = serial_correlation::fit(&[&vec![1.0; y.len()]], &y, &times, None).expect("a fit");
    assert!((2.0..4.5).contains(&fit.correlation_time), "time {}", fit.correlation_time);
    assert!((0.22..0.38).contains(&fit.white_share), "white share {}", fit.white_share);
    // 600 s of errors that remember 3 s: about T/2θ = 100 independent looks, over the slow share.
    assert!((90.0..220.0).contains(&fit.effective_size), "worth {}", fit.effective_size);
    assert!(fit.bounds(0).contains(10.0));
}

#[test]
fn white_errors_are_recognised() {
    let mut generator = Generator::new(8);
    let times = uneven_times(500, 0.5, 0.5, &mut generator);
    let y: Vec<f64> = times.iter().map(|_| generator.normal()).collect();
    let ones = vec![1.0; y.len()];
    let fit = serial_correlation::fit(&[&ones], &y, &times, None).expect("a fit");
    let plain = regression::ordinary(&[&ones], &y).expect("a fit");
    let ratio = fit.fit.standard_error(0) / plain.standard_error(0);
    assert!((0.85..1.25).contains(&ratio), "error {ratio} times the plain one");
}

#[test]
fn a_repair_is_proven_no_more_often_than_stated_when_it_failed() {
    // The true shift lies exactly at the limit: equivalence may be claimed in 5 % of visits.
    let mut generator = Generator::new(21);
    let trials = 600;
    let mut claimed = 0;
    for _ in 0..trials {
        let times = uneven_times(150, 0.5, 0.3, &mut generator);
        let before = slow_errors(&times, 1.0, &mut generator);
        let after: Vec<f64> =
            slow_errors(&times, 1.0, &mut generator).iter().map(|value| value + 1.0).collect();
        let difference = equivalence::welch_with_memory(&after, &before).expect("a difference");
        claimed += i32::from(equivalence::within(&difference, -1.0, 1.0).probability() < 0.05);
    }
    let share = f64::from(claimed) / f64::from(trials);
    assert!((0.025..0.085).contains(&share), "claimed in {share}");
}
