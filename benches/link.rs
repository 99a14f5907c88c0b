//! How fast the link is: reading adapter lines, processor time of an exchange, and exchanges a
//! second against what the latency allows.
#![allow(clippy::print_stdout, reason = "rates are no times, for which criterion has a place")]
#![allow(missing_docs, reason = "criterion makes public functions")]

use std::collections::VecDeque;
use std::hint::black_box;
use std::time::Duration;

use criterion::{Bencher, Criterion, Throughput, criterion_group, criterion_main};
use stilltank::jobs::reading_time;
use stilltank::link::transport::{Faults, Faulty, Replay};
use stilltank::link::{Link, LinkError, Request, Rotation, Transcript, Transport, Wanted};
use stilltank::units::Instant;
use stilltank::vehicle::Fault;
use stilltank::virtual_car::CarParameters;

/// An adapter that answers after a fixed time on a clock of its own.
struct Steady {
    now: Instant,
    latency: Duration,
    /// Repeats what it receives, as it must where commands are proofread.
    repeats: bool,
    line: Vec<u8>,
    due: VecDeque<(Instant, Vec<u8>)>,
}

impl Steady {
    fn new(latency: Duration) -> Self {
        Self { now: Instant::ZERO, latency, repeats: false, line: Vec::new(), due: VecDeque::new() }
    }

    fn answer(&self) -> Vec<u8> {
        match self.line.as_slice() {
            line if line.contains(&b'r') => b"?\r\r>".to_vec(),
            b"ATDPN\r" => b"A6\r\r>".to_vec(),
            b"ATRV\r" => b"12.6V\r\r>".to_vec(),
            b"0100\r" => b"7E8064100BE3EA81355\r\r>".to_vec(),
            line if line.starts_with(b"AT") => b"OK\r\r>".to_vec(),
            line => framed(&values(line)),
        }
    }
}

const PARAMETERS: [(u8, u8); 6] =
    [(0x0C, 2), (0x0B, 1), (0x11, 1), (0x2E, 1), (0x32, 2), (0x33, 1)];

/// The answer to a request of service 01 in digits: every parameter asked, with the same value
/// always.
fn values(line: &[u8]) -> Vec<u8> {
    let mut payload = vec![0x41];
    for pair in line.get(2..).unwrap_or_default().chunks_exact(2) {
        let asked = std::str::from_utf8(pair).ok().and_then(|it| u8::from_str_radix(it, 16).ok());
        if let Some((it, length)) = PARAMETERS.iter().find(|(it, _)| Some(*it) == asked) {
            payload.push(*it);
            payload.extend(std::iter::repeat_n(0x1A, usize::from(*length)));
        }
    }
    payload
}

/// A payload as an adapter shows its frames (ISO 15765-2), with the prompt.
fn framed(payload: &[u8]) -> Vec<u8> {
    let mut frames: Vec<Vec<u8>> = Vec::new();
    let [.., high, low] = payload.len().to_be_bytes();
    if payload.len() <= 7 {
        frames.push([&[low], payload].concat());
    } else {
        let (head, tail) = payload.split_at(6);
        frames.push([&[0x10 | high, low], head].concat());
        let later = (1..16).chain([0]).cycle().map(|it| 0x20_u8 | it).zip(tail.chunks(7));
        frames.extend(later.map(|(index, part)| [&[index], part].concat()));
    }
    let mut text = String::new();
    for mut frame in frames {
        frame.resize(8, 0x55);
        text += "7E8";
        frame.iter().for_each(|byte| text += &format!("{byte:02X}"));
        text += "\r";
    }
    (text + "\r>").into_bytes()
}

impl Transport for Steady {
    fn now(&self) -> Instant {
        self.now
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let at = self.now + self.latency;
        if self.repeats {
            self.due.push_back((at, bytes.to_vec()));
        }
        self.line.extend_from_slice(bytes);
        if self.line.ends_with(b"\r") {
            self.due.push_back((at, self.answer()));
            self.line.clear();
        }
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        match self.due.front() {
            Some((at, _)) if *at <= deadline => self.now = self.now.max(*at),
            _ => {
                self.now = self.now.max(deadline);
                return Ok(0);
            }
        }
        let bytes = self.due.pop_front().map(|(_, bytes)| bytes).unwrap_or_default();
        into.extend_from_slice(&bytes);
        Ok(bytes.len())
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        Ok(())
    }

    fn is_checked(&self) -> bool {
        !self.repeats
    }
}

fn rotation() -> Rotation {
    Rotation::new(PARAMETERS.map(|(it, length)| Wanted::parameter(it, length, 1e9)).to_vec())
}

fn open(latency: Duration) -> Link {
    let link = Link::open(Box::new(Steady::new(latency)), &mut |_| {});
    link.unwrap_or_else(|error| panic!("the steady adapter answers: {error}"))
}

fn exchanges(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("link");
    group.throughput(Throughput::Bytes(62));
    group.bench_function("exchange_of_six_parameters", |bencher| {
        let (mut link, mut rotation) = (open(Duration::from_millis(15)), rotation());
        bencher.iter(|| {
            let readings = link.poll(&mut rotation);
            assert!(readings.as_ref().is_ok_and(|it| it.len() == 6));
            black_box(readings)
        });
    });
    group.finish();
}

/// A sound adapter whose car gives the same long answer to everything but the first request.
struct LongWinded {
    steady: Steady,
    answer: Vec<u8>,
    is_asked: bool,
}

