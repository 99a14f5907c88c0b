//! First-order lags of sampled inputs.

use super::uneven_times;
use stilltank::analysis::lag::{
    Between, first_order, first_order_at, profile_time_constant, sample_at,
};
use stilltank::analysis::resampling::Generator;

#[test]
fn the_answer_to_a_step_is_the_exponential() {
    // Held input: a step from 0 to 1 at t = 1 s.
    let wanted: Vec<f64> = (0..40).map(|i| 0.25 * f64::from(i)).collect();
    let found = first_order_at(&[0.0, 1.0], &[0.0, 1.0], 0.8, Between::Held, &wanted);
    for (time, value) in wanted.iter().zip(&found) {
        let expected = if *time > 1.0 { 1.0 - (-(time - 1.0) / 0.8).exp() } else { 0.0 };
        assert!((value - expected).abs() < 1e-12, "at {time}: {value}");
    }
}

#[test]
fn a_ramp_is_followed_one_time_constant_behind() {
    let times: Vec<f64> = (0..200).map(f64::from).collect();
    let found = first_order(&times, &times, 3.0);
    assert!((found[150] - (150.0 - 3.0)).abs() < 1e-9);
}

#[test]
fn uneven_sampling_of_a_straight_input_changes_nothing() {
    // The lag of a piecewise straight input is exact, whatever the sample times.
    let corners = [(0.0, 0.0), (3.0, 0.0), (4.0, 10.0), (9.0, 10.0)];
    let (corner_times, corner_values): (Vec<f64>, Vec<f64>) = corners.iter().copied().unzip();
    let mut generator = Generator::new(1);
    let mut dense = uneven_times(200, 0.045, 0.9, &mut generator);
    dense.extend(corner_times.iter());
    dense.sort_by(f64::total_cmp);
    let values = sample_at(&corner_times, &corner_values, Between::Straight, &dense);
    let wanted = [2.0, 3.3, 4.0, 5.5, 8.9];
    let coarse = first_order_at(&corner_times, &corner_values, 1.2, Between::Straight, &wanted);
    let fine = first_order_at(&dense, &values, 1.2, Between::Straight, &wanted);
    for (a, b) in coarse.iter().zip(&fine) {
        assert!((a - b).abs() < 1e-9, "{a} {b}");
    }
}

#[test]
fn the_time_constant_of_a_following_signal_is_found() {
    let mut generator = Generator::new(20);
    let candidates: Vec<f64> = (0..14).map(|i| 0.05 * 1.5_f64.powi(i)).collect();
    let trials = 60;
    let mut held = 0;
    for _ in 0..trials {
        let input_times = uneven_times(300, 0.2, 0.5, &mut generator);
        let input: Vec<f64> = input_times
            .iter()
            .map(|time| f64::from(u8::from((time / 5.0).floor() % 2.0 == 1.0)))
            .collect();
        let times = uneven_times(200, 0.3, 0.5, &mut generator);
        let follow = first_order_at(&input_times, &input, 0.7, Between::Straight, &times);
        let y: Vec<f64> =
            follow.iter().map(|value| 5.0 + 40.0 * value + 4.0 * generator.normal()).collect();
        let ones = vec![1.0; y.len()];
        let found = profile_time_constant(
            (&input_times, &input),
            Between::Straight,
            (&times, &y),
            &[&ones],
            &candidates,
            1.0,
        )
        .expect("a profile");
        held += i32::from(found.time_constant.contains(0.7));
        assert!((found.fit.coefficients[0] - 40.0).abs() < 5.0, "{found:?}");
    }
    assert!(held >= 53, "held in {held} of {trials}");
}
