use std::time::Duration;

use super::practice_adapter::{PARAMETERS, Practice, PracticeAdapter, PracticeUnit, engine, value};
use crate::link::transport::{Faults, Faulty};
use crate::link::{Item, Link, LinkError, Protocol, Reading, Request, Rotation, Wanted};
use crate::units::Instant;

fn faulty(practice: Practice, faults: Faults, seed: u64) -> Box<Faulty<PracticeAdapter>> {
    Box::new(Faulty::new(PracticeAdapter::new(practice), faults, seed))
}

pub(super) fn rotation() -> Rotation {
    let rows = PARAMETERS.map(|(parameter, length)| {
        Wanted::parameter(parameter, u8::try_from(length).unwrap(), 5.0)
    });
    Rotation::new(rows.to_vec())
}

/// Whether the car had this value at some time within the reading's bounds.
pub(super) fn is_true(reading: &Reading) -> bool {
    let Item::Parameter(parameter) = reading.item else { return false };
    let millis = |at: Instant| at.micros() / 1000;
    let first = millis(reading.at - reading.uncertainty);
    let last = millis(reading.at + reading.uncertainty);
    (first..=last).any(|at| reading.data == value(parameter, reading.data.len(), at))
}

/// Of every hundred bytes one is lost and one changed, both ways, and the connection breaks every
/// thirty seconds. Returns readings, wrong readings, breaks, and the longest time until readings
/// came again.
fn noisy_hour(protocol: Protocol, id: u32, seed: u64) -> (usize, usize, usize, Duration) {
    let faults = Faults {
        lost: 0.01,
        changed: 0.01,
        delay: Duration::from_millis(10),
        breaks_every: Some(Duration::from_secs(30)),
    };
    let units = vec![PracticeUnit { id, answer: engine }];
    let practice = Practice { protocol, units, ..Practice::default() };
    let adapter = PracticeAdapter::new(practice);
    let requests = adapter.requests();
    let faulty = Box::new(Faulty::new(adapter, faults, seed));
    let mut link = Link::open(faulty, &mut |_| {}).unwrap();
    let mut rotation = rotation();
    let (mut count, mut wrong, mut breaks) = (0, 0, 0);
    let mut lost_at = None;
    let mut longest = Duration::ZERO;
    let end = link.now() + Duration::from_secs(3600);
    while link.now() < end {
        match link.poll(&mut rotation) {
            Ok(readings) => {
                if let (Some(lost), Some(first)) = (lost_at, readings.first()) {
                    longest = longest.max(first.at.saturating_since(lost));
                    lost_at = None;
                }
                count += readings.len();
                wrong += readings.iter().filter(|reading| !is_true(reading)).count();
            }
            Err(error) => {
                lost_at.get_or_insert(link.now());
                breaks += usize::from(error == LinkError::Lost);
                let deadline = link.now() + Duration::from_secs(10);
                link.reconnect(deadline).unwrap();
            }
        }
    }
    // Nothing but what may be asked has reached the car, however the bytes were spoilt.
    let reached = requests.lock().unwrap();
    let strays = reached.iter().filter(|it| !matches!(it.first(), Some(0x01)));
    assert_eq!(strays.collect::<Vec<_>>(), Vec::<&Vec<u8>>::new(), "seed {seed}");
    (count, wrong, breaks, longest)
}

#[test]
fn no_wrong_value_passes_in_a_noisy_hour() {
    for (protocol, id) in [(Protocol::Can11, 0x7E8), (Protocol::Can29, 0x18DA_F110)] {
        for seed in 0..3 {
            let (count, wrong, breaks, longest) = noisy_hour(protocol, id, seed);
            assert_eq!(wrong, 0, "{protocol:?} seed {seed}, {count} readings");
            assert!(count > 10_000, "{protocol:?} seed {seed}: {count} readings");
            assert!(breaks > 100, "{protocol:?} seed {seed}: {breaks} breaks");
            assert!(longest <= Duration::from_secs(3), "{protocol:?} seed {seed}: {longest:?}");
        }
    }
}

#[test]
fn no_wrong_answer_passes_on_a_noisy_line() {
    let faults = Faults { lost: 0.01, changed: 0.01, ..Faults::default() };
    let identification = [&[0x49, 0x02, 0x01][..], b"9ZZAB12C0R1000001"].concat();
    let mut answered = 0;
    for seed in 0..200 {
        let Ok(mut link) = Link::open(faulty(Practice::default(), faults, seed), &mut |_| {})
        else {
            continue;
        };
        let rows = [
            (Request::new(0x09, &[0x02]), identification.clone()),
            (Request::new(0x03, &[]), vec![0x43, 0x01, 0x04, 0x96]),
        ];
        for (request, expected) in rows {
            if let Ok(answers) = link.request(&request) {
                answered += 1;
                let payloads: Vec<_> = answers.into_iter().map(|it| it.payload).collect();
                assert_eq!(payloads, [expected], "seed {seed}");
            }
        }
    }
    assert!(answered > 350, "{answered} of 400 requests were answered");
}

#[test]
fn a_sound_line_never_becomes_doubtful() {
    let faults = Faults { delay: Duration::from_millis(40), ..Faults::default() };
    let mut link = Link::open(faulty(Practice::default(), faults, 1), &mut |_| {}).unwrap();
    let mut rotation = rotation();
    for _ in 0..2000 {
        assert!(link.poll(&mut rotation).unwrap().iter().all(is_true));
    }
    assert!(!link.is_doubtful());
}

#[test]
fn the_same_seed_spoils_alike() {
    let faults = Faults { lost: 0.005, changed: 0.005, ..Faults::default() };
    let transcript = |seed| {
        let link = Link::open(faulty(Practice::default(), faults, seed), &mut |_| {}).unwrap();
        link.transcript().clone()
    };
    assert_eq!(transcript(7), transcript(7));
    assert_ne!(transcript(7), transcript(8));
}
