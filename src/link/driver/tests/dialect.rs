use super::practice_adapter::{Digit, Practice, PracticeAdapter, PracticeUnit, engine};
use super::{Link, link_to};
use crate::link::{
    BusTrouble, Consent, Found, LinkError, Protocol, Request, SetupStep, Transport, UnitId,
};
use crate::units::Instant;

fn identification() -> Vec<u8> {
    [&[0x49, 0x02, 0x01][..], b"9ZZAB12C0R1000001"].concat()
}

#[test]
fn opening_goes_through_its_steps_and_notes_what_it_finds() {
    let mut steps = Vec::new();
    let adapter = Box::new(PracticeAdapter::new(Practice::default()));
    let link = Link::open(adapter, &mut |step| steps.push(step)).unwrap();
    assert_eq!(
        steps,
        [
            SetupStep::WakingAdapter,
            SetupStep::Configuring,
            SetupStep::FindingProtocol,
            SetupStep::Connected
        ]
    );
    let profile = link.profile();
    assert_eq!(profile.identity.as_deref(), Some("PRACTICE 1.0"));
    assert_eq!(profile.supply_volts, Some(12.6));
    assert_eq!(profile.protocol, Some(Protocol::Can11));
    assert_eq!(profile.protocol_number, Some(6));
    assert_eq!(profile.capabilities.headers, Found::Yes);
    assert!(!link.is_doubtful());
}

#[test]
fn every_bus_gives_the_same_answers() {
    let rows = [
        (Protocol::Can11, 0x7E8),
        (Protocol::Can29, 0x18DA_F110),
        (Protocol::Iso9141, 0x10),
        (Protocol::Iso14230, 0x10),
    ];
    for (protocol, id) in rows {
        let units = vec![PracticeUnit { id, answer: engine }];
        let mut link = link_to(Practice { protocol, units, ..Practice::default() }).unwrap();
        assert_eq!(link.profile().protocol, Some(protocol));
        let answers = link.request(&Request::new(0x03, &[])).unwrap();
        let [answer] = answers.as_slice() else { panic!("{protocol:?}: {answers:?}") };
        assert_eq!(answer.payload, [0x43, 0x01, 0x04, 0x96], "{protocol:?}");
        assert_eq!(answer.unit, UnitId(id));
        if protocol.is_can() {
            let answers = link.request(&Request::new(0x09, &[0x02])).unwrap();
            assert_eq!(answers[0].payload, identification());
        }
    }
}

#[test]
fn an_adapter_that_lacks_commands_still_serves() {
    let lacks: [&'static [&'static str]; 8] = [
        &["H"],
        &["S"],
        &["L"],
        &["AT"],
        &["DPN"],
        &["RV", "I"],
        &["SH", "CRA"],
        &["H", "S", "DPN"],
    ];
    for lacks in lacks {
        let mut link = link_to(Practice { lacks, ..Practice::default() }).unwrap();
        let answers = link.request(&Request::new(0x09, &[0x02])).unwrap();
        assert_eq!(answers[0].payload, identification(), "without {lacks:?}");
        let untold = lacks.contains(&"H");
        assert_eq!(answers[0].unit == UnitId::UNTOLD, untold, "without {lacks:?}");
        assert!(!link.is_doubtful(), "without {lacks:?}");
    }
}

#[test]
fn headers_that_are_promised_and_not_shown_are_noticed() {
    let mut link = link_to(Practice { hides_headers: true, ..Practice::default() }).unwrap();
    assert_eq!(link.profile().capabilities.headers, Found::No);
    let answers = link.request(&Request::new(0x09, &[0x02])).unwrap();
    assert_eq!(answers[0].payload, identification());
}

#[test]
fn one_unit_can_be_asked_alone() {
    let units = [0x7E8, 0x7E9].map(|id| PracticeUnit { id, answer: engine }).to_vec();
    for lacks in [&[][..], &["SH"], &["CRA"]] {
        let mut link =
            link_to(Practice { units: units.clone(), lacks, ..Practice::default() }).unwrap();
        assert_eq!(link.request(&Request::new(0x03, &[])).unwrap().len(), 2);
        for id in [0x7E9, 0x7E8] {
            let answers = link.request(&Request::new(0x03, &[]).to(UnitId(id))).unwrap();
            let from: Vec<u32> = answers.iter().map(|it| it.unit.0).collect();
            assert_eq!(from, [id], "without {lacks:?}");
        }
        assert_eq!(link.request(&Request::new(0x03, &[])).unwrap().len(), 2);
    }
}

#[test]
fn what_the_adapter_says_becomes_a_typed_error() {
    let rows = [
        ("NO DATA", LinkError::NoData),
        ("UNABLE TO CONNECT", LinkError::UnableToConnect),
        ("STOPPED", LinkError::Stopped),
        ("BUFFER FULL", LinkError::BufferFull),
        ("CAN ERROR", LinkError::Bus(BusTrouble::Can)),
        ("BUS INIT: ...ERROR", LinkError::Bus(BusTrouble::Initialisation)),
        ("LV RESET", LinkError::LowVoltage),
        ("?", LinkError::UnknownCommand),
        ("", LinkError::EmptyAnswer),
        ("good morning", LinkError::Damaged),
    ];
    for (says, expected) in rows {
        let error = link_to(Practice { says: Some(says), ..Practice::default() }).err();
        assert_eq!(error, Some(expected), "{says}");
    }
}

#[test]
fn an_answers_time_is_the_middle_of_its_exchange() {
    let mut link = link_to(Practice::default()).unwrap();
    let sent = link.now();
    let answers = link.request(&Request::new(0x01, &[0x0B])).unwrap();
    // The practice car samples when the answer arrives, 15 ms after the request.
    assert_eq!(answers[0].at.saturating_since(sent).as_micros(), 7500);
    assert_eq!(answers[0].uncertainty.as_micros(), 7500);
}

