//! How much faster than real time a car lives on one core.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use stilltank::units::Instant;
use stilltank::vehicle::Fault;
use stilltank::virtual_car::{Act, CarParameters, Garage, Pace};

/// Seconds of car time in one measurement: divide by the time shown to get the speed ratio.
const SECONDS: f64 = 60.0;

fn idling_minute(bench: &mut Criterion) {
    let parameters = CarParameters::draw(Some(Fault::PurgeValveLeaking), None, 1);
    bench.bench_function("a minute at idle with purge at work", |run| {
        let garage = Garage::new(parameters.clone(), 1, Pace::Unbounded);
        garage.ask(Act::StartEngine);
        let mut until = 60.0;
        garage.advance(Instant::from_seconds(until));
        run.iter(|| {
            until += SECONDS;
            garage.advance(Instant::from_seconds(until));
            black_box(garage.truth().tank_pressure)
        });
    });
}

fn polled_minute(bench: &mut Criterion) {
    let parameters = CarParameters::draw(None, None, 1);
    bench.bench_function("a minute at idle, polled over the adapter", |run| {
        let garage = Garage::new(parameters.clone(), 1, Pace::Unbounded);
        let mut wire = garage.transport();
        garage.ask(Act::StartEngine);
        run.iter(|| {
            let end = Instant::from_seconds(wire.now().seconds() + SECONDS);
            let mut heard = Vec::new();
            while wire.now() < end {
                heard.clear();
                if wire.write(b"010C0B2E112F331\r").is_err() {
                    break;
                }
                while !heard.ends_with(b">") && wire.now() < end {
                    if wire.read(&mut heard, end).is_err() {
                        break;
                    }
                }
            }
            black_box(heard.len())
        });
    });
}

criterion_group!(benches, idling_minute, polled_minute);
criterion_main!(benches);
