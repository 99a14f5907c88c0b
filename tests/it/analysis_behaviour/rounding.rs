//! Steps, noise, and what rounding hides.

use super::rounded;
use stilltank::analysis::resampling::Generator;
use stilltank::analysis::{interval_likelihood, resolution};

#[test]
fn the_step_is_found_from_values_seen() {
    let mut generator = Generator::new(2);
    // Quarter pascals, fifty pascals, and per cents in 255ths printed with two decimals.
    for (step, spread) in [(0.25, 0.6), (50.0, 60.0), (1.0, 5.0)] {
        let values: Vec<f64> =
            (0..200).map(|_| rounded(-120.0 + spread * generator.normal(), step)).collect();
        let found = resolution::step(&values).expect("a step");
        assert!((found - step).abs() < 1e-9 * step, "found {found}, true {step}");
    }
    let printed: Vec<f64> = (0..200)
        .map(|_| {
            ((20.0 + 8.0 * generator.uniform()).round() * 100.0 / 255.0 * 100.0).round() / 100.0
        })
        .collect();
    let found = resolution::step(&printed).expect("a step");
    assert!((found - 100.0 / 255.0).abs() < 0.003, "found {found}");
}

#[test]
fn continuous_values_have_no_step_and_a_still_sensor_shows_none() {
    let mut generator = Generator::new(7);
    let values: Vec<f64> = (0..300).map(|_| generator.normal()).collect();
    assert_eq!(resolution::step(&values), None);
    assert_eq!(resolution::step(&[5.0; 40]), None);
    assert_eq!(resolution::step(&[]), None);
}

#[test]
fn two_values_give_their_distance() {
    assert_eq!(resolution::step(&[0.0, 0.0, 25.0, 0.0, 25.0]), Some(25.0));
}

#[test]
fn steps_that_skip_are_divided() {
    // Seen: multiples 0, 2, 5 of a step of 10.
    let found = resolution::step(&[0.0, 20.0, 50.0, 20.0, 0.0]).expect("a step");
    assert!((found - 10.0).abs() < 1e-9, "found {found}");
}

#[test]
fn noise_is_never_below_what_the_step_allows() {
    let still = resolution::noise(&[0.0; 30], Some(50.0)).expect("a noise");
    assert!((still.sd - 50.0 / 12.0_f64.sqrt()).abs() < 1e-12);
    let mut generator = Generator::new(3);
    let residuals: Vec<f64> = (0..2000).map(|_| 7.0 * generator.normal()).collect();
    let found = resolution::noise(&residuals, Some(0.25)).expect("a noise").sd;
    assert!((found - 7.0).abs() < 0.5, "found {found}");
}

#[test]
fn rounding_error_of_a_mean_is_as_simulated() {
    // Many readings of a quantity at an unknown place between two steps.
    let mut generator = Generator::new(31);
    for sd in [0.1, 0.2, 0.3] {
        let mut squares = 0.0;
        let places = 300;
        for _ in 0..places {
            let place = generator.uniform();
            let mean =
                (0..4000).map(|_| rounded(place + sd * generator.normal(), 1.0)).sum::<f64>();
            squares += (mean / 4000.0 - place).powi(2);
        }
        let seen = (squares / f64::from(places)).sqrt();
        let expected = resolution::rounding_error_of_mean(sd, 1.0);
        assert!((seen - expected).abs() < 0.12 * expected + 0.004, "sd {sd}: {seen}, {expected}");
    }
    let still = resolution::rounding_error_of_mean(0.0, 1.0);
    assert!((still - 1.0 / 12.0_f64.sqrt()).abs() < 1e-12);
}

#[test]
fn mean_and_noise_under_a_coarse_step_cover() {
    let mut generator = Generator::new(13);
    let trials = 120;
    for sd in [0.15, 0.4, 1.5, 4.0] {
        let (mut of_mean, mut of_sd) = (0, 0);
        for _ in 0..trials {
            let truth = 3.0 + generator.uniform();
            let readings: Vec<f64> =
                (0..60).map(|_| rounded(truth + sd * generator.normal(), 1.0)).collect();
            let found = interval_likelihood::fit(&readings, 1.0).expect("a fit");
            of_mean += i32::from(found.mean.contains(truth));
            of_sd += i32::from(found.sd.contains(sd));
        }
        let share = |held: i32| f64::from(held) / f64::from(trials);
        assert!(share(of_mean) >= 0.91, "sd {sd}: mean covered {}", share(of_mean));
        assert!(share(of_sd) >= 0.91, "sd {sd}: sd covered {}", share(of_sd));
    }
}

#[test]
fn one_reading_seen_bounds_the_mean_by_its_step() {
    let found = interval_likelihood::fit(&[-50.0; 80], 25.0).expect("a fit");
    assert_eq!(found.sd.value, 0.0);
    assert!(found.mean.low >= -62.5 && found.mean.high <= -37.5, "{found:?}");
    assert!(found.mean.high - found.mean.low > 15.0, "nearly the whole step stays possible");
    assert!(found.sd.high < 12.0, "{found:?}");
}

#[test]
fn interval_probabilities_keep_their_digits_in_the_tail() {
    // ln(Φ(-10) - Φ(-11)) = ln(7.619853e-24 - 1.910660e-28), from memory of normal tables.
    let tail = interval_likelihood::log_between(-11.0, -10.0);
    assert!((tail - (7.619_853e-24_f64 - 1.910_660e-28).ln()).abs() < 1e-6, "{tail}");
    let both = interval_likelihood::log_between(10.0, 11.0);
    assert!((tail - both).abs() < 1e-12);
    // Continuity where the asymptotic form takes over.
    let (inside, outside) = (
        interval_likelihood::log_between(29.999_999, 31.0),
        interval_likelihood::log_between(30.000_001, 31.0),
    );
    assert!((inside - outside).abs() < 2e-3, "{inside} {outside}");
}
