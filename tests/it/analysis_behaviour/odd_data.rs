//! Empty, constant and broken input gives `None`, an empty list or open bounds, and never a panic.

use stilltank::analysis::detection_limit::Sides;
use stilltank::analysis::levenberg_marquardt::{Settings, minimise};
use stilltank::analysis::robust::Weighting;
use stilltank::analysis::sequential::Spending;
use stilltank::analysis::{
    bayes, change_point, decimation, descriptive, detection_limit, distribution, drift_regression,
    equivalence, exponential_fit, interval_likelihood, lag, multiplicity, orifice_flow, proportion,
    regression, resampling, resolution, robust, sequential, serial_correlation, step_response,
};

fn odd_series() -> Vec<Vec<f64>> {
    let holes: Vec<f64> = (0..40).map(|i| if i == 7 { f64::NAN } else { f64::from(i) }).collect();
    let endless: Vec<f64> = (0..40).map(|i| if i == 9 { f64::INFINITY } else { 1.0 }).collect();
    let huge: Vec<f64> = (0..40).map(|i| 1e300 * f64::from(i % 3)).collect();
    let tiny: Vec<f64> = (0..40).map(|i| 1e-310 * f64::from(i % 3)).collect();
    vec![
        vec![],
        vec![1.0],
        vec![1.0, 2.0],
        vec![0.0; 3],
        vec![0.0; 40],
        vec![-7.25; 40],
        vec![f64::NAN; 12],
        holes,
        endless,
        huge,
        tiny,
    ]
}

#[test]
fn odd_series_never_panic() {
    for values in odd_series() {
        let n = values.len();
        let times: Vec<f64> = (0..n).map(|i| i as f64 * 0.5).collect();
        let ones = vec![1.0; n];
        let finite = values.iter().all(|value| value.is_finite());
        if !finite {
            assert_eq!(descriptive::median(&values), None);
            assert_eq!(descriptive::quantile(&values, 0.5), None);
            assert_eq!(descriptive::lag_one_autocorrelation(&values), None);
            assert!(regression::line(&times, &values).is_none());
            assert!(serial_correlation::fit(&[&ones], &values, &times, None).is_none());
        }
        for share in [0.0, 0.5, 1.0, f64::NAN] {
            let _ = descriptive::quantile(&values, share);
        }
        let _ = descriptive::standard_deviation(&values);
        let _ = descriptive::median_absolute_deviation(&values);
        let _ = descriptive::trimmed_mean(&values, 0.2);
        let _ = regression::line(&times, &values);
        let _ = regression::line(&values, &times);
        let _ = regression::ordinary(&[&ones, &values, &values], &times);
        let _ = regression::theil_sen(&times, &values);
        let _ = regression::theil_sen(&values, &times);
        let _ = robust::fit(&[&ones, &times], &values, Weighting::Biweight);
        let _ = serial_correlation::fit(&[&ones, &times], &values, &times, None);
        let _ = drift_regression::fit(&times, &values, &[&ones], &[0.0], 0.1);
        let _ = drift_regression::fit(&values, &times, &[&ones, &values], &[0.0, f64::NAN], 0.0);
        let _ = serial_correlation::fit(&[&ones], &times, &values, None);
        let _ = serial_correlation::hac_covariance(&[&ones], &values, Some(&times), None);
        let _ = serial_correlation::hac_covariance(&[&values], &times, Some(&times), Some(0.0));
        let _ = serial_correlation::effective_pairs_of(&values, &times);
        let _ = serial_correlation::ljung_box(&values, 3);
        let _ = serial_correlation::durbin_watson(&values);
        let _ = serial_correlation::automatic_bandwidth(&values);
        let _ = resolution::step(&values);
        let _ = resolution::noise(&values, resolution::step(&values));
        let _ = interval_likelihood::fit(&values, 1.0);
        let _ = interval_likelihood::log_likelihood(&values, 1.0, 0.0, 0.0);
        let _ = change_point::pelt(&values, 1.0, 2);
        let _ = change_point::pelt(&values, f64::NAN, 0);
        let _ = change_point::best_split(&values, 1);
        let _ = change_point::cusum(&values, 0.0, 1.0, 0.5, 5.0);
        let _ = change_point::ols_cusum(&values);
        let _ = change_point::steps(&times, &values, 0.1, 0.0);
        let _ = change_point::steps(&values, &times, 0.1, 0.0);
        let _ = decimation::block_means(&times, &values, 0);
        let _ = decimation::windows_of(&values, &times, 0.7);
        let _ = lag::cross_correlation(&values, &times, 2);
        let _ = lag::first_order(&times, &values, 0.5);
        let _ = lag::first_order(&values, &times, 0.0);
        let _ = lag::median_interval(&values);
        let _ = lag::mean_rate(&values);
        let _ = resampling::block_length(&values);
        let _ = resampling::stationary_indices(n, f64::NAN, &mut resampling::Generator::new(1));
        let _ = resampling::circular_indices(n, 0, &mut resampling::Generator::new(1));
        let _ = equivalence::welch(&values, &times);
        let _ = equivalence::welch_with_memory(&values, &values);
        let _ = equivalence::paired(&values, &times);
        let _ = multiplicity::holm(&values);
        let _ = multiplicity::benjamini_hochberg(&values);
        let _ = bayes::log_sum(&values);
        let _ = bayes::posterior(&ones, &values);
        let _ = step_response::measure(&times, &values, 4.0, 0.1);
        let _ = step_response::measure(&values, &times, 4.0, f64::NAN);
        let _ = orifice_flow::decay_slope(&times, &values, 0.0);
        for (event, longest_delay, sensor_lag) in
            [(4.0, 2.0, 0.0), (0.0, 0.0, 0.3), (f64::NAN, 1.0, 0.0), (1e9, 1.0, 0.0)]
        {
            let setting = exponential_fit::Setting {
                event,
                longest_delay,
                sensor_lag,
                noise_floor: 0.0,
                timing: 0.1,
                drift: true,
            };
            let _ = exponential_fit::fit(&times, &values, &setting);
            let _ = exponential_fit::fit(&values, &times, &setting);
        }
    }
}

