use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::series_blob::{Chunk, encode};
use crate::units::Instant;
use crate::vehicle::Signal;

/// Signals polled in turn at about 22 readings a second; values as the bytes of their parameters
/// give them (steps of 0.25 rpm, 1 kPa, 100/255 %, tank pressure in steps of 0.25 Pa with 2 Pa of
/// noise). Invented.
fn polled_in_turn(random: &mut ChaCha8Rng, tick_us: i64) -> Vec<(Signal, Instant, f64)> {
    let mut samples = Vec::new();
    let mut now_us = 0.0;
    let mut normal = || (0..12).map(|_| random.random::<f64>()).sum::<f64>() - 6.0;
    for round in 0..2700 {
        let t = f64::from(round) * 0.27;
        let open = if (t / 20.0).fract() < 0.15 { 1.0 } else { 0.0 };
        let step = |value: f64, step: f64| (value / step).round() * step;
        let signals = [
            (Signal::TankPressure, step(-40.0 - 180.0 * (1.0 - open) + 2.0 * normal(), 0.25)),
            (Signal::ManifoldPressure, (32.0 + 60.0 * open + 0.6 * normal()).round()),
            (Signal::Throttle, (40.0 + 150.0 * open).round() * 100.0 / 255.0),
            (Signal::PurgeCommand, (50.0 + 3.0 * normal()).round().max(0.0) * 100.0 / 255.0),
            (Signal::EngineSpeed, step(750.0 + 1500.0 * open + 8.0 * normal(), 0.25)),
            (Signal::Coolant, (80.0 + t / 60.0).round()),
        ];
        for (signal, value) in signals {
            now_us += 45_000.0 + 4_000.0 * normal();
            let at = (now_us as i64) / tick_us * tick_us;
            samples.push((signal, Instant::from_micros(at), value));
        }
    }
    samples
}

/// The same signals in one answer each round, so that they share its time.
fn answered_together(mut samples: Vec<(Signal, Instant, f64)>) -> Vec<(Signal, Instant, f64)> {
    for round in samples.chunks_mut(6) {
        let at = round[5].1;
        round.iter_mut().for_each(|sample| sample.1 = at);
    }
    samples
}

fn bytes_per_sample(chunk: &Chunk) -> f64 {
    let series: usize = chunk.series.iter().map(|it| it.places.len() + it.values.len()).sum();
    (chunk.times.len() + series) as f64 / chunk.sample_count as f64
}

fn ratio(samples: &[(Signal, Instant, f64)]) -> f64 {
    bytes_per_sample(&encode(samples).unwrap().unwrap())
}

#[test]
fn a_visit_takes_at_most_two_bytes_a_sample_with_its_time() {
    let mut random = ChaCha8Rng::seed_from_u64(5);
    let millisecond = polled_in_turn(&mut random, 1_000);
    let in_turn = ratio(&millisecond);
    assert!(in_turn <= 2.0, "in turn, times to the millisecond: {in_turn:.2}");
    let microsecond = polled_in_turn(&mut random, 1);
    let together = ratio(&answered_together(microsecond.clone()));
    assert!(together <= 2.0, "together, times to the microsecond: {together:.2}");
    // Random microseconds are 14 bits that no compression can take away.
    let worst = ratio(&microsecond);
    assert!(worst <= 3.2, "in turn, times to the microsecond: {worst:.2}");
    assert!(in_turn < worst && together < worst);
}
