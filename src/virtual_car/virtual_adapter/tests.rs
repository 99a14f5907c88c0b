use super::super::car::Car;
use super::super::population::CarParameters;
use crate::vehicle::Fault;
use crate::virtual_car::control_unit::{Several, TankForm};
use crate::virtual_car::person::{Act, seconds};

/// A conversation with a car's adapter, each line waited for until its prompt.
struct Talk {
    car: Car,
    took: f64,
}

impl Talk {
    fn with(change: impl Fn(&mut CarParameters)) -> Self {
        let mut parameters = CarParameters::draw(Some(Fault::PurgeValveLeaking), None, 1);
        parameters.unit.second_unit = true;
        parameters.unit.long_identifiers = false;
        parameters.unit.several = Several::All;
        parameters.unit.tank = TankForm::Narrow;
        parameters.unit.leak_test = Some(200.0);
        parameters.unit.user_defined = true;
        parameters.adapter.filler = 0x00;
        parameters.adapter.patience = false;
        parameters.adapter.counts_frames = false;
        change(&mut parameters);
        Self { car: Car::new(parameters, 1), took: 0.0 }
    }

    fn new() -> Self {
        Self::with(|_| {})
    }

    fn say(&mut self, line: &str) -> String {
        let start = self.car.now();
        self.car.adapter().receive(format!("{line}\r").as_bytes(), start);
        let mut heard = Vec::new();
        while !heard.ends_with(b">") {
            let Some(next) = self.car.next_event() else { break };
            self.car.advance(next);
            let now = self.car.now();
            while let Some(bytes) = self.car.adapter().poll_output(now) {
                heard.extend(bytes);
            }
        }
        self.took = self.car.now().seconds_since(start);
        String::from_utf8_lossy(&heard).into_owned()
    }

    fn ready() -> Self {
        let mut talk = Self::new();
        for line in ["ATZ", "ATE0", "ATL0", "ATS0", "0100"] {
            talk.say(line);
        }
        talk
    }

    fn person_does(&mut self, act: Act, then_seconds: f64) {
        let now = self.car.now();
        self.car.person().hear(act, now);
        self.car.advance(now + seconds(then_seconds));
    }
}

#[test]
fn adapter_echoes_until_told_otherwise_and_introduces_itself() {
    let mut talk = Talk::new();
    assert_eq!(talk.say("ATI"), "ATI\rVIRTUAL OBD 1.0\r\r>");
    assert_eq!(talk.say("ATE0"), "ATE0\rOK\r\r>");
    assert_eq!(talk.say("ATZ"), "\r\rVIRTUAL OBD 1.0\r\r>");
    assert_eq!(talk.say("AT E0"), "AT E0\rOK\r\r>");
    assert_eq!(talk.say("ATL1"), "OK\r\n\r\n>");
    assert_eq!(talk.say("ATL0"), "OK\r\r>");
    assert_eq!(talk.say("ATRV"), "12.5V\r\r>");
    assert_eq!(talk.say("ATXYZ"), "?\r\r>");
    assert_eq!(talk.say("hello"), "?\r\r>");
}

/// Common practice, no source: programs may wait for it before they send the carriage return.
#[test]
fn bytes_are_repeated_as_they_come() {
    let mut talk = Talk::new();
    let start = talk.car.now();
    talk.car.adapter().receive(b"ATI", start);
    let waited = start + seconds(5.0);
    talk.car.advance(waited);
    let mut heard = Vec::new();
    while let Some(bytes) = talk.car.adapter().poll_output(waited) {
        heard.extend(bytes);
    }
    assert_eq!(heard, b"ATI");
    assert_eq!(talk.say(""), "\rVIRTUAL OBD 1.0\r\r>");
}

#[test]
fn first_request_searches_the_protocol() {
    let mut talk = Talk::new();
    for line in ["ATE0", "ATS0"] {
        talk.say(line);
    }
    assert_eq!(talk.say("ATDPN"), "A0\r\r>");
    let answer = talk.say("0100");
    assert!(answer.starts_with("SEARCHING...\r4100"), "{answer:?}");
    assert_eq!(answer.matches("4100").count(), 2, "both units answer: {answer:?}");
    assert!(talk.took > 0.4);
    assert_eq!(talk.say("ATDPN"), "A6\r\r>");
    assert!(!talk.say("0100").contains("SEARCHING"));
    assert!(talk.took < 0.5);
}

#[test]
fn key_off_is_noticed() {
    let mut talk = Talk::with(|it| it.unit.key_on_at_start = false);
    talk.say("ATE0");
    assert_eq!(talk.say("0100"), "SEARCHING...\rUNABLE TO CONNECT\r\r>");
    talk.person_does(Act::KeyOn, 5.0);
    assert!(talk.say("0100").contains("41 00"));
    talk.person_does(Act::KeyOff, 5.0);
    assert_eq!(talk.say("010C"), "UNABLE TO CONNECT\r\r>");
}

