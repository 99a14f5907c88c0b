use std::fmt::Write;

use super::{Bench, text};

/// Records a virtual car whose person goes through the checks, and returns the judgement.
fn judged(bench: &Bench, link: &str) -> serde_json::Value {
    let path = bench.path("visit.csv");
    bench.done(&["record", "--link", link, "--seconds", "370", "--out", text(&path)]);
    bench.json("judge", &["judge", text(&path), "--json"])
}

#[test]
fn a_leaking_purge_valve_is_found_in_a_recording() {
    let bench = Bench::new();
    let judgement = judged(&bench, "virtual:purge_valve_leaking:3");
    assert_eq!(judgement["schema"], 1);
    assert_eq!(judgement["verdict"]["outcome"], "fault_found");
    assert_eq!(judgement["verdict"]["fault"], "purge_valve_leaking");
    let faults = judgement["faults"].as_array().unwrap();
    let sum: f64 = faults.iter().map(|it| it["probability"].as_f64().unwrap()).sum();
    assert!((sum - 1.0).abs() < 1e-9, "{sum}");
    assert_eq!(faults.len(), 8);
    let in_words = bench.done(&["judge", text(&bench.path("visit.csv"))]);
    assert!(in_words.contains("purge valve"), "{in_words}");
}

#[test]
fn nothing_is_named_on_a_sound_car() {
    let judgement = judged(&Bench::new(), "virtual:none:3");
    assert_eq!(judgement["verdict"]["fault"], serde_json::Value::Null);
    assert_ne!(judgement["verdict"]["outcome"], "fault_found");
}

#[test]
fn a_recording_played_back_is_recorded_alike() {
    let bench = Bench::new();
    let path = bench.path("first.csv");
    let link = "virtual:vapor_leak:2";
    bench.done(&["record", "--link", link, "--seconds", "40", "--out", text(&path)]);
    let again = bench.path("again.csv");
    let replay = format!("replay:{}", text(&path));
    bench.done(&["record", "--link", &replay, "--seconds", "60", "--out", text(&again)]);
    let rows = |path| std::fs::read_to_string(path).unwrap().lines().count();
    assert_eq!(rows(&path), rows(&again));
}

#[test]
fn an_unknown_column_is_left_out_with_a_warning_that_names_it() {
    let bench = Bench::new();
    let mut log = "time_s,tank_pressure_pa,mood\n".to_owned();
    for second in 0..30 {
        writeln!(log, "{second},{}.5,fair", second % 3).unwrap();
    }
    let path = bench.write("log.csv", &log);
    let judgement = bench.json("judge", &["judge", text(&path), "--json"]);
    let warnings = judgement["warnings"].as_array().unwrap();
    assert!(warnings.iter().any(|it| it.as_str().unwrap().contains("\"mood\"")), "{warnings:?}");
}

#[test]
fn somebody_elses_log_comes_in_through_a_column_map() {
    let bench = Bench::new();
    let mut log = "Clock;Tank\n".to_owned();
    for second in 0..60 {
        writeln!(log, "{second};{},5", second % 3).unwrap();
    }
    let path = bench.write("log.csv", &log);
    let map = bench.write(
        "map.toml",
        "delimiter = \";\"\ndecimal = \",\"\n\
         [time]\ncolumn = \"Clock\"\nunit = \"s\"\n\
         [[column]]\nname = \"Tank\"\nsignal = \"tank_pressure_pa\"\nunit = \"Pa\"\n",
    );
    bench.refused(2, "column", &["judge", text(&path)]);
    let words = ["judge", text(&path), "--columns", text(&map), "--json"];
    let judgement = bench.json("judge", &words);
    assert_eq!(judgement["verdict"]["fault"], serde_json::Value::Null);
    let again = bench.json("judge", &["judge", text(&path), "--json"]);
    assert_eq!(again, judgement, "the map is remembered");
}

#[test]
fn the_car_is_read() {
    let bench = Bench::new();
    let read = bench.json("read", &["read", "--link", "virtual:purge_valve_leaking:3", "--json"]);
    assert_eq!(read["vin"].as_str().unwrap().len(), 17);
    let signals = read["signals"].as_array().unwrap();
    assert!(signals.iter().any(|it| it == "tank_pressure_pa"), "{signals:?}");
    let values = read["values"].as_array().unwrap();
    assert!(values.iter().any(|it| it["signal"] == "tank_pressure_pa"), "{values:?}");
    assert!(read["readings_per_second"].as_f64().unwrap() > 0.0);
    let in_words = bench.done(&["read", "--link", "virtual:purge_valve_leaking:3"]);
    assert!(in_words.starts_with("Identity\n  VIN"), "{in_words}");
}

#[test]
fn a_car_without_tank_pressure_says_which_checks_are_impossible() {
    let bench = Bench::new();
    let log = "time_s,engine_speed_rpm,short_trim_1_percent\n0,700,1\n1,710,2\n";
    let path = bench.write("log.csv", log);
    let run = bench.run(&["read", "--link", &format!("replay:{}", text(&path)), "--json"]);
    assert_eq!(run.status, Some(0), "{run:?}");
    let read: serde_json::Value = serde_json::from_str(&run.data).unwrap();
    let impossible = read["impossible"].as_array().unwrap();
    assert_eq!(impossible.len(), 8, "{impossible:?}");
    assert!(!impossible.iter().any(|it| it == "after_fill_up"), "{impossible:?}");
    assert!(run.messages.contains("own_signals.toml"), "{run:?}");
}

/// The stored model errors can be written anew, in the form in which they are stored; and where they cannot
/// be written, that is said.
#[test]
fn what_numbers_miss_is_written_as_a_table() {
    let bench = Bench::new();
    let file = bench.path("errors.csv");
    let words = |file| ["validate", "--cars", "8", "--hard", "--model-errors", text(file)];
    let table = bench.done(&words(&file));
    assert!(table.contains("off the truth"), "{table}");
    let stored = include_str!("../../../src/diagnosis/model_errors.csv");
    let written = std::fs::read_to_string(&file).unwrap();
    assert_eq!(written.lines().next(), stored.lines().next());
    let names = |text: &str| -> Vec<String> {
        let first = |line: &str| line.split(',').next().unwrap().to_owned();
        text.lines().skip(1).map(first).collect()
    };
    let known = names(stored);
    assert!(!names(&written).is_empty());
    assert!(names(&written).iter().all(|name| known.contains(name)), "{written}");
    let nowhere = bench.path("nowhere/errors.csv");
    let run = bench.run(&words(&nowhere));
    assert_eq!(run.status, Some(1), "{run:?}");
    assert!(run.messages.contains("nowhere"), "{run:?}");
}

/// The tank's size comes with a recording and leaves with it; one that no tank has is refused where it
/// stands.
#[test]
fn a_tank_size_that_no_car_has_is_refused() {
    let bench = Bench::new();
    let rows = "0,0,55\n1,0,\n2,0,\n";
    let good = bench.write("good.csv", &format!("time_s,tank_pressure_pa,tank_litre\n{rows}"));
    let run = bench.run(&["judge", text(&good), "--json"]);
    assert!(!run.messages.contains("tank_litre"), "{run:?}");
    let bad = bench.write("bad.csv", "time_s,tank_pressure_pa,tank_litre\n0,0,5500\n");
    bench.refused(2, "owner's manual", &["judge", text(&bad)]);
}
