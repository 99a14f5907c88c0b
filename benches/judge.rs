//! Processor time of judging: a standard visit, and an hour of five signals.

use std::hint::black_box;
use std::time::Duration;

use criterion::{Criterion, criterion_group, criterion_main};
use stilltank::jobs::{judge, visit_virtual_car};
use stilltank::recording::Recording;
use stilltank::units::Instant;
use stilltank::vehicle::{Fault, Signal};

const SIGNALS: [Signal; 5] = [
    Signal::TankPressure,
    Signal::ManifoldPressure,
    Signal::Throttle,
    Signal::PurgeCommand,
    Signal::EngineSpeed,
];

/// A visit to the virtual car, sampled anew at 20 samples a second and signal, `seconds` long: the
/// visit is told again and again until the time is full.
fn resampled(seconds: u32) -> Recording {
    let (_, visit) = visit_virtual_car(Some(Fault::PurgeValveLeaking), false, 1)
        .expect("the virtual car answers");
    let (first, last) = visit.span().expect("a visit has samples");
    let length = last.seconds_since(first).min(150.0);
    let mut recording = Recording::default();
    let mut told = 0.0;
    while told < f64::from(seconds) {
        for action in visit.actions() {
            let at = action.at.seconds_since(first);
            if at < length {
                recording.push_action(Instant::from_seconds(told + at), action.action);
            }
        }
        for step in 0..(length * 20.0) as u32 {
            let at = f64::from(step) / 20.0;
            for signal in SIGNALS {
                let value = visit
                    .series(signal)
                    .and_then(|series| series.value_at(first + Duration::from_secs_f64(at)));
                if let Some(value) = value {
                    recording.push(signal, Instant::from_seconds(told + at), value);
                }
            }
        }
        told += length;
    }
    recording
}

fn judging(criterion: &mut Criterion) {
    let visit = resampled(150);
    criterion.bench_function("judge a visit of 150 s", |bencher| {
        bencher.iter(|| judge(black_box(&visit), &[]));
    });
    let hour = resampled(3_600);
    criterion.bench_function("judge an hour of five signals", |bencher| {
        bencher.iter(|| judge(black_box(&hour), &[]));
    });
    criterion.bench_function("one whole virtual visit", |bencher| {
        bencher.iter(|| visit_virtual_car(Some(Fault::PurgeValveLeaking), false, black_box(2)));
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = judging
}
criterion_main!(benches);
