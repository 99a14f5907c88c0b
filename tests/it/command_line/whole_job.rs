use std::sync::mpsc;

use stilltank::jobs::{Event, TOOL_COST, TOOL_CURRENCY, Workshop};
use stilltank::store::{NewVehicle, RepairEntry, Store};
use stilltank::vehicle::{Fault, Signal};
use stilltank::wording::Style;

use super::{Bench, text};

#[test]
fn the_demo_does_the_whole_job() {
    let bench = Bench::new();
    let run = bench.run(&["demo", "--fault", "purge_valve_leaking", "--seed", "3", "--headless"]);
    assert_eq!(run.status, Some(0), "{run:?}");
    assert!(run.data.contains("purge valve"), "{run:?}");
    let report = run.data.lines().find_map(|line| line.strip_prefix("Report: ")).unwrap();
    let page = std::fs::read_to_string(report).unwrap();
    assert!(page.contains("virtual"), "a virtual visit is marked as one");
    let history = bench.json("history", &["history", "--json"]);
    let vehicle = &history["vehicles"][0];
    assert_eq!(vehicle["is_virtual"], true);
    let visit = &vehicle["visits"][0];
    assert_eq!(visit["verdict"]["fault"], "purge_valve_leaking");
    assert_eq!(visit["repair"]["total"], "78.50");
    // What the invented prices save: 120.00 of a shop less 15.00 of one's own time.
    assert_eq!(visit["repair"]["saved"], "105.00");
    assert_eq!(visit["guessing"]["parts"].as_array().unwrap().len(), 4);
    let average: f64 = visit["guessing"]["average"].as_str().unwrap().parse().unwrap();
    assert!((14.9..=157.4).contains(&average), "between the cheapest part and all four: {average}");
    assert_eq!(history["tool"], serde_json::Value::Null);
}

#[test]
fn what_the_adapter_cost_is_held_against_what_diagnoses_saved() {
    let bench = Bench::new();
    let database = bench.path("garage.db");
    let now = chrono::DateTime::UNIX_EPOCH;
    let mut store = Store::open(&database).unwrap();
    store.set_setting(TOOL_COST, "49.90").unwrap();
    store.set_setting(TOOL_CURRENCY, "EUR").unwrap();
    let vehicle = store.add_vehicle(&NewVehicle::default(), now).unwrap();
    let visit = store.start_visit(vehicle, now).unwrap();
    let repair = RepairEntry {
        currency: "EUR".to_owned(),
        shop_diagnosis: Some("30.00".parse().unwrap()),
        ..RepairEntry::default()
    };
    store.add_repair(visit, &repair, now).unwrap();
    drop(store);
    let words = ["history", "--json", "--database", text(&database)];
    let tool = bench.json("history", &words)["tool"].clone();
    assert_eq!((&tool["saved"], &tool["left"]), (&"30.00".into(), &"19.90".into()));
    let told = bench.done(&["history", "--database", text(&database)]);
    assert!(told.contains("30.00 of 49.90 EUR saved back over 1 repairs, 19.90 to go"), "{told}");
    for (name, wanted) in [("a.html", "19.90"), ("a.json", "\"left\": \"19.90\"")] {
        let path = bench.path(name);
        let words = ["report", "--visit", "1", "--out", text(&path), "--database", text(&database)];
        bench.done(&words);
        assert!(std::fs::read_to_string(&path).unwrap().contains(wanted), "{name}");
        bench.done(&[&words[..], &["--private"]].concat());
        assert!(!std::fs::read_to_string(&path).unwrap().contains(wanted), "{name}");
    }
}

#[test]
fn the_demo_without_a_display_goes_to_the_terminal() {
    let run = Bench::new().run(&["demo", "--fault", "none", "--seed", "2"]);
    assert_eq!(run.status, Some(0), "{run:?}");
    assert!(run.data.contains("Report: "), "{run:?}");
}

#[test]
fn a_visit_becomes_a_document_in_every_format() {
    let bench = Bench::new();
    bench.done(&["demo", "--fault", "vent_path_restricted", "--seed", "3", "--headless"]);
    for (name, start) in [
        ("a.html", "<!DOCTYPE html>"),
        ("a.pdf", "%PDF-"),
        ("a.csv", "section,name,outcome"),
        ("a.json", "{"),
    ] {
        let path = bench.path(name);
        bench.done(&["report", "--visit", "1", "--out", text(&path)]);
        let bytes = std::fs::read(&path).unwrap();
        assert!(bytes.starts_with(start.as_bytes()), "{name}");
    }
}

