use std::io::{Read, Write};
use std::net::TcpListener;

use stilltank::store::Store;

use super::{Bench, text};

#[test]
fn wrong_words_end_with_two() {
    let bench = Bench::new();
    bench.refused(2, "flat_tyre", &["demo", "--fault", "flat_tyre"]);
    bench.refused(2, "serial:DEVICE", &["read", "--link", "usb:1"]);
    bench.refused(2, "tcp:192.168.0.10:35000", &["read", "--link", "tcp:somewhere"]);
    bench.refused(2, "html, pdf, csv or json", &["report", "--visit", "1", "--out", "a.doc"]);
    let fleet = |from, to, out| ["fleet", "--from", from, "--to", to, "--out", out];
    bench.refused(2, "html, pdf or csv", &fleet("2026-01-01", "2026-03-31", "a.json"));
    bench.refused(2, "2026-02-30", &fleet("2026-02-30", "2026-03-31", "a.csv"));
    bench.refused(2, "ends before it starts", &fleet("2026-03-01", "2026-02-01", "a.csv"));
    bench.refused(2, "Usage", &["polish"]);
    let both = ["--fault", "tank_sensor_slow", "--also", "tank_sensor_stuck"];
    let car = [&["virtual-car", "--listen", "127.0.0.1:0"], &both[..]].concat();
    bench.refused(2, "faults of one part", &car);
}

#[test]
fn without_a_display_the_app_says_what_to_do() {
    Bench::new().refused(1, "stilltank demo --headless", &[]);
}

#[test]
fn no_adapter_is_said_with_what_to_do() {
    let bench = Bench::new();
    // A port that was free a moment ago, and that nobody listens at any more.
    let port = TcpListener::bind("127.0.0.1:0").unwrap().local_addr().unwrap().port();
    let link = format!("tcp:127.0.0.1:{port}");
    bench.refused(1, "Check host and port", &["read", "--link", &link]);
    let out = bench.path("a.csv");
    let words = ["record", "--link", &link, "--seconds", "5", "--out", text(&out)];
    bench.refused(1, "Check host and port", &words);
}

#[test]
fn what_answers_but_is_no_adapter_is_said() {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let link = format!("tcp:{}", listener.local_addr().unwrap());
    let server = std::thread::spawn(move || {
        let (mut stream, _) = listener.accept().unwrap();
        let mut heard = [0; 64];
        // Another kind of server: it greets, and does not understand whatever it is told.
        while stream.write_all(b"500 syntax error, command unrecognised\r\n>").is_ok() {
            if !stream.read(&mut heard).is_ok_and(|count| count > 0) {
                break;
            }
        }
    });
    Bench::new().refused(1, "not as an OBD adapter does", &["read", "--link", &link]);
    server.join().unwrap();
}

#[test]
fn a_bad_recording_is_refused_whole_with_line_and_column() {
    let bench = Bench::new();
    let cases = [
        ("time_s,tank_pressure_pa\n0,1\n1,x1\n", "line 3, column \"tank_pressure_pa\""),
        ("seconds,tank_pressure_pa\n0,1\n", "no column is called \"time_s\""),
        ("time_s,tank_pressure_pa\n2,1\n1,1\n", "earlier than the row before"),
        ("time_s,colour\n0,red\n", "column map"),
        ("time_s,action\n0,sang\n", "is no action"),
        ("", "is empty"),
    ];
    for (content, needle) in cases {
        let path = bench.write("bad.csv", content);
        let run = bench.run(&["judge", text(&path)]);
        assert_eq!(run.status, Some(2), "{run:?}");
        assert!(run.messages.to_lowercase().contains(needle), "{needle}: {run:?}");
        assert!(run.data.is_empty(), "{run:?}");
    }
    bench.refused(1, "no such file", &["judge", "missing.csv"]);
}

#[test]
fn a_database_that_cannot_be_written_is_said() {
    let bench = Bench::new();
    let blocker = bench.write("file", "");
    let database = blocker.join("histories.db");
    bench.refused(1, "--database", &["history", "--database", text(&database)]);
}

#[test]
fn a_second_instance_is_refused_with_words() {
    let bench = Bench::new();
    let database = bench.path("a.db");
    let _first = Store::open(&database).unwrap();
    let words = ["history", "--database", text(&database)];
    bench.refused(1, "another instance of the program", &words);
}

#[test]
fn a_file_that_is_no_database_is_left_alone() {
    let bench = Bench::new();
    let path = bench.write("notes.txt", "Not a database, and nobody's business.\n");
    let run = bench.run(&["history", "--database", text(&path)]);
    assert_eq!(run.status, Some(1), "{run:?}");
    assert!(run.messages.contains("left untouched"), "{run:?}");
    let kept = std::fs::read_to_string(&path).unwrap();
    assert_eq!(kept, "Not a database, and nobody's business.\n");
}

#[test]
fn what_is_not_in_the_database_is_said() {
    let bench = Bench::new();
    bench.refused(2, "stilltank history", &["report", "--visit", "7", "--out", "a.html"]);
    bench.refused(2, "stilltank history", &["history", "--vehicle", "blue van"]);
    bench.refused(2, "ending", &["export", "--out", "a.doc"]);
    let bundle = bench.write("a.stilltank", "nothing of ours");
    bench.refused(2, "no intact export", &["import", text(&bundle)]);
}
