//! Statistics against values computed independently with scipy, statsmodels and ruptures
//! (`stats_reference.json`, inputs stored there as literals).

use super::{close, list, number, published_json};
use serde_json::Value;
use stilltank::analysis::detection_limit::{self, Sides};
use stilltank::analysis::{
    change_point, descriptive, distribution, exponential_fit, lag, orifice_flow, regression,
    serial_correlation,
};

fn reference() -> Value {
    published_json("stats_reference.json")
}

/// The two autocorrelated series that several entries share.
fn memory_series(reference: &Value) -> (Vec<f64>, Vec<f64>) {
    let inputs = &reference["effective_sample_size"]["inputs"];
    (list(&inputs["x"]), list(&inputs["y"]))
}

#[test]
fn quantiles_of_distributions() {
    let reference = reference();
    let values = &reference["critical_values"];
    close(distribution::normal_quantile(0.975), number(&values["z975"]), 1e-13, "z975");
    close(distribution::normal_quantile(0.95), number(&values["z95"]), 1e-13, "z95");
    close(distribution::normal_quantile(0.8), number(&values["z80"]), 1e-13, "z80");
    for entry in ["t975", "t975_fractional"] {
        for (degrees, expected) in values[entry].as_object().expect("by degrees") {
            let degrees: f64 = degrees.parse().expect("a number");
            close(distribution::student_quantile(0.975, degrees), number(expected), 1e-11, "t");
        }
    }
    for (degrees, expected) in values["chi2_95"].as_object().expect("by degrees") {
        let degrees: f64 = degrees.parse().expect("a number");
        let found = distribution::chi_squared_quantile(0.95, degrees);
        close(found, number(expected), 1e-11, "chi squared");
    }
    let f = distribution::f_quantile(0.95, 2.0, 10.0);
    close(f, number(&values["F95_2_10"]), 1e-11, "F");
    let tail = distribution::student_survival(2.0, 6.5);
    close(tail, number(&values["t_sf_2_df_6_5"]), 1e-12, "t tail");
}

#[test]
fn order_statistics() {
    // Hampel 1974; Hyndman & Fan's type 7.
    let reference = reference();
    let values = list(&reference["mad"]["inputs"]);
    let outputs = &reference["mad"]["outputs"];
    let median = descriptive::median(&values).expect("a median");
    close(median, number(&outputs["median"]), 1e-14, "median");
    let mad = descriptive::median_absolute_deviation(&values).expect("a deviation");
    close(mad, number(&outputs["mad_scaled"]), 1e-12, "scaled MAD");
    let sd = descriptive::standard_deviation(&values).expect("a deviation");
    close(sd, number(&outputs["sd"]), 1e-12, "sd");
    close(distribution::MAD_TO_SD, number(&outputs["scale_factor"]), 1e-14, "factor");
    for (share, expected) in reference["quantiles"]["type7"].as_object().expect("by per cent") {
        let share: f64 = share.parse().expect("a number");
        let found = descriptive::quantile(&values, share / 100.0).expect("a quantile");
        close(found, number(expected), 1e-13, "quantile");
    }
    let trimmed = descriptive::trimmed_mean(&values, 0.1).expect("a mean");
    close(trimmed, number(&reference["quantiles"]["trimmed_mean_10pct"]), 1e-13, "trimmed");
}