#[test]
fn a_refusal_names_unit_service_and_reason() {
    let mut link = link_to(Practice::default()).unwrap();
    let error = link.request(&Request::new(0x22, &[0x99, 0x99])).unwrap_err();
    let expected = LinkError::Refused { unit: UnitId(0x7E8), service: 0x22, reason: 0x31 };
    assert_eq!(error, expected);
    assert_eq!(link.request(&Request::new(0x01, &[0xEE])), Err(LinkError::NoData));
}

#[test]
fn a_unit_that_asks_for_time_is_asked_again() {
    fn busy(request: &[u8], millis: i64) -> Option<Vec<u8>> {
        match request {
            [0x09, _] if millis < 2_500 => Some(vec![0x7F, 0x09, 0x78]),
            _ => engine(request, millis),
        }
    }
    let units = vec![PracticeUnit { id: 0x7E8, answer: busy }];
    let mut link = link_to(Practice { units, ..Practice::default() }).unwrap();
    assert!(link.now() < Instant::from_seconds(2.0));
    let answers = link.request(&Request::new(0x09, &[0x02])).unwrap();
    assert_eq!(answers[0].payload, identification());
    assert!(link.now() >= Instant::from_seconds(2.5));

    fn never(request: &[u8], millis: i64) -> Option<Vec<u8>> {
        let pending = request.first() == Some(&0x09);
        if pending { Some(vec![0x7F, 0x09, 0x78]) } else { engine(request, millis) }
    }
    let units = vec![PracticeUnit { id: 0x7E8, answer: never }];
    let mut link = link_to(Practice { units, ..Practice::default() }).unwrap();
    let expected = LinkError::StillPending { unit: UnitId(0x7E8), service: 0x09 };
    assert_eq!(link.request(&Request::new(0x09, &[0x02])), Err(expected));
}

#[test]
fn only_permitted_requests_reach_the_car() {
    let adapter = PracticeAdapter::new(Practice::default());
    let requests = adapter.requests();
    let mut link = Link::open(Box::new(adapter), &mut |_| {}).unwrap();
    requests.lock().unwrap().clear();
    for service in 0..=u8::MAX {
        let _ = link.request(&Request::new(service, &[]));
    }
    let request = Request::new(0x04, &[]).with_consent(Consent::given_for(0x04));
    assert_eq!(link.request(&request).unwrap()[0].payload, [0x44]);
    let again = link.request(&request);
    assert_eq!(again, Err(LinkError::ConsentSpent { service: 0x04 }));
    let mut services: Vec<u8> = requests.lock().unwrap().iter().map(|it| it[0]).collect();
    services.dedup();
    assert_eq!(services, [1, 2, 3, 5, 6, 7, 9, 0x0A, 0x22, 0x04]);
}

/// Answers everything with the same words.
struct Babble {
    words: &'static [u8],
    now: Instant,
    due: bool,
}

impl Transport for Babble {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, _bytes: &[u8]) -> Result<(), LinkError> {
        self.due = true;
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        if std::mem::take(&mut self.due) {
            into.extend_from_slice(self.words);
            Ok(self.words.len())
        } else {
            self.now = self.now.max(deadline);
            Ok(0)
        }
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        Ok(())
    }
}

#[test]
fn what_is_no_adapter_is_told_from_silence() {
    let open = |words| {
        let babble = Babble { words, now: Instant::ZERO, due: false };
        Link::open(Box::new(babble), &mut |_| {}).err()
    };
    assert!(matches!(open(b""), Some(LinkError::Silent { .. })));
    assert_eq!(open(b"220 mail ready\r\n>"), Some(LinkError::NotAnAdapter));
    assert_eq!(open(b"$GPGGA,1,2*00\r\n"), Some(LinkError::NotAnAdapter));
    assert_eq!(open(&[0xFF; 5000]), Some(LinkError::NotAnAdapter));
}

#[test]
fn a_digit_that_means_lines_or_nothing_is_found_out() {
    use crate::link::{Rotation, Wanted};
    for digit in [Digit::Messages, Digit::Lines, Digit::Unknown] {
        let mut link = link_to(Practice { digit, ..Practice::default() }).unwrap();
        let wanted = [(0x0C, 2), (0x32, 2), (0x42, 2), (0x0B, 1)];
        let rows = wanted.map(|(parameter, length)| Wanted::parameter(parameter, length, 200.0));
        let mut rotation = Rotation::new(rows.to_vec());
        let mut readings = 0;
        for _ in 0..50 {
            readings += link.poll(&mut rotation).unwrap().len();
        }
        assert!(readings >= 47 * 4, "{readings}");
        let start = link.now();
        assert_eq!(link.poll(&mut rotation).unwrap().len(), 4);
        let took = link.now().saturating_since(start).as_millis();
        // Without the digit each exchange waits 50 ms for further answers.
        assert_eq!(took, if digit == Digit::Unknown { 65 } else { 15 });
    }
}

#[test]
fn a_transcript_played_back_gives_the_same_answers() {
    use crate::link::transport::Replay;
    let ask = |link: &mut Link| link.request(&Request::new(0x09, &[0x02])).unwrap();
    let mut link = link_to(Practice::default()).unwrap();
    let then = ask(&mut link);
    let replay = Replay::new(link.transcript());
    let mut link = Link::open(Box::new(replay), &mut |_| {}).unwrap();
    assert_eq!(ask(&mut link), then);
    assert_eq!(link.request(&Request::new(0x03, &[])), Err(LinkError::Lost));
}
