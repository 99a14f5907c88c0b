//! NIST Statistical Reference Datasets: univariate summaries and linear regression. The certified
//! values, and the same recomputed in exact rational arithmetic, stand in `nist_checks.json`.

use super::{close, list, number, published, published_json};
use stilltank::analysis::{descriptive, regression};

/// The numbers below a data set's header, row by row.
fn rows(name: &str, first_line: &str) -> Vec<Vec<f64>> {
    let text = published(&format!("nist/{name}.dat"));
    let lines = text.lines().skip_while(|line| !line.starts_with(first_line)).skip(1);
    lines
        .map(|line| line.split_whitespace().filter_map(|word| word.parse().ok()).collect())
        .filter(|row: &Vec<f64>| !row.is_empty())
        .collect()
}

fn column(rows: &[Vec<f64>], index: usize) -> Vec<f64> {
    rows.iter().map(|row| row[index]).collect()
}

#[test]
fn univariate_sets_agree_with_exact_arithmetic() {
    let checks = published_json("nist_checks.json");
    for (name, expected) in checks["univariate"].as_object().expect("sets by name") {
        let values = column(&rows(name, "Data: Y"), 0);
        assert_eq!(values.len() as u64, expected["n"].as_u64().expect("a count"), "{name}");
        let mean = descriptive::mean(&values).expect("a mean");
        close(mean, number(&expected["exact_mean"]), 1e-15, name);
        let sd = descriptive::standard_deviation(&values).expect("a deviation");
        // The decimals of NumAcc 3 and 4 are not binary numbers: the data themselves are this far off.
        let stored = 2.0 * f64::EPSILON * mean.abs() / sd;
        close(sd, number(&expected["exact_sd"]), stored.max(1e-13), name);
        let lag = descriptive::lag_one_autocorrelation(&values).expect("a correlation");
        close(lag, number(&expected["exact_lag1"]), (4.0 * stored).max(1e-12), name);
        let mut running = descriptive::Running::default();
        values.iter().for_each(|value| running.push(*value));
        // Welford in one pass loses what the offset costs: 1e-9 is eight decades below it.
        close(running.mean().expect("a mean"), mean, 1e-14, name);
        close(running.standard_deviation().expect("a deviation"), sd, 1e-8, name);
    }
}

/// Holds a fit against the exact one: coefficients and residual deviation, standard errors.
fn check(name: &str, columns: &[Vec<f64>], y: &[f64], tolerance: f64) {
    let checks = published_json("nist_checks.json");
    let expected = &checks["linear_exact_rational"][name];
    let columns: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    let fit = regression::ordinary(&columns, y).expect("a fit");
    for (index, beta) in list(&expected["beta"]).iter().enumerate() {
        close(fit.coefficients[index], *beta, tolerance, &format!("{name} coefficient {index}"));
    }
    for (index, se) in list(&expected["se"]).iter().enumerate() {
        close(fit.standard_error(index), *se, tolerance, &format!("{name} error {index}"));
    }
    close(fit.residual_sd, number(&expected["resid_sd"]), tolerance, name);
}

#[test]
fn norris_line() {
    let text = published("nist/Norris.dat");
    let data: Vec<Vec<f64>> = text
        .lines()
        .skip(60)
        .map(|line| line.split_whitespace().filter_map(|word| word.parse().ok()).collect())
        .filter(|row: &Vec<f64>| !row.is_empty())
        .collect();
    assert_eq!(data.len(), 36);
    let (y, x) = (column(&data, 0), column(&data, 1));
    check("Norris", &[vec![1.0; 36], x], &y, 1e-12);
}

#[test]
fn pontius_parabola_with_badly_scaled_columns() {
    let data = rows("Pontius", "Data: y x");
    let x = column(&data, 1);
    let squares = x.iter().map(|x| x * x).collect();
    check("Pontius", &[vec![1.0; x.len()], x, squares], &column(&data, 0), 1e-10);
}

#[test]
fn longley_with_nearly_dependent_columns() {
    let data = rows("Longley", "NIST/ITL");
    assert_eq!(data.len(), 16);
    let columns: Vec<Vec<f64>> = (1..8).map(|index| column(&data, index)).collect();
    check("Longley", &columns, &column(&data, 0), 1e-9);
}

#[test]
fn filip_polynomial_of_tenth_degree() {
    // Condition number about 1e15: six digits are what double precision can give.
    let data = rows("Filip", "NIST/ITL");
    assert_eq!(data.len(), 82);
    let x = column(&data, 1);
    let columns: Vec<Vec<f64>> =
        (0..11).map(|power| x.iter().map(|x| x.powi(power)).collect()).collect();
    check("Filip", &columns, &column(&data, 0), 1e-6);
}

#[test]
fn lines_through_the_origin() {
    let data = rows("NoInt1", "Data: y x");
    check("NoInt1", &[column(&data, 1)], &column(&data, 0), 1e-13);
    check("NoInt2", &[vec![4.0, 5.0, 6.0]], &[3.0, 4.0, 4.0], 1e-13);
}
