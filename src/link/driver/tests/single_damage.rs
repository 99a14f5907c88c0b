//! Every byte that leaves the program, lost or changed: nothing but what may be asked reaches the
//! car, and only under the identifiers of diagnosis.

use std::sync::{Arc, Mutex};

use super::practice_adapter::{Practice, PracticeAdapter, Requests, Targets};
use crate::link::{Item, Link, LinkError, Request, Rotation, Transport, UnitId, Wanted};
use crate::units::Instant;

/// One byte to damage, counted from now on: what is there to do until then, and what comes of it.
#[derive(Clone, Copy, Default)]
struct Plan {
    left: Option<usize>,
    becomes: Option<u8>,
}

/// Damages one byte on its way to the adapter.
struct Tampering {
    inner: PracticeAdapter,
    plan: Arc<Mutex<Plan>>,
}

impl Transport for Tampering {
    fn now(&self) -> Instant {
        self.inner.now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let mut plan = self.plan.lock().unwrap();
        let mut bytes = bytes.to_vec();
        if let Some(left) = plan.left {
            plan.left = left.checked_sub(bytes.len());
            if plan.left.is_none() {
                bytes.splice(left..=left, plan.becomes);
            }
        }
        self.inner.write(&bytes)
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        self.inner.read(into, deadline)
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        self.inner.reconnect(deadline)
    }

    fn is_checked(&self) -> bool {
        self.inner.is_checked()
    }
}

/// A link whose next bytes can be damaged, and what has reached its car.
struct Bench {
    link: Link,
    plan: Arc<Mutex<Plan>>,
    requests: Requests,
    targets: Targets,
}

/// Services that only read (SAE J1979; 22 by ISO 14229-1).
const READING: [u8; 9] = [0x01, 0x02, 0x03, 0x05, 0x06, 0x07, 0x09, 0x0A, 0x22];

impl Bench {
    fn new(practice: Practice) -> Self {
        let inner = PracticeAdapter::new(practice);
        let (requests, targets, plan) = (inner.requests(), inner.targets(), Arc::default());
        let tampering = Tampering { inner, plan: Arc::clone(&plan) };
        let link = Link::open(Box::new(tampering), &mut |_| {}).unwrap();
        Self { link, plan, requests, targets }
    }

    fn damage(&self, place: usize, becomes: Option<u8>) {
        *self.plan.lock().unwrap() = Plan { left: Some(place), becomes };
    }

    /// Services that reached the car since the last call and may not, and identifiers likewise.
    fn strays(&self) -> Vec<(Vec<u8>, Option<u32>)> {
        let requests = std::mem::take(&mut *self.requests.lock().unwrap());
        let targets = std::mem::take(&mut *self.targets.lock().unwrap());
        let reached = requests.into_iter().zip(targets);
        let stray = |(request, target): &(Vec<u8>, Option<u32>)| {
            !request.first().is_some_and(|it| READING.contains(it))
                || !matches!(target, None | Some(0x7DF..=0x7E7))
        };
        reached.filter(stray).collect()
    }
}

/// What a byte can become for an adapter: lost, any digit, the end of a line, something that it
/// leaves out, a small digit, or a letter that is none.
fn fates() -> impl Iterator<Item = Option<u8>> {
    b"0123456789ABCDEF\r\n\0 aTXR>\xFF".iter().map(|byte| Some(*byte)).chain([None])
}

/// Requests of every service that may be sent, with bytes in them that name services that write.
fn requests() -> Vec<(u8, Vec<u8>)> {
    let mut requests: Vec<(u8, Vec<u8>)> = vec![(0x03, vec![]), (0x07, vec![]), (0x0A, vec![])];
    for data in [0x00, 0x01, 0x02, 0x04, 0x08, 0x0C, 0x14, 0x2E, 0x2F, 0x31, 0x40, 0x80, 0xAE] {
        requests.push((0x01, vec![data]));
        requests.push((0x02, vec![data, 0x00]));
        requests.push((0x05, vec![data, 0x01]));
        requests.push((0x06, vec![data]));
        requests.push((0x09, vec![data]));
        requests.push((0x22, vec![data, 0x04]));
        requests.push((0x22, vec![0x04, data]));
        requests.push((0x01, vec![0x0C, data]));
        requests.push((0x01, vec![0x0C, 0x04, data, 0x2E, 0x32, 0x42]));
    }
    requests
}

/// A request that reached the car, and the address it went to.
type Reached = (Vec<u8>, Option<u32>);

/// Damages every byte of every request in every way, and those that follow it until it has
/// succeeded or been given up. Returns how many damages were made and what reached the car.
fn tamper_with_requests(practice: Practice) -> (usize, Vec<Reached>) {
    let mut bench = Bench::new(practice);
    let (mut damages, mut strays) = (0, bench.strays());
    for (service, data) in requests() {
        // The digits, the carriage return, and some of what settles the line afterwards.
        for place in 0..2 * data.len() + 8 {
            for becomes in fates() {
                bench.damage(place, becomes);
                let _ = bench.link.request(&Request::new(service, &data));
                damages += 1;
                strays.extend(bench.strays());
            }
        }
    }
    (damages, strays)
}

