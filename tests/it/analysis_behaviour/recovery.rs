//! Recoveries with known delay and time constant, sampled as an adapter would.

use super::{rounded, uneven_times};
use stilltank::analysis::exponential_fit::{Recovery, Setting, fit};
use stilltank::analysis::resampling::Generator;
use stilltank::analysis::step_response;

const EVENT: f64 = 5.0;

struct Truth {
    time_constant: f64,
    delay: f64,
    interval: f64,
    noise: f64,
    step: f64,
}

fn play(truth: &Truth, generator: &mut Generator) -> (Vec<f64>, Vec<f64>) {
    let n = (25.0 / truth.interval) as usize;
    let times = uneven_times(n, truth.interval, 0.6, generator);
    let values = times
        .iter()
        .map(|time| {
            let elapsed = time - EVENT - truth.delay;
            let left = if elapsed > 0.0 { (-elapsed / truth.time_constant).exp() } else { 1.0 };
            let pressure = -20.0 - 1500.0 * left + 0.5 * (time - EVENT);
            rounded(pressure + truth.noise * generator.normal(), truth.step)
        })
        .collect();
    (times, values)
}

fn examine(truth: &Truth, generator: &mut Generator) -> Recovery {
    let (times, values) = play(truth, generator);
    let setting = Setting {
        event: EVENT,
        longest_delay: 3.0,
        sensor_lag: 0.0,
        noise_floor: truth.noise.max(truth.step / 12.0_f64.sqrt()),
        timing: 0.0,
        drift: true,
    };
    fit(&times, &values, &setting).expect("a fit")
}

#[test]
fn bounds_of_the_time_constant_cover() {
    let truth = Truth { time_constant: 0.5, delay: 0.3, interval: 0.2, noise: 20.0, step: 10.0 };
    let mut generator = Generator::new(3);
    let trials = 300;
    let (mut of_constant, mut of_delay, mut of_ninety, mut of_level) = (0, 0, 0, 0);
    for _ in 0..trials {
        let found = examine(&truth, &mut generator);
        let constant = found.time_constant;
        of_constant += i32::from(constant.low <= 0.5 && 0.5 <= constant.high);
        of_delay += i32::from(found.delay.expect("a delay").contains(0.3));
        let ninety = 0.3 + 0.5 * std::f64::consts::LN_10;
        of_ninety += i32::from(found.ninety_percent.contains(ninety));
        of_level += i32::from(found.level.contains(-20.0));
    }
    for (held, what) in
        [(of_constant, "constant"), (of_delay, "delay"), (of_ninety, "t90"), (of_level, "level")]
    {
        let share = f64::from(held) / f64::from(trials);
        assert!((0.92..=0.99).contains(&share), "{what}: covered {share}");
    }
}

#[test]
fn spread_of_the_time_constant_is_near_what_is_possible() {
    // The Cramér–Rao bound for the same unknowns, from the curvature of the model by differences.
    let truth = Truth { time_constant: 2.0, delay: 0.3, interval: 0.2, noise: 20.0, step: 0.01 };
    let mut generator = Generator::new(17);
    let trials = 200;
    let found: Vec<f64> =
        (0..trials).filter_map(|_| examine(&truth, &mut generator).time_constant.value).collect();
    assert_eq!(found.len(), trials);
    let mean = found.iter().sum::<f64>() / trials as f64;
    let spread = (found.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / trials as f64).sqrt();
    let possible = cramer_rao(&truth);
    let ratio = spread / possible;
    assert!((0.85..1.2).contains(&ratio), "spread {spread}, possible {possible}");
    assert!((mean - 2.0).abs() < 0.05 * 2.0, "mean {mean}");
}

/// Least standard deviation of the time constant for even sampling.
fn cramer_rao(truth: &Truth) -> f64 {
    let model = |b: &[f64; 5], time: f64| {
        let elapsed = time - EVENT - b[4];
        let left = if elapsed > 0.0 { (-elapsed / b[3]).exp() } else { 1.0 };
        b[0] + b[1] * left + b[2] * (time - EVENT)
    };
    let at = [-20.0, -1500.0, 0.5, truth.time_constant, truth.delay];
    let n = (25.0 / truth.interval) as usize;
    let times: Vec<f64> = (0..n).map(|i| i as f64 * truth.interval).collect();
    let column = |k: usize| -> Vec<f64> {
        let step = 1e-5;
        let (mut up, mut down) = (at, at);
        up[k] += step;
        down[k] -= step;
        times.iter().map(|t| (model(&up, *t) - model(&down, *t)) / (2.0 * step)).collect()
    };
    let columns: Vec<Vec<f64>> = (0..5).map(column).collect();
    let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    // Regressing noise of known size on the sensitivities gives the inverse information.
    let mut unit = Generator::new(1);
    let y: Vec<f64> = times.iter().map(|_| unit.normal()).collect();
    let fit = stilltank::analysis::regression::ordinary(&slices, &y).expect("a fit");
    truth.noise * fit.standard_error(3) / fit.residual_sd
}