#[test]
fn a_report_of_a_closed_visit_draws_its_rails_and_keeps_the_answer_out_of_the_address() {
    let bench = Bench::new();
    bench.done(&["demo", "--fault", "purge_valve_leaking", "--seed", "1", "--headless"]);
    let path = bench.path("a.html");
    bench.done(&["report", "--visit", "1", "--out", text(&path)]);
    let page = std::fs::read_to_string(&path).unwrap();
    assert!(page.contains("Between the two rails it counts as still"), "no check shows its rails");
    assert!(page.contains("diagnostic socket: virtual car."), "the adapter is not named");
    assert!(!page.contains("virtual:"), "the address names the fault");
    // Another device shows the same.
    let bundle = bench.path("a.stilltank");
    bench.done(&["export", "--out", text(&bundle)]);
    let there = Bench::new();
    there.done(&["import", text(&bundle)]);
    let copy = there.path("a.html");
    there.done(&["report", "--visit", "1", "--out", text(&copy)]);
    let rails = |page: &str| page.matches("Between the two rails").count();
    assert_eq!(rails(&std::fs::read_to_string(copy).unwrap()), rails(&page));
}

#[test]
fn a_fleet_becomes_one_document() {
    let bench = Bench::new();
    for (fault, seed) in [("purge_valve_leaking", "1"), ("none", "2")] {
        bench.done(&["demo", "--fault", fault, "--seed", seed, "--headless"]);
    }
    let fleet = |from: &str, to: &str, name: &str| {
        let path = bench.path(name);
        bench.done(&["fleet", "--from", from, "--to", to, "--out", text(&path)]);
        std::fs::read(&path).unwrap()
    };
    let page = String::from_utf8(fleet("2020-01-01", "2099-12-31", "a.html")).unwrap();
    assert!(page.contains("Virtual car 1 (virtual)"), "{page}");
    assert!(page.contains("Repairs, EUR"), "{page}");
    assert!(fleet("2020-01-01", "2099-12-31", "a.pdf").starts_with(b"%PDF-"));
    let rows = String::from_utf8(fleet("2020-01-01", "2099-12-31", "a.csv")).unwrap();
    assert!(rows.contains(",fault_found,purge_valve_leaking,"), "{rows}");
    assert!(rows.contains(",78.50,EUR,"), "{rows}");
    let nobody = String::from_utf8(fleet("2020-01-01", "2020-12-31", "b.html")).unwrap();
    assert!(nobody.contains("No vehicle in this period."));
}

/// The job ends with the proof: whatever was replaced, what failed before now passes. The part is replaced
/// with the engine off, whose last speed still stands in the recording.
#[test]
fn every_repair_ends_with_a_proof() {
    for fault in Fault::ALL {
        let bench = Bench::new();
        bench.done(&["demo", "--fault", fault.name(), "--seed", "2", "--headless"]);
        let out = bench.path("visit.json");
        bench.done(&["report", "--visit", "1", "--out", text(&out)]);
        let visit: serde_json::Value =
            serde_json::from_slice(&std::fs::read(&out).unwrap()).unwrap();
        let checks = visit["checks"].as_array().unwrap();
        let proof = checks.iter().find(|check| check["check"] == "repair_proof");
        let proof = proof.unwrap_or_else(|| panic!("no proof for {}: {visit}", fault.name()));
        assert_eq!(proof["outcome"], "pass", "{}: {proof}", fault.name());
    }
}

#[test]
fn an_exported_recording_judges_like_its_visit() {
    let bench = Bench::new();
    bench.done(&["demo", "--fault", "no_purge_flow", "--seed", "3", "--headless"]);
    let folder = bench.path("out");
    let files = bench.done(&["export", "--out", text(&folder)]);
    let recording = files.lines().find(|file| file.ends_with("recording-1.csv")).unwrap();
    let judgement = bench.json("judge", &["judge", recording, "--json"]);
    let history = bench.json("history", &["history", "--json"]);
    let visit = &history["vehicles"][0]["visits"][0];
    assert_eq!(judgement["verdict"]["fault"], visit["verdict"]["fault"]);
    assert_eq!(judgement["verdict"]["probability"], visit["verdict"]["probability"]);
}

#[test]
fn what_a_check_recorded_is_on_the_disk_when_it_ends() {
    let bench = Bench::new();
    let database = bench.path("a.db");
    let (sender, events) = mpsc::channel();
    let mut workshop = Workshop::open(&database, Style::default(), sender).unwrap();
    workshop.play_demo(Some(Fault::VentPathRestricted), 3, None).unwrap();
    let mut samples = 0;
    let ended = loop {
        workshop.turn();
        let ended = events.try_iter().any(|event| {
            if let Event::Samples(batch) = &event {
                let tank = batch.samples.iter().filter(|it| it.0 == Signal::TankPressure);
                samples += tank.count();
            }
            matches!(event, Event::CheckEnded(_))
        });
        if ended || !workshop.demo_is_under_way() {
            break ended;
        }
    };
    assert!(ended, "a check ended");
    // The program is cut off here: what lies on the disk is all there is.
    let copy = bench.path("copy.db");
    for ending in ["", "-wal"] {
        let from = format!("{}{ending}", text(&database));
        if std::fs::exists(&from).unwrap() {
            std::fs::copy(from, format!("{}{ending}", text(&copy))).unwrap();
        }
    }
    let store = Store::open(&copy).unwrap();
    let visit = store.open_visits().unwrap()[0];
    let recording = store.load_recording(visit).unwrap();
    assert_eq!(recording.series(Signal::TankPressure).unwrap().len(), samples);
    assert!(!store.verdicts(visit).unwrap().is_empty());
}