#[test]
fn an_expected_number_of_answers_ends_the_waiting() {
    let mut talk = Talk::ready();
    assert_eq!(talk.say("010C"), "410C0000\r\r>");
    let slow = talk.took;
    assert_eq!(talk.say("010C1"), "410C0000\r\r>");
    assert!(talk.took < slow - 0.02, "{} against {slow}", talk.took);
}

#[test]
fn expected_answers_are_whole_ones_or_frames() {
    for (counts_frames, lines) in [(false, 4), (true, 2)] {
        let mut talk = Talk::with(|it| it.adapter.counts_frames = counts_frames);
        for line in ["ATE0", "ATS0", "0100"] {
            talk.say(line);
        }
        let answer = talk.say("09021");
        assert_eq!(answer.trim_end_matches(['\r', '>']).split('\r').count(), lines, "{answer:?}");
    }
}

#[test]
fn unknown_parameters_are_silence() {
    let mut talk = Talk::ready();
    assert_eq!(talk.say("01EE"), "NO DATA\r\r>");
    talk.say("ATST10");
    let long = talk.took;
    talk.say("01EE");
    assert!(talk.took < 0.3 && talk.took > long);
}

#[test]
fn headers_show_who_answers_with_all_bytes() {
    let mut talk = Talk::ready();
    talk.say("ATH1");
    assert_eq!(talk.say("010C"), "7E804410C0000000000\r\r>");
    let both = talk.say("03");
    assert!(both.contains("7E8") && both.contains("7E90243000000000000"), "{both:?}");
    talk.say("ATCRA7E9");
    assert_eq!(talk.say("03"), "7E90243000000000000\r\r>");
    talk.say("ATCRA");
    talk.say("ATSH7E1");
    assert_eq!(talk.say("010C"), "7E9037F013100000000\r\r>");
    talk.say("ATS1");
    assert_eq!(talk.say("0A"), "7E9 02 4A 00 00 00 00 00 00 \r\r>");
}

#[test]
fn long_answers_come_in_numbered_lines() {
    let mut talk = Talk::ready();
    let vin = talk.say("0902");
    let lines: Vec<&str> = vin.trim_end_matches(['\r', '>']).split('\r').collect();
    assert_eq!(lines.len(), 4, "{vin:?}");
    assert_eq!(lines[0], "014");
    assert!(lines[1].starts_with("0:490201") && lines[2].starts_with("1:"), "{vin:?}");
    let several = talk.say("010C0D052E2F32");
    assert!(several.starts_with("00F\r0:410C0000"), "{several:?}");
    talk.say("ATCAF0");
    assert_eq!(talk.say("02010C"), "04410C0000000000\r\r>");
}

#[test]
fn long_identifiers_are_written_in_full() {
    let mut talk = Talk::with(|it| it.unit.long_identifiers = true);
    for line in ["ATE0", "ATS0", "ATH1", "ATSP7"] {
        talk.say(line);
    }
    assert_eq!(talk.say("010C"), "18DAF11004410C0000000000\r\r>");
    talk.say("ATSHDA18F1");
    assert_eq!(talk.say("0A"), "18DAF118024A000000000000\r\r>");
    talk.say("ATSP6");
    assert_eq!(talk.say("010C"), "NO DATA\r\r>");
}

#[test]
fn a_byte_in_between_stops_the_request() {
    let mut talk = Talk::ready();
    let start = talk.car.now();
    talk.car.adapter().receive(b"01EE\r", start);
    talk.car.advance(start + seconds(0.1));
    assert_eq!(talk.say(""), "STOPPED\r\r>");
    assert_eq!(talk.say("ATRV"), "12.5V\r\r>");
}

#[test]
fn a_slow_unit_asks_for_patience_first() {
    let mut talk = Talk::with(|it| it.adapter.patience = true);
    for line in ["ATE0", "ATS0", "0100"] {
        talk.say(line);
    }
    let answer = talk.say("0904");
    assert!(answer.starts_with("7F0978\r"), "{answer:?}");
    assert!(answer.contains("0:490401"), "{answer:?}");
}

#[test]
fn leak_test_request_shuts_the_vent_for_a_while() {
    let mut talk = Talk::ready();
    assert_eq!(talk.say("222202"), "62220200\r\r>");
    assert_eq!(talk.say("08010000000000"), "48010000000000\r\r>");
    assert_eq!(talk.say("222202"), "622202FF\r\r>");
    let until = talk.car.now() + seconds(201.0);
    talk.car.advance(until);
    assert_eq!(talk.say("222202"), "62220200\r\r>");
}