#[test]
fn effective_sample_sizes() {
    // Bartlett 1935; Bretherton et al. 1999; Pyper & Peterman 1998.
    let reference = reference();
    let (x, y) = memory_series(&reference);
    let outputs = &reference["effective_sample_size"]["outputs"];
    let of_x = descriptive::autocorrelation(&x, 12).expect("correlations");
    let of_y = descriptive::autocorrelation(&y, 12).expect("correlations");
    for (found, expected) in of_x.iter().zip(list(&outputs["acf_x_0_12"])) {
        close(*found, expected, 1e-12, "acf of x");
    }
    for (found, expected) in of_y.iter().zip(list(&outputs["acf_y_0_12"])) {
        close(*found, expected, 1e-12, "acf of y");
    }
    let r = lag::correlation(&x, &y).expect("a correlation");
    close(r, number(&outputs["pearson_r"]), 1e-12, "r");
    let of_mean = serial_correlation::effective_size(60, of_x[1]);
    close(of_mean, number(&outputs["n_eff_mean_ar1_x"]), 1e-12, "mean");
    let of_pair = serial_correlation::effective_pairs(60, of_x[1], of_y[1]);
    close(of_pair, number(&outputs["n_eff_corr_ar1"]), 1e-12, "pair, AR(1)");
    let tapered = serial_correlation::effective_pairs_of(&x, &y).expect("a size");
    close(tapered, number(&outputs["n_eff_with_triangular_taper"]), 1e-12, "tapered");
    close(tapered, number(&outputs["n_eff_bretherton_two_sided_sum"]), 1e-12, "two-sided");
    let t = r * ((tapered - 2.0) / (1.0 - r * r)).sqrt();
    let p = distribution::student_two_sided(t, tapered - 2.0);
    close(p, number(&outputs["p_eff"]), 1e-10, "probability");
    let bounds = lag::correlation_bounds(r, tapered).expect("bounds");
    let expected = list(&outputs["fisher_ci95_eff"]);
    close(bounds.low, expected[0], 1e-11, "low");
    close(bounds.high, expected[1], 1e-11, "high");
    close(serial_correlation::effective_size(100, 0.5), 100.0 / 3.0, 1e-13, "by hand");
    close(serial_correlation::effective_pairs(100, 0.9, 0.8), 28.0 / 1.72, 1e-13, "by hand");
}

#[test]
fn correlation_bounds_by_fisher() {
    let reference = reference();
    for case in reference["fisher_z"]["cases"].as_array().expect("cases") {
        let bounds = lag::correlation_bounds(number(&case["r"]), number(&case["n"]));
        let bounds = bounds.expect("bounds");
        let expected = list(&case["ci95"]);
        close(bounds.low, expected[0], 1e-11, "low");
        close(bounds.high, expected[1], 1e-11, "high");
    }
}

#[test]
fn tests_for_serial_correlation() {
    let reference = reference();
    let (x, _) = memory_series(&reference);
    let outputs = &reference["ljung_box_dw"]["outputs"];
    let (statistic, probability) = serial_correlation::ljung_box(&x, 10).expect("a statistic");
    close(statistic, number(&outputs["Q"]), 1e-12, "Q");
    close(probability, number(&outputs["p"]), 1e-9, "p");
    let mean = descriptive::mean(&x).expect("a mean");
    let centred: Vec<f64> = x.iter().map(|value| value - mean).collect();
    let found = serial_correlation::durbin_watson(&centred).expect("a statistic");
    close(found, number(&outputs["durbin_watson_of_demeaned_x"]), 1e-12, "Durbin-Watson");
}

#[test]
fn robust_covariance() {
    // Newey & West 1987, Bartlett kernel, four and six lags, no small-sample factor.
    let reference = reference();
    let outputs = &reference["ols_hac"]["outputs"];
    let inputs = &reference["cross_correlation"]["inputs"];
    let (x, y) = (list(&inputs["x"]), list(&inputs["y"]));
    let fit = regression::line(&x, &y).expect("a line");
    let ones = vec![1.0; x.len()];
    let columns: [&[f64]; 2] = [&ones, &x];
    let residuals = regression::residuals(&columns, &y, &fit.coefficients);
    let robust = serial_correlation::hac_covariance(&columns, &residuals, None, Some(5.0));
    let robust = robust.expect("a covariance");
    // The same spacing given as times must give the same answer.
    let times: Vec<f64> = (0_u32..50).map(|i| 7.0 + 0.25 * f64::from(i)).collect();
    let timed =
        serial_correlation::hac_covariance(&columns, &residuals, Some(&times), Some(5.0 * 0.25));
    let timed = timed.expect("a covariance");
    for k in 0..2 {
        close(fit.coefficients[k], list(&outputs["beta"])[k], 1e-11, "coefficient");
        close(fit.standard_error(k), list(&outputs["se_ols"])[k], 1e-11, "plain error");
        close(robust[k][k].sqrt(), list(&outputs["se_hac"])[k], 1e-11, "robust error");
        close(timed[k][k].sqrt(), list(&outputs["se_hac"])[k], 1e-10, "robust error, timed");
    }
    let explained = regression::r_squared(&y, fit.residual_sum_of_squares).expect("a share");
    close(explained, number(&outputs["r2"]), 1e-11, "R²");
    let (x, _) = memory_series(&reference);
    let ones = vec![1.0; x.len()];
    let mean = descriptive::mean(&x).expect("a mean");
    let centred: Vec<f64> = x.iter().map(|value| value - mean).collect();
    let robust = serial_correlation::hac_covariance(&[&ones], &centred, None, Some(7.0));
    let error = robust.expect("a covariance")[0][0].sqrt();
    close(error, number(&outputs["se_mean_hac6"]), 1e-11, "error of a mean");
}

