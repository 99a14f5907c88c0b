use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::CustomSignal;
use crate::vehicle::{DecodeError, OwnSignalFlaw, Signal, hex_bytes};

const SENSOR: &str = r#"
[[signal]]
signal = "tank_sensor_v"
unit_address = "7E0"
service = "22"
identifier = "12AB"
length = 2
scale = 0.001
low = 0.0
high = 5.0
"#;

const VENT: &str = r#"
[[signal]]
signal = "vent_command_percent"
service = "09"
identifier = "0C"
length = 4
start = 1
bytes = 1
scale = 0.5
offset = -10.0
signed = true
rate_hz = 1.0
"#;

#[test]
fn a_file_says_what_to_ask_and_how_to_read_the_answer() {
    let signals = CustomSignal::read_all(&format!("{SENSOR}{VENT}")).unwrap();
    let [sensor, vent] = signals.as_slice() else { panic!("{signals:?}") };
    assert_eq!(sensor.signal, Signal::TankSensor);
    assert_eq!(sensor.unit_address.map(|address| address.0), Some(0x7E0));
    assert_eq!(sensor.request(), (0x22, vec![0x12, 0xAB]));
    assert_eq!(sensor.decode(&hex_bytes("62 12 AB 09 C4")), Ok(Some(2.5)));
    assert_eq!(sensor.rate_hz, 2.0);
    assert_eq!(vent.request(), (0x09, vec![0x0C]));
    // FE is −2 in two's complement: −2 · 0.5 − 10.
    assert_eq!(vent.decode(&hex_bytes("49 0C 00 FE 00 00")), Ok(Some(-11.0)));
    assert_eq!(vent.resolution(), 0.5);
}

#[test]
fn single_bits_are_picked_and_shown() {
    let picked = |bits: &str, bytes: &str| {
        let text = SENSOR.replace("scale = 0.001", &format!("scale = 2.0\n{bits}"));
        let text = text.replace("high = 5.0", "high = 99.0").replace("low = 0.0", "low = -99.0");
        CustomSignal::read_all(&text).unwrap()[0].pick(&hex_bytes(bytes)).unwrap()
    };
    // B4 is 1011 0100: bits 2 to 5 are 1101.
    let four = picked("bit = 2\nbits = 4", "62 12 AB 00 B4");
    assert_eq!(
        (four.number, four.bits, four.bytes.as_slice()),
        (0b1101, 4, [0x00, 0xB4].as_slice())
    );
    assert_eq!((four.value, four.unlimited), (Some(26.0), 26.0));
    // 1101 as two's complement of four bits is −3.
    assert_eq!(picked("bit = 2\nbits = 4\nsigned = true", "62 12 AB 00 B4").number, -3);
    // One bit of the first byte: 80 is its highest.
    assert_eq!(picked("bit = 15\nbits = 1", "62 12 AB 80 00").number, 1);
    assert_eq!(picked("bit = 4", "62 12 AB 12 34").number, 0x123);
    assert_eq!(picked("", "62 12 AB 12 34").value, None, "outside its limits");
}

#[test]
fn a_unit_is_named_as_it_is_asked_or_as_it_answers() {
    let answered = |address: &str| {
        let text = SENSOR.replace("7E0", address);
        CustomSignal::read_all(&text).unwrap()[0].answered_by()
    };
    assert_eq!((answered("7E0"), answered("7E8")), (Some(0x7E8), Some(0x7E8)));
    assert_eq!(answered("18DA10F1"), Some(0x18DA_F110));
    assert_eq!(answered("18DAF110"), Some(0x18DA_F110));
}

#[test]
fn what_is_written_reads_back() {
    let signals = CustomSignal::read_all(&format!("{SENSOR}{VENT}")).unwrap();
    assert_eq!(CustomSignal::read_all(&CustomSignal::write_all(&signals)), Ok(signals));
    assert_eq!(CustomSignal::read_all(""), Ok(vec![]));
}

#[test]
fn a_value_that_cannot_be_right_is_no_reading() {
    let sensor = CustomSignal::read_all(SENSOR).unwrap()[0];
    assert_eq!(sensor.decode(&hex_bytes("62 12 AB 13 88")), Ok(Some(5.0)));
    assert_eq!(sensor.decode(&hex_bytes("62 12 AB 13 89")), Ok(None));
}

