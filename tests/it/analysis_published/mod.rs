//! The analysis layer held line by line against published and independently computed values.
//!
//! `fixtures/README.md` says where each file comes from.

mod comparisons;
mod linear;
mod nonlinear;
mod physics;
mod statistics;

use serde_json::Value;

/// A file of `fixtures/published`.
fn published(name: &str) -> String {
    let path = format!("{}/fixtures/published/{name}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(&path).unwrap_or_else(|error| panic!("{path}: {error}"))
}

fn published_json(name: &str) -> Value {
    serde_json::from_str(&published(name)).expect("published values are valid JSON")
}

/// The list of numbers under a JSON value.
fn list(value: &Value) -> Vec<f64> {
    value.as_array().expect("a list").iter().map(number).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// Asserts agreement within a relative tolerance (absolute where the expected value is zero).
#[track_caller]
fn close(found: f64, expected: f64, tolerance: f64, what: &str) {
    let scale = if expected == 0.0 { 1.0 } else { expected.abs() };
    let error = (found - expected).abs() / scale;
    assert!(error <= tolerance, "{what}: found {found:e}, published {expected:e}, off {error:.1e}");
}