#[test]
fn robust_slope() {
    // Theil 1950; Sen 1968.
    let reference = reference();
    let (inputs, outputs) = (&reference["theil_sen"]["inputs"], &reference["theil_sen"]["outputs"]);
    let (t, y) = (list(&inputs["t"]), list(&inputs["y"]));
    let robust = regression::theil_sen(&t, &y).expect("a line");
    close(robust.slope.value, number(&outputs["slope"]), 1e-12, "slope");
    close(robust.slope.low, number(&outputs["ci_low"]), 1e-12, "low");
    close(robust.slope.high, number(&outputs["ci_high"]), 1e-12, "high");
    close(robust.intercept, number(&outputs["intercept"]), 1e-12, "intercept");
    let plain = regression::line(&t, &y).expect("a line");
    close(plain.coefficients[1], number(&outputs["ols_slope"]), 1e-12, "least squares");
    close(plain.standard_error(1), number(&outputs["ols_slope_se"]), 1e-12, "its error");
}

#[test]
fn cumulative_sums() {
    // Page 1954; Ploberger & Kramer 1992.
    let reference = reference();
    let (inputs, outputs) = (&reference["cusum"]["inputs"], &reference["cusum"]["outputs"]);
    let y = list(&inputs["y"]);
    let found = change_point::cusum(&y, 0.0, 0.1, 0.5, 5.0);
    for (found, expected) in found.up.iter().zip(list(&outputs["C_plus"])) {
        close(*found, expected, 1e-12, "up");
    }
    for (found, expected) in found.down.iter().zip(list(&outputs["C_minus"])) {
        close(*found, expected, 1e-12, "down");
    }
    assert_eq!(found.first_alarm.map(|i| i as u64), outputs["first_alarm_index0"].as_u64());
    let mean = descriptive::mean(&y).expect("a mean");
    let centred: Vec<f64> = y.iter().map(|value| value - mean).collect();
    let (statistic, probability) = change_point::ols_cusum(&centred).expect("a statistic");
    close(statistic, number(&outputs["ols_cusum_sup_stat"]), 1e-12, "supremum");
    close(probability, number(&outputs["ols_cusum_p"]), 1e-10, "its probability");
}

#[test]
fn changes_of_level() {
    // Killick, Fearnhead & Eckley 2012.
    let reference = reference();
    let (inputs, outputs) = (&reference["pelt_l2"]["inputs"], &reference["pelt_l2"]["outputs"]);
    let y = list(&inputs["y"]);
    let changes = change_point::pelt(&y, number(&inputs["penalty"]), 2);
    let expected = list(&outputs["breakpoints_end_exclusive"]);
    let found: Vec<f64> = changes.iter().map(|end| *end as f64).collect();
    assert_eq!(found, expected[..expected.len() - 1], "the last end is the series' own");
    let split = change_point::best_split(&y, 2).expect("a split");
    assert_eq!(split.index as f64, number(&outputs["best_single_split_index"]));
    close(split.cost, number(&outputs["best_single_split_sse"]), 1e-12, "cost of the split");
    close(split.cost_without, number(&outputs["sse_no_change"]), 1e-12, "cost without");
}