#[test]
fn answers_that_do_not_fit_are_typed_errors() {
    let sensor = CustomSignal::read_all(SENSOR).unwrap()[0];
    let error = |bytes: &str| sensor.decode(&hex_bytes(bytes)).unwrap_err();
    assert_eq!(error(""), DecodeError::TooShort { service: 0x22, needed: 1, found: 0 });
    assert_eq!(error("7F 22 31"), DecodeError::WrongEcho { expected: 0x62, found: 0x7F });
    assert_eq!(error("62 12 AC 00 00"), DecodeError::WrongEcho { expected: 0xAB, found: 0xAC });
    assert_eq!(error("62 12 AB 00"), DecodeError::TooShort { service: 0x22, needed: 2, found: 1 });
    assert_eq!(
        error("62 12 AB 00 00 00"),
        DecodeError::TooLong { service: 0x22, expected: 2, found: 3 }
    );
}

#[test]
fn descriptions_that_make_no_sense_are_refused() {
    let why = |from: &str, to: &str| {
        assert!(SENSOR.contains(from));
        match CustomSignal::read_all(&SENSOR.replace(from, to)) {
            Err(DecodeError::OwnSignal { name: "tank_sensor_v", why }) => why,
            other => panic!("{other:?}"),
        }
    };
    // Services that write, clear or control are never asked.
    for service in ["04", "08", "21", "2E", "2F", "31", "3B", "10", "27", "FFF"] {
        let to = format!("service = \"{service}\"");
        assert_eq!(why("service = \"22\"", &to), OwnSignalFlaw::ServiceNotReading, "{service}");
    }
    assert_eq!(why("service = \"22\"", "service = \"01\""), OwnSignalFlaw::IdentifierTooLarge);
    assert_eq!(why("\"12AB\"", "\"12ABC\""), OwnSignalFlaw::IdentifierTooLarge);
    assert_eq!(why("length = 2", "length = 0"), OwnSignalFlaw::ValueLength);
    assert_eq!(why("length = 2", "length = 5"), OwnSignalFlaw::ValueLength);
    assert_eq!(why("length = 2", "length = 2\nstart = 1\nbytes = 2"), OwnSignalFlaw::ValueOutside);
    assert_eq!(why("length = 2", "length = 2\nbit = 16"), OwnSignalFlaw::BitsOutside);
    assert_eq!(why("length = 2", "length = 2\nbit = 9\nbits = 8"), OwnSignalFlaw::BitsOutside);
    assert_eq!(why("length = 2", "length = 2\nbits = 0"), OwnSignalFlaw::BitsOutside);
    assert_eq!(why("scale = 0.001", "scale = 0.0"), OwnSignalFlaw::NotANumber);
    assert_eq!(why("scale = 0.001", "scale = inf"), OwnSignalFlaw::NotANumber);
    assert_eq!(why("low = 0.0", "low = 6.0"), OwnSignalFlaw::LimitsReversed);
    let rest = "scale = 0.001\nrest_low = 2.7\nrest_high = 2.4";
    assert_eq!(why("scale = 0.001", rest), OwnSignalFlaw::LimitsReversed);
    assert_eq!(why("scale = 0.001", "scale = 0.001\nrate_hz = 0.0"), OwnSignalFlaw::Rate);
    assert!(matches!(
        CustomSignal::read_all(&format!("{SENSOR}{SENSOR}")),
        Err(DecodeError::OwnSignal { why: OwnSignalFlaw::Twice, .. })
    ));
    for (from, to) in [
        ("tank_sensor_v", "tank_colour"),
        ("\"12AB\"", "\"12XY\""),
        ("\"12AB\"", "\"+12\""),
        ("length = 2", "length = -2"),
        ("scale = 0.001", "scale = 0.001\nformula = \"A*2\""),
    ] {
        let text = SENSOR.replace(from, to);
        assert!(matches!(CustomSignal::read_all(&text), Err(DecodeError::SignalFile(_))), "{to}");
    }
}

#[test]
fn random_answers_never_panic_and_stay_inside_the_limits() {
    let mut random = ChaCha8Rng::seed_from_u64(0x22);
    let sensor = CustomSignal::read_all(SENSOR).unwrap()[0];
    for _ in 0..20_000 {
        let mut bytes = hex_bytes("62 12 AB 09 C4");
        for _ in 0..random.random_range(0..3) {
            let place = random.random_range(0..bytes.len());
            bytes[place] = random.random();
            bytes.truncate(random.random_range(1..=bytes.len()));
        }
        if let Ok(Some(value)) = sensor.decode(&bytes) {
            assert!((0.0..=5.0).contains(&value));
        }
    }
}
