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