impl Transport for LongWinded {
    fn now(&self) -> Instant {
        self.steady.now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.is_asked = bytes.starts_with(b"09");
        if self.is_asked { Ok(()) } else { self.steady.write(bytes) }
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        if !std::mem::take(&mut self.is_asked) {
            return self.steady.read(into, deadline);
        }
        into.extend_from_slice(&self.answer);
        Ok(self.answer.len())
    }

    fn reconnect(&mut self, _deadline: Instant) -> Result<(), LinkError> {
        Ok(())
    }

    fn is_checked(&self) -> bool {
        true
    }
}

/// Asks an adapter that always answers this, again and again: so many messages of this payload.
fn asked_again(bencher: &mut Bencher, answer: &[u8], payload: &[u8], messages: usize) {
    let steady = Steady::new(Duration::from_millis(15));
    let adapter = LongWinded { steady, answer: answer.to_vec(), is_asked: false };
    let Ok(mut link) = Link::open(Box::new(adapter), &mut |_| {}) else { return };
    let request = Request::new(0x09, &[0x02]);
    bencher.iter(|| {
        let answers = link.request(&request);
        assert!(answers.as_ref().is_ok_and(|it| it.len() == messages));
        assert!(answers.iter().flatten().all(|it| it.payload == payload));
        black_box(answers)
    });
}

/// Bytes of adapter text a second, from the transport to the payload, for messages of a few frames
/// up to the longest of ISO 15765-2: the same rate for all of them means linear reassembly.
fn parser(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("link/parse");
    for length in [64, 512, 4095] {
        let payload: Vec<u8> =
            [0x49, 0x02].into_iter().chain((2..length).map(|it| it as u8)).collect();
        let answer = framed(&payload);
        group.throughput(Throughput::Bytes(answer.len() as u64));
        group.bench_function(format!("message_of_{length}_bytes"), |bencher| {
            asked_again(bencher, &answer, &payload, 1);
        });
    }
    group.finish();
}

/// The same without what an exchange costs whatever is said in it: hundreds of messages of 64 bytes in
/// one answer, as far as an answer may go.
fn lines(criterion: &mut Criterion) {
    const MESSAGES: usize = 300;
    let payload: Vec<u8> = [0x49, 0x02].into_iter().chain(2..64).collect();
    let message = framed(&payload);
    let message = message.strip_suffix(b"\r>").unwrap_or(&message);
    let mut answer = message.repeat(MESSAGES);
    answer.extend_from_slice(b"\r>");
    let mut group = criterion.benchmark_group("link/lines");
    group.throughput(Throughput::Bytes(answer.len() as u64));
    group.bench_function("300_messages_of_64_bytes", |bencher| {
        asked_again(bencher, &answer, &payload, MESSAGES);
    });
    group.finish();
}

/// Pages of memory that the process holds, in KiB (Linux; zero elsewhere).
fn resident_kib() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    line.and_then(|it| it.trim().trim_end_matches(" kB").parse().ok()).unwrap_or(0)
}

/// Memory after ten minutes and after an hour of polling at 15 ms an exchange.
fn memory(_criterion: &mut Criterion) {
    let (mut link, mut rotation) = (open(Duration::from_millis(15)), rotation());
    let start = link.now();
    let mut poll_until = |seconds: u64| {
        while link.now() < start + Duration::from_secs(seconds) {
            let _ = link.poll(&mut rotation);
        }
        resident_kib()
    };
    let (early, late) = (poll_until(600), poll_until(3600));
    println!("link/memory {early} KiB after ten minutes of polling, {late} KiB after an hour");
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
fn rates(_criterion: &mut Criterion) {
    let mut report = String::new();
    for millis in [15, 60] {
        for faults in [Faults::default(), Faults { lost: 0.001, ..Faults::default() }] {
            let mut steady = Steady::new(Duration::from_millis(millis));
            steady.repeats = faults.lost > 0.0;
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
    println!("{report}");
}

/// Seconds of the car's clock that reading everything takes: two control units, 30 ms there and
/// back, adapters of every kind drawn. The target is 8 s for each of them.
fn readings(_criterion: &mut Criterion) {
    const TARGET: f64 = 8.0;
    let mut taken: Vec<f64> = (0..60)
        .filter_map(|seed| {
            let car = CarParameters::draw(Some(Fault::PurgeValveLeaking), None, seed);
            let car = car.with_two_units_over(Duration::from_millis(30));
            let time = reading_time(car, seed).ok()?;
            assert_eq!(time.units, 2, "seed {seed}: both units tell something");
            Some(time.seconds)
        })
        .collect();
    taken.sort_by(f64::total_cmp);
    let late = taken.iter().filter(|seconds| **seconds > TARGET).count();
    println!(
        "link/read_everything two units over 30 ms: {:.2} s in the middle, {:.2} s at most of {} \
         cars; {late} above {TARGET} s",
        taken[taken.len() / 2],
        taken[taken.len() - 1],
        taken.len()
    );
}

fn replays(criterion: &mut Criterion) {
    let link = open(Duration::from_millis(15));
    let transcript = link.transcript().clone();
    criterion.bench_function("link/open_from_transcript", |bencher| {
        bencher.iter(|| Link::open(Box::new(Replay::new(&transcript)), &mut |_| {}).map(drop));
    });
}

criterion_group!(benches, exchanges, parser, lines, transcripts, replays, rates, readings, memory);
criterion_main!(benches);
