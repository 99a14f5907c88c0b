use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};

use super::Bench;

/// The virtual car in a process of its own, until this goes out of scope.
struct Car {
    process: Child,
    link: String,
}

impl Car {
    fn start(words: &[&str]) -> Self {
        let mut process = Command::new(env!("CARGO_BIN_EXE_stilltank"))
            .args(["virtual-car", "--listen", "127.0.0.1:0"])
            .args(words)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let mut link = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut link).unwrap();
        Self { process, link: link.trim().to_owned() }
    }
}

impl Drop for Car {
    fn drop(&mut self) {
        self.process.kill().unwrap();
        self.process.wait().unwrap();
    }
}

#[test]
fn a_car_in_another_process_tells_the_same_as_one_in_this() {
    let car = Car::start(&["--fault", "purge_valve_leaking", "--seed", "7"]);
    assert!(car.link.starts_with("tcp:127.0.0.1:"), "{}", car.link);
    let bench = Bench::new();
    let there = bench.json("read", &["read", "--link", &car.link, "--json"]);
    let here = bench.json("read", &["read", "--link", "virtual:purge_valve_leaking:7", "--json"]);
    for field in ["vin", "codes", "units", "signals"] {
        assert_eq!(there[field], here[field], "{field}");
    }
    assert!(there["vin"].is_string());
    // One client after the other, as after a loss.
    let again = bench.json("read", &["read", "--link", &car.link, "--json"]);
    assert_eq!(again["vin"], there["vin"]);
}
