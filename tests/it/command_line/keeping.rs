use stilltank::store::{NewVehicle, Store};

use super::{Bench, text};

/// A database with one visit.
fn with_visit(bench: &Bench) {
    let database = bench.path("stilltank/stilltank.db");
    let now = chrono::DateTime::UNIX_EPOCH;
    let mut store = Store::open(&database).unwrap();
    let vehicle = NewVehicle { name: "Blue estate".into(), ..NewVehicle::default() };
    let vehicle = store.add_vehicle(&vehicle, now).unwrap();
    store.start_visit(vehicle, now).unwrap();
}

#[test]
fn a_picture_goes_in_is_listed_and_goes_out() {
    let bench = Bench::new();
    with_visit(&bench);
    let picture = bench.path("valve.png");
    image::RgbImage::new(40, 30).save(&picture).unwrap();
    let add = ["photos", "--visit", "1", "--add", text(&picture), "--caption", "Old valve"];
    assert!(bench.done(&add).contains("Old valve"));
    let listed = || bench.json("photos", &["photos", "--visit", "1", "--json"]);
    let photo = listed()["photos"][0].clone();
    assert_eq!((&photo["state"], &photo["caption"]), (&"whole".into(), &"Old valve".into()));
    std::fs::write(photo["file"].as_str().unwrap(), b"another").unwrap();
    assert_eq!(listed()["photos"][0]["state"], "changed");
    std::fs::remove_file(photo["file"].as_str().unwrap()).unwrap();
    assert_eq!(listed()["photos"][0]["state"], "missing");
    assert!(bench.done(&["photos", "--visit", "1"]).contains("its file is missing"));
    bench.done(&["photos", "--visit", "1", "--remove", "1"]);
    assert_eq!(listed()["photos"].as_array().unwrap().len(), 0);
    bench.refused(2, "no photo with number 1", &["photos", "--visit", "1", "--remove", "1"]);
    let words = bench.write("words.jpg", "no picture");
    let add = ["photos", "--visit", "1", "--add", text(&words)];
    bench.refused(2, "no picture that can be kept", &add);
}

#[test]
fn a_copy_is_made_listed_and_put_in_place() {
    let bench = Bench::new();
    with_visit(&bench);
    bench.done(&["backup"]);
    let listed = bench.done(&["backup", "--list"]);
    let copy = listed.trim().rsplit_once(": ").unwrap().1.to_owned();
    bench.done(&["demo", "--fault", "none", "--seed", "2", "--headless"]);
    let vehicles =
        || bench.json("history", &["history", "--json"])["vehicles"].as_array().unwrap().len();
    assert_eq!(vehicles(), 2);
    bench.done(&["backup", "--restore", &copy]);
    assert_eq!(vehicles(), 1);
    assert!(bench.done(&["backup", "--list"]).contains("before a change"));
}

#[test]
fn fill_ups_and_customers_are_kept_and_found() {
    let bench = Bench::new();
    with_visit(&bench);
    let fill =
        ["fill-up", "--vehicle", "Blue estate", "--litres", "41,3", "--note", "to the click"];
    bench.done(&[&fill[..], &["--cost", "67,10", "--currency", "EUR"]].concat());
    bench.refused(2, "--currency", &[&fill[..], &["--cost", "67,10"]].concat());
    bench.refused(
        2,
        "no amount",
        &[&fill[..], &["--cost", "67,105", "--currency", "EUR"]].concat(),
    );
    bench.refused(2, "no amount", &["fill-up", "--vehicle", "1", "--litres", "lots"]);
    bench.refused(2, "No vehicle matches", &["fill-up", "--vehicle", "lorry"]);
    let whose = |name| ["customer", "--vehicle", "1", "--name", name, "--phone", "555 0100"];
    bench.done(&whose("A. Customer"));
    bench.done(&whose("A. Customer"));
    let store = Store::open(&bench.path("stilltank/stilltank.db")).unwrap();
    let id = store.list_vehicles("").unwrap()[0].id;
    let fill_ups = store.list_fill_ups(id).unwrap();
    assert_eq!((fill_ups.len(), fill_ups[0].1.litre), (1, Some("41.3".parse().unwrap())));
    let paid = &fill_ups[0].1;
    assert_eq!((paid.cost, paid.currency.as_str()), (Some("67.10".parse().unwrap()), "EUR"));
    assert_eq!(store.list_customers().unwrap().len(), 1, "one name is one customer");
    assert_eq!(store.list_vehicles("customer").unwrap().len(), 1, "found by whose it is");
    drop(store);
    bench.done(&["customer", "--vehicle", "1", "--name", ""]);
    let store = Store::open(&bench.path("stilltank/stilltank.db")).unwrap();
    assert!(store.customer_of(id).unwrap().is_none());
}

#[test]
fn recordings_are_judged_again_in_words() {
    let bench = Bench::new();
    bench.done(&["demo", "--fault", "purge_valve_leaking", "--seed", "3", "--headless"]);
    let run = bench.run(&["rejudge"]);
    assert!(run.data.contains("visit 1, ") && run.data.contains("Purge valve leaks"), "{run:?}");
    assert!(run.messages.contains("1 visits judged again, 0 differ"), "{run:?}");
    bench.refused(2, "no visit with number 9", &["rejudge", "--visit", "9"]);
}

#[test]
fn a_damaged_database_is_refused_and_salvaged_in_words() {
    let bench = Bench::new();
    with_visit(&bench);
    let database = bench.path("stilltank/stilltank.db");
    let mut bytes = std::fs::read(&database).unwrap();
    let middle = bytes.len() / 2;
    bytes[middle..middle + 4096].fill(0xA5);
    std::fs::write(&database, &bytes).unwrap();
    bench.refused(1, "stilltank salvage", &["history"]);
    let fresh = bench.path("fresh.db");
    let told = bench.done(&["salvage", text(&database), "--out", text(&fresh)]);
    assert!(told.contains("vehicles: ") && told.contains(" saved"), "{told}");
    bench.done(&["history", "--database", text(&fresh)]);
}
