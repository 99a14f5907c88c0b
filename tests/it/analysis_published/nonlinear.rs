//! NIST Statistical Reference Datasets, nonlinear regression: all 27 sets from both of their
//! starts. Certified parameters, standard deviations and residual sums of squares stand in the
//! data files' own headers.

use super::{close, published};
use stilltank::analysis::levenberg_marquardt::{Settings, minimise};

type Model = fn(&[f64], &[f64]) -> f64;

/// Name, model (parameters, predictors), and the relative tolerance that is reachable: 1e-6, except
/// Lanczos 3 at 1e-5 (its residuals keep only five digits of the parameters).
const SETS: &[(&str, Model, f64)] = &[
    ("Misra1a", |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp()), 1e-6),
    ("Chwirut2", |b, x| (-b[0] * x[0]).exp() / (b[1] + b[2] * x[0]), 1e-6),
    ("Chwirut1", |b, x| (-b[0] * x[0]).exp() / (b[1] + b[2] * x[0]), 1e-6),
    ("Lanczos3", three_exponentials, 1e-5),
    ("Gauss1", two_peaks, 1e-6),
    ("Gauss2", two_peaks, 1e-6),
    ("DanWood", |b, x| b[0] * x[0].powf(b[1]), 1e-6),
    ("Misra1b", |b, x| b[0] * (1.0 - (1.0 + b[1] * x[0] / 2.0).powi(-2)), 1e-6),
    ("Kirby2", |b, x| polynomial(&b[..3], x[0]) / (1.0 + x[0] * polynomial(&b[3..], x[0])), 1e-6),
    ("Hahn1", |b, x| polynomial(&b[..4], x[0]) / (1.0 + x[0] * polynomial(&b[4..], x[0])), 1e-6),
    ("Nelson", |b, x| b[0] - b[1] * x[0] * (-b[2] * x[1]).exp(), 1e-6),
    ("MGH17", |b, x| b[0] + b[1] * (-x[0] * b[3]).exp() + b[2] * (-x[0] * b[4]).exp(), 1e-6),
    ("Lanczos1", three_exponentials, 1e-6),
    ("Lanczos2", three_exponentials, 1e-6),
    ("Gauss3", two_peaks, 1e-6),
    ("Misra1c", |b, x| b[0] * (1.0 - (1.0 + 2.0 * b[1] * x[0]).powf(-0.5)), 1e-6),
    ("Misra1d", |b, x| b[0] * b[1] * x[0] / (1.0 + b[1] * x[0]), 1e-6),
    (
        "Roszman1",
        |b, x| b[0] - b[1] * x[0] - (b[2] / (x[0] - b[3])).atan() / std::f64::consts::PI,
        1e-6,
    ),
    ("ENSO", seasons, 1e-6),
    ("MGH09", |b, x| b[0] * (x[0] * x[0] + x[0] * b[1]) / (x[0] * x[0] + x[0] * b[2] + b[3]), 1e-6),
    ("Thurber", |b, x| polynomial(&b[..4], x[0]) / (1.0 + x[0] * polynomial(&b[4..], x[0])), 1e-6),
    ("BoxBOD", |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp()), 1e-6),
    ("Rat42", |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp()), 1e-6),
    ("MGH10", |b, x| b[0] * (b[1] / (x[0] + b[2])).exp(), 1e-6),
    ("Eckerle4", |b, x| b[0] / b[1] * (-0.5 * ((x[0] - b[2]) / b[1]).powi(2)).exp(), 1e-6),
    ("Rat43", |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp()).powf(1.0 / b[3]), 1e-6),
    ("Bennett5", |b, x| b[0] * (b[1] + x[0]).powf(-1.0 / b[2]), 1e-6),
];

fn three_exponentials(b: &[f64], x: &[f64]) -> f64 {
    b.chunks(2).map(|pair| pair[0] * (-pair[1] * x[0]).exp()).sum()
}

fn two_peaks(b: &[f64], x: &[f64]) -> f64 {
    let peak = |height: f64, at: f64, width: f64| height * (-((x[0] - at) / width).powi(2)).exp();
    b[0] * (-b[1] * x[0]).exp() + peak(b[2], b[3], b[4]) + peak(b[5], b[6], b[7])
}

fn seasons(b: &[f64], x: &[f64]) -> f64 {
    let turn = |period: f64| 2.0 * std::f64::consts::PI * x[0] / period;
    let wave = |cosine: f64, sine: f64, period: f64| {
        cosine * turn(period).cos() + sine * turn(period).sin()
    };
    b[0] + wave(b[1], b[2], 12.0) + wave(b[4], b[5], b[3]) + wave(b[7], b[8], b[6])
}

fn polynomial(b: &[f64], x: f64) -> f64 {
    b.iter().rev().fold(0.0, |sum, b| sum * x + b)
}

struct Certified {
    starts: [Vec<f64>; 2],
    parameters: Vec<f64>,
    deviations: Vec<f64>,
    sum_of_squares: f64,
    y: Vec<f64>,
    x: Vec<Vec<f64>>,
}

fn certified(name: &str) -> Certified {
    let text = published(&format!("nist/{name}.dat"));
    let numbers = |line: &str| -> Vec<f64> {
        line.split_whitespace().filter_map(|word| word.parse().ok()).collect()
    };
    let mut set = Certified {
        starts: [Vec::new(), Vec::new()],
        parameters: Vec::new(),
        deviations: Vec::new(),
        sum_of_squares: f64::NAN,
        y: Vec::new(),
        x: Vec::new(),
    };
    for line in text.lines().skip(40).take(20) {
        if let Some((name, rest)) = line.split_once('=') {
            if let ([first, second, value, deviation], true) =
                (numbers(rest).as_slice(), name.trim().starts_with('b'))
            {
                set.starts[0].push(*first);
                set.starts[1].push(*second);
                set.parameters.push(*value);
                set.deviations.push(*deviation);
            }
        } else if let Some((_, rest)) = line.split_once("Residual Sum of Squares:") {
            set.sum_of_squares = numbers(rest)[0];
        }
    }
    for line in text.lines().skip(60) {
        if let [y, x @ ..] = numbers(line).as_slice() {
            set.y.push(*y);
            set.x.push(x.to_vec());
        }
    }
    assert!(!set.parameters.is_empty() && !set.y.is_empty(), "{name}: the file reads as expected");
    set
}

#[test]
fn every_set_converges_from_both_starts() {
    for (name, model, tolerance) in SETS {
        let mut set = certified(name);
        if *name == "Nelson" {
            // The model is for the logarithm of the response.
            set.y.iter_mut().for_each(|y| *y = y.ln());
        }
        for (which, start) in set.starts.iter().enumerate() {
            let residual = |b: &[f64], out: &mut [f64]| {
                for (slot, (y, x)) in out.iter_mut().zip(set.y.iter().zip(&set.x)) {
                    *slot = y - model(b, x);
                }
            };
            let settings = Settings { tolerance: 1e-15, most_iterations: 5000 };
            let solution = minimise(residual, set.y.len(), start, settings).expect("a start");
            let what = format!("{name} from start {}", which + 1);
            for (found, expected) in solution.parameters.iter().zip(&set.parameters) {
                close(*found, *expected, *tolerance, &what);
            }
            // Lanczos 1 has no noise: its sum of squares (1.4e-25) and deviations are rounding.
            if *name != "Lanczos1" {
                close(solution.residual_sum_of_squares, set.sum_of_squares, 1e-6, &what);
                for (index, expected) in set.deviations.iter().enumerate() {
                    close(solution.standard_error(index), *expected, 1e-4, &what);
                }
            }
        }
    }
}