#[test]
fn no_damaged_byte_makes_a_request_that_may_not_be_sent() {
    for buffers in [false, true] {
        let practice = Practice { checked: false, buffers, ..Practice::default() };
        let (damages, strays) = tamper_with_requests(practice);
        assert!(damages > 20_000, "{damages}");
        assert_eq!(strays, [], "of {damages}");
    }
}

/// Why commands are proofread: without an echo to compare, the same damages do reach the car, and
/// after the first that is seen nothing is sent any more.
#[test]
fn without_an_echo_the_first_damage_that_is_seen_ends_the_asking() {
    let practice = Practice { checked: false, mute: true, ..Practice::default() };
    let mut bench = Bench::new(practice);
    let request = Request::new(0x01, &[0x0C]);
    bench.damage(1, Some(b'4'));
    assert_eq!(bench.link.request(&request), Err(LinkError::NoData));
    assert_eq!(bench.strays(), [(vec![0x04, 0x0C], None)]);
    // The answer tells that another parameter was asked for.
    bench.damage(3, Some(b'B'));
    assert_eq!(bench.link.request(&request), Err(LinkError::Damaged));
    assert_eq!(bench.requests.lock().unwrap().split_off(0), [[0x01, 0x0B]]);
    assert_eq!(bench.link.request(&request), Err(LinkError::Damaged));
    assert_eq!(bench.requests.lock().unwrap().len(), 0);
}

#[test]
fn a_checked_line_that_damages_all_the_same_is_proofread_from_then_on() {
    let mut bench = Bench::new(Practice::default());
    let request = Request::new(0x01, &[0x33]);
    bench.damage(3, Some(b'2'));
    assert_eq!(bench.link.request(&request).map(|it| it.len()), Ok(1));
    assert!(bench.link.is_doubtful());
    for place in 0..60 {
        for becomes in fates() {
            bench.damage(place, becomes);
            let _ = bench.link.request(&request);
            assert_eq!(bench.strays(), [], "{place} {becomes:?}");
        }
    }
}

#[test]
fn no_damaged_byte_of_the_setting_up_reaches_the_car() {
    for buffers in [false, true] {
        let practice = Practice { checked: false, buffers, ..Practice::default() };
        let mut bench = Bench::new(practice.clone());
        let length = bench.link.transcript().entries();
        let sent = length.filter(|entry| entry.direction == crate::link::Direction::Sent);
        let length: usize = sent.map(|entry| entry.bytes.len()).sum();
        assert_eq!(bench.strays(), []);
        for place in 0..length {
            for becomes in fates() {
                let inner = PracticeAdapter::new(practice.clone());
                let (requests, targets, plan) = (inner.requests(), inner.targets(), Arc::default());
                *Arc::<Mutex<Plan>>::clone(&plan).lock().unwrap() =
                    Plan { left: Some(place), becomes };
                let tampering = Tampering { inner, plan: Arc::clone(&plan) };
                if let Ok(link) = Link::open(Box::new(tampering), &mut |_| {}) {
                    bench.link = link;
                }
                (bench.requests, bench.targets) = (requests, targets);
                assert_eq!(bench.strays(), [], "{place} {becomes:?}");
            }
        }
    }
}

#[test]
fn a_damaged_address_reaches_no_other_unit_and_no_other_message() {
    let practice = Practice { checked: false, ..Practice::default() };
    let mut bench = Bench::new(practice);
    let mut unit = 0x7E8;
    for place in 0..40 {
        for becomes in fates() {
            // Now one unit, now all: each time the address is set anew.
            unit = if unit == 0 { 0x7E8 } else { 0 };
            let request = Request::new(0x01, &[0x0C]);
            let request = if unit == 0 { request } else { request.to(UnitId(unit)) };
            bench.damage(place, becomes);
            let _ = bench.link.request(&request);
            let strays = bench.strays();
            assert_eq!(strays, [], "{place} {becomes:?}");
        }
    }
}

#[test]
fn polling_passes_through_damage_without_a_stray_request() {
    let practice = Practice { checked: false, ..Practice::default() };
    let mut bench = Bench::new(practice);
    let wanted = [(0x0C, 2), (0x0B, 1), (0x11, 1), (0x2E, 1), (0x32, 2), (0x33, 1)];
    let rows = wanted.map(|(it, length)| Wanted::parameter(it, length, 1000.0));
    let mut rotation = Rotation::new(rows.to_vec());
    let mut readings = 0;
    for place in 0..24 {
        for becomes in fates() {
            bench.damage(place, becomes);
            for _ in 0..4 {
                let read = bench.link.poll(&mut rotation).unwrap_or_default();
                readings += read.len();
                assert!(read.iter().all(|it| matches!(it.item, Item::Parameter(_))));
            }
            assert_eq!(bench.strays(), [], "{place} {becomes:?}");
        }
    }
    assert!(readings > 1000, "{readings}");
}
