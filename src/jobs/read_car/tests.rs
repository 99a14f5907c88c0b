use super::read_everything;
use std::collections::VecDeque;

use crate::jobs::connect;
use crate::jobs::source::{CarLink, Source};
use crate::link::{Link, LinkError, Transport};
use crate::units::Instant;
use crate::vehicle::{Fault, Monitor};
use crate::virtual_car::{CarParameters, Pace};
use crate::wording::Language;

/// On the car's own clock: answers of 5 to 30 ms behind adapters of every kind drawn.
#[test]
fn everything_is_read_from_two_units_within_eight_seconds() {
    let mut with_two = 0;
    let mut with_counters = 0;
    for seed in 0..40 {
        let parameters = CarParameters::draw(Some(Fault::PurgeValveLeaking), None, seed);
        let vin = parameters.vin().to_owned();
        let source = connect::virtual_car(parameters, seed, Pace::Unbounded, &mut |_| {});
        let Ok(Source::Car(mut car)) = source else { panic!("seed {seed}: no car") };
        let before = car.link.now();
        let (report, readiness) =
            read_everything(&mut car, Language::English, &mut |_| {}).unwrap();
        let took = car.link.now().seconds_since(before);
        assert_eq!(report.vin.as_deref(), Some(vin.as_str()), "seed {seed}");
        let watched = readiness.and_then(|it| it.complete(Monitor::Evaporative));
        assert!(watched.is_some() && !report.units.is_empty(), "seed {seed}");
        with_counters += usize::from(report.in_use.is_some_and(|it| it.opportunities > 0));
        if report.units.len() == 2 {
            with_two += 1;
            assert!(took <= 8.0, "seed {seed}: {took:.1} s");
        }
    }
    assert!(with_two >= 5 && with_counters >= 30, "{with_two} {with_counters}");
}

/// A car on ISO 9141-2 behind an adapter that answers at once.
struct OlderBus {
    now: Instant,
    line: Vec<u8>,
    due: VecDeque<Vec<u8>>,
}

/// Requests and what follows the header of their answers, as SAE J1979 has them before CAN, from
/// memory: monitor results with one limit, the limit's kind in the highest bit of the second byte.
const OLDER_ANSWERS: [(&str, &[&str]); 7] = [
    ("0100", &["41 00 80 00 00 00"]),
    ("0101", &["41 01 00 07 65 04"]),
    ("03", &["43 04 55 00 00 00 00"]),
    // Tests 01, 04 and 05.
    ("0600", &["46 00 FF 98 00 00 00"]),
    ("0601", &["46 01 01 00 11 00 10", "46 01 82 00 20 00 10"]),
    ("0604", &["46 04 03 00 07 00 09"]),
    ("0605", &["46 05 01 00 00 00 00"]),
];

impl OlderBus {
    fn answer(&self) -> String {
        let line: String = String::from_utf8_lossy(&self.line).trim().replace(' ', "");
        match line.as_str() {
            "ATDPN" => "A3".to_owned(),
            "ATRV" => "12.6V".to_owned(),
            it if it.starts_with("AT") => "OK".to_owned(),
            // An odd last digit is the number of answers expected.
            it => {
                let asked = &it[..it.len() / 2 * 2];
                let known = OLDER_ANSWERS.iter().find(|(request, _)| *request == asked);
                let lines = known.map(|(_, answers)| answers.iter().map(|it| framed(it)).collect());
                lines.map_or("NO DATA".to_owned(), |lines: Vec<String>| lines.join("\r"))
            }
        }
    }
}

/// With the header of a control unit's answer and the sum of all bytes (ISO 9141-2).
fn framed(payload: &str) -> String {
    let bytes = bytes(&format!("48 6B 10 {payload}"));
    let sum = bytes.iter().fold(0_u8, |sum, byte| sum.wrapping_add(*byte));
    bytes.iter().chain([&sum]).map(|byte| format!("{byte:02X}")).collect()
}

fn bytes(text: &str) -> Vec<u8> {
    text.split(' ').map(|byte| u8::from_str_radix(byte, 16).unwrap()).collect()
}

impl Transport for OlderBus {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.line.extend_from_slice(bytes);
        if self.line.ends_with(b"\r") {
            self.due.push_back(format!("{}\r\r>", self.answer()).into_bytes());
            self.line.clear();
        }
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        match self.due.pop_front() {
            Some(bytes) => {
                into.extend_from_slice(&bytes);
                Ok(bytes.len())
            }
            None => {
                self.now = self.now.max(deadline);
                Ok(0)
            }
        }
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        Ok(())
    }

    fn is_checked(&self) -> bool {
        true
    }
}

#[test]
fn monitor_results_of_buses_before_can_are_read_in_counts() {
    let bus = OlderBus { now: Instant::ZERO, line: Vec::new(), due: VecDeque::new() };
    let link = Link::open(Box::new(bus), &mut |_| {}).unwrap();
    let mut car = CarLink::new(link, None, &[]).unwrap();
    let (report, readiness) = read_everything(&mut car, Language::English, &mut |_| {}).unwrap();
    assert!(readiness.is_some() && report.codes[0].code == "P0455", "{report:?}");
    let results: Vec<_> = report
        .monitors
        .iter()
        .map(|it| (it.name.as_str(), it.value, it.low, it.high, it.passed))
        .collect();
    let least = f64::from(u16::MAX);
    assert_eq!(
        results,
        [
            ("Maker's test 01, part 01, in counts", 17.0, 0.0, 16.0, false),
            ("Maker's test 01, part 02, in counts", 32.0, 16.0, least, true),
            ("Maker's test 04, part 03, in counts", 7.0, 0.0, 9.0, true),
        ]
    );
}

#[test]
fn the_parts_of_a_reading_come_in_order_with_their_shares() {
    let parameters = CarParameters::draw(None, None, 3);
    let source = connect::virtual_car(parameters, 3, Pace::Unbounded, &mut |_| {}).unwrap();
    let Source::Car(mut car) = source else { panic!("no car") };
    let mut shares = Vec::new();
    read_everything(&mut car, Language::English, &mut |part| shares.push(part.share_before()))
        .unwrap();
    assert_eq!(shares.len(), 5);
    assert!(shares.is_sorted() && shares[4] < super::ReadPart::Values.share_before());
}