#[test]
fn a_fall_between_two_samples_has_an_upper_bound_and_no_value() {
    let truth = Truth { time_constant: 0.1, delay: 0.1, interval: 1.5, noise: 20.0, step: 50.0 };
    let mut generator = Generator::new(4);
    for _ in 0..40 {
        let constant = examine(&truth, &mut generator).time_constant;
        if let Some(value) = constant.value {
            // A sample may fall onto the slope by luck; then the bounds still hold the truth.
            assert!(constant.low <= 0.1 && value < 1.5, "{constant:?}");
        } else {
            assert_eq!(constant.low, 0.0);
        }
        assert!(constant.high > 0.1 && constant.high < 3.0, "{constant:?}");
    }
}

#[test]
fn without_a_recovery_nothing_is_claimed() {
    let mut generator = Generator::new(9);
    let times = uneven_times(120, 0.2, 0.5, &mut generator);
    let values: Vec<f64> = times.iter().map(|_| rounded(3.0 * generator.normal(), 1.0)).collect();
    let setting = Setting {
        event: EVENT,
        longest_delay: 3.0,
        sensor_lag: 0.0,
        noise_floor: 3.0,
        timing: 0.0,
        drift: true,
    };
    let found = fit(&times, &values, &setting).expect("a fit");
    assert_eq!(found.time_constant.value, None);
    assert_eq!(found.time_constant.high, f64::INFINITY);
}

#[test]
fn a_known_sensor_lag_is_taken_out() {
    // Vent 1 s, sensor 0.6 s in a row.
    let mut generator = Generator::new(6);
    let times = uneven_times(250, 0.1, 0.5, &mut generator);
    let values: Vec<f64> = times
        .iter()
        .map(|time| {
            let t = (time - EVENT).max(0.0);
            let left = ((-t).exp() - 0.6 * (-t / 0.6).exp()) / 0.4;
            -1500.0 * left + 10.0 * generator.normal()
        })
        .collect();
    let setting = Setting {
        event: EVENT,
        longest_delay: 1.0,
        sensor_lag: 0.6,
        noise_floor: 10.0,
        timing: 0.0,
        drift: false,
    };
    let found = fit(&times, &values, &setting).expect("a fit").time_constant;
    assert!(found.low <= 1.0 && 1.0 <= found.high && found.high < 1.2, "{found:?}");
}

#[test]
fn uncertain_times_widen_the_bounds() {
    let truth = Truth { time_constant: 0.5, delay: 0.3, interval: 0.2, noise: 5.0, step: 1.0 };
    let (times, values) = play(&truth, &mut Generator::new(12));
    let setting = |timing: f64| Setting {
        event: EVENT,
        longest_delay: 3.0,
        sensor_lag: 0.0,
        noise_floor: 5.0,
        timing,
        drift: true,
    };
    let exact = fit(&times, &values, &setting(0.0)).expect("a fit").time_constant;
    let vague = fit(&times, &values, &setting(0.1)).expect("a fit").time_constant;
    assert!(vague.high - vague.low > 1.5 * (exact.high - exact.low), "{vague:?} {exact:?}");
}

#[test]
fn a_step_response_is_bounded_by_its_samples() {
    let truth = Truth { time_constant: 1.0, delay: 0.5, interval: 0.25, noise: 10.0, step: 1.0 };
    let mut generator = Generator::new(14);
    let trials = 200;
    let (mut of_half, mut of_ninety) = (0, 0);
    for _ in 0..trials {
        let (times, values) = play(&truth, &mut generator);
        let found = step_response::measure(&times, &values, EVENT, 10.0).expect("a response");
        of_half += i32::from(found.half.contains(0.5 + 2.0_f64.ln()));
        of_ninety += i32::from(found.ninety.contains(0.5 + 10.0_f64.ln()));
        assert!((found.change - 1500.0).abs() < 30.0, "{found:?}");
    }
    assert!(of_half > 185 && of_ninety > 180, "half {of_half}, ninety {of_ninety}");
}