#[test]
fn cross_correlations() {
    // Box & Jenkins' convention.
    let reference = reference();
    let entry = &reference["cross_correlation"];
    let (x, y) = (list(&entry["inputs"]["x"]), list(&entry["inputs"]["y"]));
    let found = lag::cross_correlation(&x, &y, 8).expect("correlations");
    for (found, expected) in found.values.iter().zip(list(&entry["outputs"]["ccf"])) {
        close(*found, expected, 1e-11, "correlation");
    }
    let (best, r) = found.strongest().expect("a lag");
    assert_eq!(best as i64, entry["outputs"]["best_lag"].as_i64().expect("a lag"));
    close(r, number(&entry["outputs"]["best_r"]), 1e-12, "at its lag");
    let overlap = lag::correlation(&x[..47], &y[3..]).expect("a correlation");
    let expected = number(&entry["outputs"]["overlap_only_pearson_at_lag3"]);
    close(overlap, expected, 1e-12, "overlap only");
}

#[test]
fn smallest_effects() {
    // Cohen 1988 on the noncentral t; Fisher's z for correlations.
    let reference = reference();
    let expected = &reference["minimum_detectable_effect"];
    let effect = |error: f64, degrees: f64| {
        detection_limit::smallest_effect(error, degrees, 0.05, 0.8, Sides::Two).expect("an effect")
    };
    // In units of the standard deviation: the error of a mean of 20, and of a difference of two.
    let one = effect((1.0_f64 / 20.0).sqrt(), 19.0);
    close(one, number(&expected["one_sample_d_n20"]), 1e-8, "one sample");
    let two = effect((2.0_f64 / 20.0).sqrt(), 38.0);
    close(two, number(&expected["two_sample_d_n20_each"]), 1e-8, "two samples");
    let power = detection_limit::power(0.8 / (2.0_f64 / 15.0).sqrt(), 28.0, 0.05, Sides::Two);
    close(power, number(&expected["power_d0_8_n15_each"]), 1e-9, "power");
    for (n, expected) in expected["r_min_detectable"].as_object().expect("by n") {
        let n: f64 = n.parse().expect("a number");
        let found = detection_limit::smallest_correlation(n, 0.05, 0.8).expect("an effect");
        close(found, number(expected), 1e-12, "correlation");
    }
}

#[test]
fn exponential_recovery() {
    let reference = reference();
    let entry = &reference["exponential_recovery_fit"];
    let (t, p) = (list(&entry["inputs"]["t_s"]), list(&entry["inputs"]["p_Pa"]));
    let setting = exponential_fit::Setting {
        event: 0.0,
        longest_delay: 0.0,
        sensor_lag: 0.0,
        noise_floor: 0.0,
        timing: 0.0,
        drift: false,
    };
    let found = exponential_fit::fit(&t, &p, &setting).expect("a fit");
    let outputs = &entry["outputs"];
    let tau = found.time_constant.value.expect("the fall is well sampled");
    close(tau, number(&outputs["tau"]), 1e-6, "time constant");
    close(found.amplitude.value, number(&outputs["A"]), 1e-6, "amplitude");
    close(found.level.value, number(&outputs["c"]), 1e-5, "level");
    close(found.residual_sd, number(&outputs["resid_sd"]), 1e-8, "residuals");
    close(found.ninety_percent.value, number(&outputs["t90"]), 1e-6, "t90");
    // The profile's bounds are lopsided, but near two linearised errors for so clear a fall.
    let half = 2.0739 * list(&outputs["se"])[1];
    assert!(found.time_constant.low < tau - 0.8 * half);
    assert!(found.time_constant.low > tau - 1.6 * half);
    assert!(found.time_constant.high > tau + 0.8 * half);
    assert!(found.time_constant.high < tau + 1.6 * half);
}

#[test]
fn root_law_of_a_sealed_decay() {
    let reference = reference();
    let entry = &reference["sqrt_law_fit"];
    let (t, dp) = (list(&entry["inputs"]["t_s"]), list(&entry["inputs"]["dp_Pa"]));
    let roots: Vec<f64> = dp.iter().map(|dp| dp.sqrt()).collect();
    let line = regression::line(&t, &roots).expect("a line");
    let slope = number(&entry["outputs"]["slope_sqrtPa_per_s"]);
    close(line.coefficients[1], slope, 1e-12, "slope");
    // Weighting the samples for their noise changes a clean decay by next to nothing.
    let weighted = orifice_flow::decay_slope(&t, &dp, 1.0).expect("a slope");
    close(weighted.value, slope, 1e-4, "weighted slope");
}
