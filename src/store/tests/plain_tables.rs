use std::path::Path;

use super::super::TableFormat;
use super::{Bench, batch, minute, purge_valve_verdict, seconds, throttle_follow};

/// Set to a folder to keep the files, to hold them against other programs' readers.
const KEEP: &str = "STILLTANK_TEST_TABLES";

fn visited() -> Bench {
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue, \"estate\"", "9ZZAB12C0R1000001");
    let samples: Vec<_> = (0..700).flat_map(batch).collect();
    bench.store.append_samples(visit, &samples).unwrap();
    bench.store.append_code(visit, seconds(1.5), "P0496").unwrap();
    bench.store.save_check(visit, &throttle_follow(-212.0), minute(2)).unwrap();
    bench.store.save_verdict(visit, &purge_valve_verdict(0.98), minute(3)).unwrap();
    bench.visit("Red van", "");
    bench
}

#[test]
fn csv_holds_what_json_holds() {
    let bench = visited();
    let folder = bench.folder.path().join("tables");
    let json = bench.store.export_tables(&folder, TableFormat::Json, None).unwrap();
    let csv = bench.store.export_tables(&folder, TableFormat::Csv, None).unwrap();
    for (json, csv) in json.iter().zip(&csv) {
        let objects: Vec<serde_json::Map<String, serde_json::Value>> =
            serde_json::from_slice(&std::fs::read(json).unwrap()).unwrap();
        let mut reader = csv::Reader::from_path(csv).unwrap();
        let names = reader.headers().unwrap().clone();
        let mut rows = 0;
        for (object, record) in objects.iter().zip(reader.records()) {
            let record = record.unwrap();
            rows += 1;
            for (name, text) in names.iter().zip(&record) {
                match &object[name] {
                    serde_json::Value::String(value) => assert_eq!(value, text),
                    serde_json::Value::Number(value) => {
                        assert_eq!(value.as_f64(), text.parse().ok());
                    }
                    other => assert!(other.is_null() && text.ends_with("inf"), "{name} {text}"),
                }
            }
        }
        assert_eq!(rows, objects.len());
    }
    assert_eq!(lines(&folder.join("samples.csv")), 1 + 1400);
    assert_eq!(lines(&folder.join("measures.csv")), 1 + 3);
    assert_eq!(lines(&folder.join("visits.csv")), 1 + 2);
}

#[test]
fn a_file_named_for_a_table_holds_that_table() {
    let bench = visited();
    let red = bench.store.list_vehicles("red").unwrap()[0].id;
    let path = bench.folder.path().join("samples.csv");
    bench.store.export_table(&path, TableFormat::of(&path).unwrap(), None).unwrap();
    assert_eq!(lines(&path), 1 + 1400);
    bench.store.export_table(&path, TableFormat::Csv, Some(red)).unwrap();
    assert_eq!(lines(&path), 1);
    let path = bench.folder.path().join("history.csv");
    bench.store.export_table(&path, TableFormat::Csv, Some(red)).unwrap();
    assert_eq!(lines(&path), 1 + 1);
}

/// Layout: file format documentation of Apache Parquet: magic at both ends, length of the footer
/// before the last; a PLAIN column of 64-bit floats is the floats themselves.
#[test]
fn parquet_is_framed_and_holds_the_values() {
    let bench = visited();
    let kept = std::env::var_os(KEEP);
    let folder = kept.map_or_else(|| bench.folder.path().join("tables"), Into::into);
    let files = bench.store.export_tables(&folder, TableFormat::Parquet, None).unwrap();
    for file in &files {
        let bytes = std::fs::read(file).unwrap();
        assert!(bytes.starts_with(b"PAR1") && bytes.ends_with(b"PAR1"));
        let footer = bytes[bytes.len() - 8..bytes.len() - 4].try_into().unwrap();
        assert!(u32::from_le_bytes(footer) as usize <= bytes.len() - 12);
    }
    let samples = std::fs::read(folder.join("samples.parquet")).unwrap();
    let first: Vec<u8> = (0..8).flat_map(|number| batch(number)[0].2.to_le_bytes()).collect();
    assert!(samples.windows(first.len()).any(|window| window == first));
    // Sixteen bytes for time and value, and next to nothing for the repeated texts.
    assert!(samples.len() < 1400 * 16 + 2000, "{}", samples.len());
}

fn lines(path: &Path) -> usize {
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_path(path).unwrap();
    reader.records().map(Result::unwrap).count()
}
