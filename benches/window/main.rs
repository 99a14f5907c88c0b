//! What a person feels of the window, on the software renderer at 1280 × 800: from the start to the
//! first frame, frames with ten minutes and an hour in view, scrolling, from a sample to its pixels,
//! the memory that an hour's recording takes, and a visit through the real worker. A frame draws the
//! whole window anew; on a display only what changed is drawn, which is measured beside it.
#![allow(clippy::print_stdout, reason = "a bench prints what it measured")]
#![allow(clippy::disallowed_methods, reason = "a bench reads the machine's clock")]
#![allow(clippy::expect_used, reason = "a bench that cannot run says so by panicking")]

mod screen;
mod visit;
mod wire;

use std::time::{Duration, Instant as Clock};

use screen::Screen;
use stilltank::jobs::{Event, SampleBatch};
use stilltank::recording::Recording;
use stilltank::ui::stage::{Screen as Page, Stage};
use stilltank::units::Instant;
use stilltank::vehicle::Signal;

const HOUR: u32 = 3_600;
/// Readings a second of each signal.
const RATE: u32 = 10;
const SIGNALS: [Signal; 6] = [
    Signal::TankPressure,
    Signal::PurgeCommand,
    Signal::EngineSpeed,
    Signal::ManifoldPressure,
    Signal::Throttle,
    Signal::ShortTrim1,
];

/// An invented hour: waves with noise, in steps as sensors give them.
fn hour() -> Recording {
    let mut recording = Recording::default();
    for i in 0..HOUR * RATE {
        let time = f64::from(i) / f64::from(RATE);
        let noise = f64::from(i.wrapping_mul(2_654_435_761) >> 16) / 32_768.0 - 1.0;
        for (place, signal) in (0_u32..).zip(SIGNALS) {
            let at = Instant::from_seconds(time + f64::from(place) * 0.01);
            let value = 40.0 + 30.0 * (time * 0.3 + f64::from(place)).sin() + noise * 4.0;
            recording.push(signal, at, if place == 0 { -4.0 * value.round() } else { value });
        }
    }
    recording
}

/// Processor time of this thread: what others do on a crowded machine does not count. Elsewhere
/// than on Linux the time that passes.
fn processor(begun: Clock) -> Duration {
    let stat = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let nanos = stat.split_whitespace().next().and_then(|it| it.parse().ok());
    nanos.map_or_else(|| begun.elapsed(), Duration::from_nanos)
}

/// Mean and longest of many turns: the machine may count processor time in coarse steps, over which
/// only the mean is fine.
fn time(turns: u32, mut work: impl FnMut(u32)) -> [Duration; 2] {
    let start = Clock::now();
    let times: Vec<Duration> = (0..turns)
        .map(|turn| {
            let begun = processor(start);
            work(turn);
            processor(start).saturating_sub(begun)
        })
        .collect();
    let longest = times.iter().max().copied().unwrap_or_default();
    [times.iter().sum::<Duration>() / turns, longest]
}

fn resident_mib() -> f64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let kib = line.and_then(|it| it.trim().trim_end_matches(" kB").parse::<f64>().ok());
    kib.unwrap_or(0.0) / 1024.0
}

/// Frames while readings arrive: the whole window, and what changed.
fn frames(what: &str, screen: &Screen, stage: &Stage) {
    let whole = time(60, |_| {
        stage.refresh();
        screen.draw(true);
    });
    let mut share = 0.0;
    let changed = time(60, |_| {
        stage.refresh();
        share = screen.draw(false);
    });
    let strip = time(60, |_| stage.refresh());
    println!("{what}: whole window {whole:?}");
    println!(
        "    what changed ({:.0} % of it) {changed:?}; the strip alone {strip:?}",
        share * 100.0
    );
}

fn main() {
    let begun = Clock::now();
    let screen = Screen::install();
    let stage = Stage::open(1280.0, 800.0).expect("a window");
    screen.draw(true);
    println!("start to first frame, as it passes: {:?}", begun.elapsed());

    stage.show(Page::Visit);
    // The worker keeps a recording of its own beside the window's.
    let workers = hour();
    stage.feed(Event::Recording(Box::new(workers.clone())));
    screen.draw(true);
    frames("one minute in view of an hour", &screen, &stage);
    println!("resident memory after an hour's recording: {:.0} MiB", resident_mib());

    let mut now = f64::from(HOUR);
    let sampled = time(60, |_| {
        now += 0.1;
        let at = Instant::from_seconds(now);
        stage.feed(Event::Samples(SampleBatch {
            samples: vec![(Signal::TankPressure, at, -100.0)],
            actions: Vec::new(),
            now: at,
        }));
        screen.draw(false);
    });
    println!("from a sample to its pixels: {sampled:?}");

    for _ in 0..2 {
        stage.zoom_strip(false);
    }
    frames("ten minutes in view", &screen, &stage);
    for _ in 0..6 {
        stage.zoom_strip(false);
    }
    frames("an hour in view", &screen, &stage);
    for _ in 0..3 {
        stage.zoom_strip(true);
    }
    let scrolled = time(240, |turn| {
        stage.drag_strip(if turn < 120 { 20.0 } else { -20.0 });
        screen.draw(false);
    });
    println!("scrolling through an hour: {scrolled:?}");
    drop((stage, workers));

    let folder = tempfile::tempdir().expect("a folder");
    let measured = visit::measure(&screen, folder.path());
    println!(
        "a visit at the pace of life: longest turn of the event loop {:?} of work and {:?} of \
         drawing, {:.1} % over 16 ms in all",
        measured.events,
        measured.drawing,
        measured.late * 100.0
    );
    for (what, times) in [
        ("from a reply's last byte on the link to pixels", &measured.whole),
        ("from its first byte to its last, on the way", &measured.on_the_wire),
        ("from its first byte to pixels", &measured.in_all),
    ] {
        println!(
            "{what}: {:?} in the middle, 95 of 100 within {:?}, {:?} at most; {} of {} past 100 ms",
            times.middle, times.most, times.longest, times.late, times.count
        );
    }
}
