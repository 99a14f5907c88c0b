//! An export in the hands of a query engine that others wrote.

use std::path::Path;
use std::process::Command;

use super::{Bench, text};
use crate::tools::query_engine;

/// What the engine answers, as JSON rows.
fn ask(python: &Path, folder: &Path, question: &str) -> Vec<Vec<serde_json::Value>> {
    let script = "import duckdb, json, sys\n\
                  print(json.dumps(duckdb.sql(sys.argv[1]).fetchall()))";
    let output =
        Command::new(python).args(["-c", script, question]).current_dir(folder).output().unwrap();
    assert!(output.status.success(), "{question}: {}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

/// The first SQL block of the README.
fn question_of_the_readme() -> String {
    let readme = include_str!("../../../README.md");
    let block = readme.split("```sql\n").nth(1).and_then(|rest| rest.split("```").next());
    block.unwrap().to_owned()
}

/// Columns of a table that was exported as CSV.
fn rows(path: &Path, columns: &[&str]) -> Vec<Vec<String>> {
    let mut reader = csv::Reader::from_path(path).unwrap();
    let head = reader.headers().unwrap().clone();
    let place = |name: &&str| head.iter().position(|it| it == *name).unwrap();
    let places: Vec<usize> = columns.iter().map(place).collect();
    let row = |row: csv::StringRecord| places.iter().map(|at| row[*at].to_owned()).collect();
    reader.records().map(|record| row(record.unwrap())).collect()
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    let (low, high) = (values[(values.len() - 1) / 2], values[values.len() / 2]);
    f64::midpoint(low, high)
}

#[test]
fn the_readmes_query_answers_from_an_export() {
    let Some(python) = query_engine("no query was run over an export") else { return };
    let bench = Bench::new();
    for (fault, seed) in [("purge_valve_leaking", "1"), ("purge_valve_leaking", "2"), ("none", "1")]
    {
        bench.done(&["demo", "--fault", fault, "--seed", seed, "--headless"]);
    }
    let folder = bench.path("out");
    bench.done(&["export", "--out", text(&folder)]);

    let answer = ask(&python, &folder, &question_of_the_readme());
    let visits = rows(&folder.join("visits.csv"), &["visit", "outcome", "fault"]);
    let measures = rows(&folder.join("measures.csv"), &["visit", "measure", "value"]);
    let mut expected = Vec::new();
    for fault in ["", "purge_valve_leaking"] {
        let of: Vec<&str> =
            visits.iter().filter(|it| it[2] == fault).map(|it| it[0].as_str()).collect();
        let shut =
            |it: &&Vec<String>| it[1] == "vacuum_with_purge_shut" && of.contains(&it[0].as_str());
        let values: Vec<f64> =
            measures.iter().filter(shut).map(|it| it[2].parse().unwrap()).collect();
        expected.push((fault, of.len(), median(values)));
    }
    assert_eq!(answer.len(), 2, "{answer:?}");
    for (fault, count, median) in expected {
        let row = answer.iter().find(|row| row[1] == fault).unwrap_or_else(|| panic!("{fault}"));
        assert_eq!(row[2], count, "{row:?}");
        assert!((row[3].as_f64().unwrap() - median).abs() <= 0.05, "{row:?}: {median}");
    }

    let counted = ask(
        &python,
        &folder,
        "SELECT signal, count(*), sum(value), max(time_us) FROM 'samples.parquet'
         GROUP BY signal ORDER BY signal",
    );
    let again = ask(
        &python,
        &folder,
        "SELECT signal, count(*), sum(value), max(time_us) FROM 'samples.csv'
         GROUP BY signal ORDER BY signal",
    );
    assert!(counted.len() > 4, "{counted:?}");
    for (parquet, csv) in counted.iter().zip(&again) {
        assert_eq!((&parquet[0], &parquet[1], &parquet[3]), (&csv[0], &csv[1], &csv[3]));
        let (one, other) = (parquet[2].as_f64().unwrap(), csv[2].as_f64().unwrap());
        // The engine adds in several threads, in whichever order.
        assert!((one - other).abs() <= 1e-9 * one.abs().max(1.0), "{parquet:?} {csv:?}");
    }
    assert_eq!(counted.len(), again.len());
}
