//! An export in the hands of a query engine that others wrote.

use std::path::Path;
use std::process::Command;

use stilltank::jobs::read_recording;
use stilltank::store::{NewVehicle, Store, TableFormat};

use super::{Bench, text};
use crate::tools::query_engine;

/// What the engine answers, as JSON rows.
fn ask(python: &Path, folder: &Path, question: &str) -> Vec<Vec<serde_json::Value>> {
    let script = "import duckdb, json, sys\n\
                  rows = duckdb.sql(sys.argv[1])\n\
                  print(json.dumps(rows.fetchall() if rows else []))";
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

/// A recording of ten minutes in our file, and as Parquet that the engine wrote in several layouts
/// at its strongest compression: a sample with its time takes at most two bytes, and fewer than
/// there.
#[test]
fn a_recording_takes_less_room_than_the_engines_best_parquet() {
    let Some(python) = query_engine("recordings were not held against another format") else {
        return;
    };
    let bench = Bench::new();
    let file = bench.path("long.csv");
    let link = "virtual:purge_valve_leaking:3";
    bench.done(&["record", "--link", link, "--seconds", "600", "--out", text(&file)]);
    let recording = read_recording(&file, None).unwrap().recording;
    let samples: Vec<_> = recording
        .signals()
        .flat_map(|(signal, series)| series.iter().map(move |(at, value)| (signal, at, value)))
        .collect();
    assert!(samples.len() > 5_000, "{}", samples.len());
    let written = |samples: &[_], name: &str| {
        let now = chrono::DateTime::UNIX_EPOCH;
        let mut store = Store::open(&bench.path(&format!("{name}.db"))).unwrap();
        let vehicle = store.add_vehicle(&NewVehicle::default(), now).unwrap();
        let visit = store.start_visit(vehicle, now).unwrap();
        store.append_samples(visit, samples).unwrap();
        store.close_visit(visit, now).unwrap();
        let bundle = bench.path(&format!("{name}.stilltank"));
        store.export(&bundle, None, now).unwrap();
        let folder = bench.path(name);
        store.export_tables(&folder, TableFormat::Parquet, None).unwrap();
        std::fs::metadata(bundle).unwrap().len()
    };
    let ours = written(&samples, "with") - written(&samples[..1], "without");
    let layouts = [
        "SELECT signal, time_us, value FROM 'samples.parquet' ORDER BY signal, time_us",
        "SELECT signal, time_us, value FROM 'samples.parquet' ORDER BY time_us, signal",
        "SELECT signal, time_us, CAST(value AS FLOAT) AS value FROM 'samples.parquet'
         ORDER BY signal, time_us",
        "PIVOT 'samples.parquet' ON signal USING any_value(value) GROUP BY time_us
         ORDER BY time_us",
    ];
    let folder = bench.path("with");
    let sizes = (0..).zip(layouts).flat_map(|(number, layout)| {
        ["V1", "V2"].map(|version| {
            let to = format!("layout-{number}-{version}.parquet");
            let question = format!(
                "COPY ({layout}) TO '{to}' (FORMAT parquet, COMPRESSION zstd,
                 COMPRESSION_LEVEL 22, PARQUET_VERSION {version})"
            );
            ask(&python, &folder, &question);
            std::fs::metadata(folder.join(to)).unwrap().len()
        })
    });
    let theirs = sizes.min().unwrap();
    let each = |bytes: u64| bytes as f64 / samples.len() as f64;
    assert!(each(ours) <= 2.0, "{:.2} bytes a sample", each(ours));
    assert!(ours < theirs, "{:.2} against {:.2} bytes a sample", each(ours), each(theirs));
}
