use super::Bench;

#[test]
fn an_adapter_is_remembered_with_its_stream_and_forgotten() {
    let bench = Bench::new();
    let link = "ble:AA:BB:CC:00:00:01#aa01/aa03";
    let said = bench.done(&["adapters", "--remember", link, "--name", "Lab"]);
    assert_eq!(said.trim(), "ble:AA:BB:CC:00:00:01#aa01/aa03  Lab, remembered");
    let tcp = bench.done(&["adapters", "--remember", "tcp:127.0.0.1:35000"]);
    assert!(tcp.contains("tcp:127.0.0.1:35000"), "{tcp}");
    let json = bench.done(&["adapters", "--forget", "tcp:127.0.0.1:35000", "--json"]);
    let list: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(list["adapters"].as_array().unwrap().len(), 1);
    assert_eq!(list["adapters"][0]["stream"], "aa01/aa03");
    let run = bench.run(&["adapters", "--forget", "ble:AA:BB:CC:00:00:01"]);
    assert_eq!((run.status, run.data.as_str()), (Some(0), ""));
    assert!(run.messages.contains("No adapter"), "{run:?}");
}

#[test]
fn only_wireless_adapters_have_streams_to_choose_from() {
    let bench = Bench::new();
    bench.refused(2, "Bluetooth LE", &["adapters", "--streams", "tcp:127.0.0.1:35000"]);
    bench.refused(2, "no adapter", &["adapters", "--remember", "virtual"]);
}
