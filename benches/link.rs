//! How fast the link is: reading adapter lines, processor time of an exchange, and exchanges a
//! second against what the latency allows.
#![allow(missing_docs, reason = "criterion makes public functions")]

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use stilltank::link::transport::{Faults, Faulty, Replay};
use stilltank::link::{Link, LinkError, Rotation, Transcript, Transport, Wanted};
use stilltank::units::Instant;

/// An adapter that answers at once or after a fixed time on a clock of its own.
struct Steady {
    now: Instant,
    latency: Duration,
    line: Vec<u8>,
    due: Option<(Instant, &'static [u8])>,
}

impl Steady {
    fn new(latency: Duration) -> Self {
        Self { now: Instant::ZERO, latency, line: Vec::new(), due: None }
    }

    fn answer(&self) -> &'static [u8] {
        match self.line.as_slice() {
            b"ATDPN\r" => b"A6\r\r>",
            b"ATRV\r" => b"12.6V\r\r>",
            b"0100\r" => b"7E8064100BE3EA81355\r\r>",
            line if line.starts_with(b"AT") => b"OK\r\r>",
            // Six parameters in three frames.
            _ => b"7E81010410C1AF80B1E\r7E82111332E00320004\r7E8223364555555555555\r\r>",
        }
    }
}

impl Transport for Steady {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.line.extend_from_slice(bytes);
        if self.line.ends_with(b"\r") {
            self.due = Some((self.now + self.latency, self.answer()));
            self.line.clear();
        }
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        match self.due.take() {
            Some((at, bytes)) if at <= deadline => {
                self.now = self.now.max(at);
                into.extend_from_slice(bytes);
                Ok(bytes.len())
            }
            later => {
                self.due = later;
                self.now = self.now.max(deadline);
                Ok(0)
            }
        }
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        Ok(())
    }
}

fn rotation() -> Rotation {
    let rows = [(0x0C, 2), (0x0B, 1), (0x11, 1), (0x2E, 1), (0x32, 2), (0x33, 1)];
    Rotation::new(rows.map(|(it, length)| Wanted::parameter(it, length, 1000.0)).to_vec())
}

fn open(latency: Duration) -> Link {
    let link = Link::open(Box::new(Steady::new(latency)), &mut |_| {});
    link.unwrap_or_else(|error| panic!("the steady adapter answers: {error}"))
}

fn exchanges(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("link");
    group.throughput(Throughput::Bytes(66));
    group.bench_function("exchange_of_six_parameters", |bencher| {
        let (mut link, mut rotation) = (open(Duration::from_millis(15)), rotation());
        bencher.iter(|| black_box(link.poll(&mut rotation)));
    });
    group.finish();
}

fn transcripts(criterion: &mut Criterion) {
    let mut link = open(Duration::from_millis(15));
    let mut rotation = rotation();
    for _ in 0..10_000 {
        let _ = link.poll(&mut rotation);
    }
    let text = link.transcript().to_text();
    let mut group = criterion.benchmark_group("transcript");
    group.throughput(Throughput::Bytes(text.len() as u64));
    group.bench_function("read", |bencher| {
        bencher.iter(|| black_box(Transcript::from_text(&text)));
    });
    group.finish();
}

/// Not a time of the processor but of the link's own clock: printed once, with what would be
/// possible beside it.
fn rates(criterion: &mut Criterion) {
    let mut report = String::new();
    for millis in [15, 60] {
        for faults in [Faults::default(), Faults { lost: 0.001, ..Faults::default() }] {
            let steady = Steady::new(Duration::from_millis(millis));
            let faulty = Faulty::new(steady, faults, 1);
            let Ok(mut link) = Link::open(Box::new(faulty), &mut |_| {}) else { continue };
            let (mut rotation, start) = (rotation(), link.now());
            let mut readings = 0;
            for _ in 0..2000 {
                readings += link.poll(&mut rotation).map_or(0, |it| it.len());
            }
            let seconds = link.now().seconds_since(start);
            let (reached, possible) = (readings as f64 / 6.0 / seconds, 1000.0 / millis as f64);
            report += &format!(
                "link/rate {millis} ms, {} of 1000 bytes lost: {reached:.1} exchanges/s of \
                 {possible:.1} possible ({:.0} %)\n",
                faults.lost * 1000.0,
                100.0 * reached / possible
            );
        }
    }
    // Criterion has no place for numbers that are no times.
    criterion.bench_function(report.trim_end(), |bencher| bencher.iter(|| black_box(1)));
}

fn replays(criterion: &mut Criterion) {
    let link = open(Duration::from_millis(15));
    let transcript = link.transcript().clone();
    criterion.bench_function("link/open_from_transcript", |bencher| {
        bencher.iter(|| Link::open(Box::new(Replay::new(&transcript)), &mut |_| {}).map(drop));
    });
}

criterion_group!(benches, exchanges, transcripts, replays, rates);
criterion_main!(benches);
