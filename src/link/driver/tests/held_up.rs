//! Bytes that come late, and echoes that come late: neither is damage, and neither may silence a
//! link.

use std::time::Duration;

use super::damage::{is_true, rotation};
use super::link_to;
use super::practice_adapter::{Practice, PracticeAdapter};
use crate::link::{Direction, Found, Link, LinkError, Transport};
use crate::units::Instant;

/// Holds up every so-manieth portion of what the adapter says, and all that comes after it.
struct HoldingUp {
    inner: PracticeAdapter,
    every: usize,
    long: Duration,
    portions: usize,
    held: Option<(Instant, Vec<u8>)>,
}

impl Transport for HoldingUp {
    fn now(&self) -> Instant {
        self.inner.now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.inner.write(bytes)
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        let Some((until, mut bytes)) = self.held.take() else {
            let mut came = Vec::new();
            let count = self.inner.read(&mut came, deadline)?;
            self.portions += usize::from(count > 0);
            if count > 0 && self.portions.is_multiple_of(self.every) {
                self.held = Some((self.now() + self.long, came));
                return self.read(into, deadline);
            }
            into.extend(came);
            return Ok(count);
        };
        // What the adapter says meanwhile queues up behind.
        while self.now() < until.min(deadline) {
            self.inner.read(&mut bytes, until.min(deadline))?;
        }
        if self.now() < until {
            self.held = Some((until, bytes));
            return Ok(0);
        }
        into.extend(&bytes);
        Ok(bytes.len())
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        self.inner.reconnect(deadline)
    }

    fn is_checked(&self) -> bool {
        true
    }
}

#[test]
fn bytes_held_up_on_a_checked_line_are_no_damage() {
    // Data and prompt come as two portions: even and odd places hold up either.
    for every in [40, 41, 57] {
        for millis in [300, 700, 900] {
            let inner = PracticeAdapter::new(Practice::default());
            let long = Duration::from_millis(millis);
            let holding_up = HoldingUp { inner, every, long, portions: 0, held: None };
            let mut link = Link::open(Box::new(holding_up), &mut |_| {}).unwrap();
            let mut rotation = rotation();
            let opened = link.transcript().entries().len();
            let mut readings = 0;
            for _ in 0..2000 {
                let read = link.poll(&mut rotation).unwrap();
                assert!(read.iter().all(is_true), "every {every}, {millis} ms");
                readings += read.len();
            }
            let case = format!("every {every}, {millis} ms");
            assert!(!link.is_doubtful(), "{case}");
            let restarts = link.transcript().entries().skip(opened).filter(|entry| {
                entry.direction == Direction::Sent && entry.bytes.starts_with(b"ATZ")
            });
            assert_eq!(restarts.count(), 0, "{case}");
            assert!(readings > 1500, "{case}: {readings} readings");
        }
    }
}

#[test]
fn an_adapter_that_repeats_a_line_at_its_end_serves_until_damage_is_seen() {
    let practice = Practice { checked: false, late_echo: true, ..Practice::default() };
    let mut link = link_to(practice).unwrap();
    assert_eq!(link.profile().capabilities.echo, Found::No);
    let mut rotation = rotation();
    let readings = (0..200).map(|_| link.poll(&mut rotation).unwrap().len()).sum::<usize>();
    assert!(readings > 100, "{readings}");
    assert!(link.now() < Instant::from_seconds(60.0), "{:?}", link.now());
}
