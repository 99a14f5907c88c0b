use super::{Bench, text};

#[test]
fn an_empty_database_says_so() {
    let bench = Bench::new();
    let run = bench.run(&["history"]);
    assert_eq!((run.status, run.data.as_str()), (Some(0), ""));
    assert!(run.messages.contains("no vehicle yet"), "{run:?}");
    assert!(bench.path("stilltank/stilltank.db").exists(), "the data live in the data folder");
}

#[test]
fn histories_move_to_another_device_and_merge_once() {
    let here = Bench::new();
    here.done(&["demo", "--fault", "tank_sensor_offset", "--seed", "3", "--headless"]);
    let bundle = here.path("histories.stilltank");
    here.done(&["export", "--out", text(&bundle)]);
    let there = Bench::new();
    there.done(&["import", text(&bundle)]);
    there.done(&["import", text(&bundle)]);
    let visits = |bench: &Bench| {
        let history = bench.json("history", &["history", "--json"]);
        history["vehicles"][0]["visits"].clone()
    };
    assert_eq!(visits(&there).as_array().unwrap().len(), 1);
    assert_eq!(visits(&there)[0]["verdict"], visits(&here)[0]["verdict"]);
    assert_eq!(visits(&there)[0]["started"], visits(&here)[0]["started"]);
}

#[test]
fn one_vehicle_is_found_by_name_vin_or_number() {
    let bench = Bench::new();
    for seed in ["4", "5"] {
        bench.done(&["demo", "--fault", "purge_valve_leaking", "--seed", seed, "--headless"]);
    }
    let all = bench.json("history", &["history", "--json"]);
    let vehicles = all["vehicles"].as_array().unwrap();
    assert_eq!(vehicles.len(), 2);
    for vehicle in vehicles {
        let number = vehicle["id"].to_string();
        for words in [vehicle["name"].as_str().unwrap(), vehicle["vin"].as_str().unwrap(), &number]
        {
            let one = bench.json("history", &["history", "--vehicle", words, "--json"]);
            assert_eq!(one["vehicles"].as_array().unwrap().len(), 1, "{words}");
            assert_eq!(one["vehicles"][0]["id"], vehicle["id"], "{words}");
        }
    }
    bench.refused(2, "2 vehicles match", &["history", "--vehicle", "virtual car"]);
}

#[test]
fn a_later_visit_is_laid_over_an_earlier_one_as_words_and_as_json() {
    let bench = Bench::new();
    for _ in 0..2 {
        bench.done(&["demo", "--fault", "purge_valve_leaking", "--seed", "4", "--headless"]);
    }
    let words = bench.done(&["compare", "--visit", "2"]);
    assert!(words.contains("visit 2") && words.contains("Repair proven."), "{words}");
    let value = bench.json("compare", &["compare", "--visit", "2", "--json"]);
    assert_eq!((&value["schema"], &value["end"]), (&1.into(), &"proven".into()));
    assert_eq!((&value["earlier"]["id"], &value["later"]["id"]), (&1.into(), &2.into()));
    assert_eq!(value["fault"], "purge_valve_leaking");
    let summary = value["summary"].as_str().unwrap();
    assert!(words.contains(summary), "{summary} in: {words}");
    let numbers = value["numbers"].as_array().unwrap();
    let change = numbers.iter().find(|it| it["earlier"]["name"] == "idle_change").unwrap();
    assert_eq!((&change["check"], &change["outcome"]), (&"idle_zero".into(), &"pass".into()));
    assert!(change["earlier"]["high"].as_f64() < Some(-40.0), "{change}");
    assert!(change["later"]["low"].as_f64() > Some(-40.0), "{change}");
    // The demo looks at the shut valve from the engine's start before the repair, and from the
    // throttle's opening after it.
    let first = &value["traces"][0];
    let laid = (&first["check"], &first["later_check"]);
    assert_eq!(laid, (&"idle_zero".into(), &"throttle_follow".into()));
    assert!(first["limit_pa"].as_f64() > Some(0.0), "{first}");
    for trace in value["traces"].as_array().unwrap() {
        for visit in ["earlier", "later"] {
            let length = |name: &str| trace[visit][name].as_array().unwrap().len();
            assert_eq!(length("time_s"), length("tank_pressure_pa"), "{trace}");
        }
    }
    bench.refused(1, "earlier", &["compare", "--visit", "1", "--json"]);
}