#[test]
fn odd_arguments_never_panic() {
    let odd = [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0, 0.5, 1.0, 2.0, 1e308, 1e-308];
    for a in odd {
        let _ = distribution::normal_quantile(a);
        let _ = orifice_flow::psi(a);
        let _ = orifice_flow::psi_slope(a);
        for b in odd {
            let _ = distribution::student_survival(a, b);
            let _ = distribution::student_quantile(a, b);
            let _ = distribution::chi_squared_quantile(a, b);
            let _ = distribution::chi_squared_survival(a, b);
            let _ = lag::correlation_bounds(a, b);
            let _ = detection_limit::smallest_correlation(a, 0.05, b);
            let _ = resolution::rounding_error_of_mean(a, b);
            let _ = interval_likelihood::log_between(a, b);
            let _ = sequential::boundaries(&[a, b], 0.05, Sides::Two, Spending::OBrienFleming);
            for c in odd {
                let _ = distribution::noncentral_student_probability(a, b, c);
                let _ = distribution::beta_quantile(a, b, c);
                let _ = distribution::f_survival(a, b, c);
                let _ = detection_limit::smallest_effect(a, b, c, 0.95, Sides::Two);
                let _ = equivalence::correlation_within(a, b, c);
                let _ = orifice_flow::diameter_of_flow(a, 0.7, b, c, 293.15);
                let _ = orifice_flow::iso_6358_mass_flow(1e-9, 0.5, a, b, c);
            }
        }
    }
    assert_eq!(proportion::wilson(0, 0, 0.95), None);
    assert_eq!(proportion::wilson(3, 2, 0.95), None);
    assert_eq!(detection_limit::smallest_effect(1.0, 5.0, 0.0, 0.95, Sides::One), None);
}

#[test]
fn dependent_columns_have_no_fit() {
    let x: Vec<f64> = (0..30).map(f64::from).collect();
    let twice: Vec<f64> = x.iter().map(|x| 2.0 * x + 1.0).collect();
    let ones = vec![1.0; 30];
    assert!(regression::ordinary(&[&ones, &x, &twice], &x).is_none());
    assert!(regression::ordinary(&[&ones, &vec![0.0; 30]], &x).is_none());
}

#[test]
fn impossible_residuals_do_not_trap_the_search() {
    // Parameters at or below zero are impossible for a logarithm.
    let solution = minimise(
        |b, out| {
            out[0] = b[0].ln() - 1.0;
            out[1] = b[0].ln() - 1.2;
        },
        2,
        &[100.0],
        Settings::default(),
    )
    .expect("a start");
    assert!((solution.parameters[0] - 1.1_f64.exp()).abs() < 1e-6, "{solution:?}");
    let nowhere = minimise(|_, out| out.fill(f64::NAN), 2, &[1.0], Settings::default());
    assert!(nowhere.is_none());
}
