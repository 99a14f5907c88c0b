//! Time to draw a strip at tablet size, four traces over ten minutes.

use criterion::{Criterion, criterion_group, criterion_main};
use slint::Rgb8Pixel;
use stilltank::ui::strip::{Extent, Lane, Look, RailSpan, Spec, Trace, TraceKind, draw};

/// Ten minutes at ten readings a second, in steps of 4 Pa.
fn trace(middle: f64, swing: f64) -> Vec<(f64, f64)> {
    (0..6000_u32)
        .map(|i| {
            let time = f64::from(i) * 0.1;
            let noise = f64::from(i.wrapping_mul(2_654_435_761) >> 16) / 32_768.0 - 1.0;
            let value = middle + swing * (time * 0.3).sin() + noise * 8.0;
            (time, (value / 4.0).round() * 4.0)
        })
        .collect()
}

fn spec() -> Spec {
    let lane = |kind, middles: &[f64], extent| Lane {
        name: String::new(),
        extent,
        low: -500.0,
        high: 100.0,
        traces: middles
            .iter()
            .map(|middle| Trace { kind, pieces: vec![trace(*middle, 90.0)], name: String::new() })
            .collect(),
        rails: vec![RailSpan { from: 60.0, until: 540.0, low: -27.0, high: 21.0 }],
        landing: Vec::new(),
        landing_words: String::new(),
        scale_words: String::new(),
        dimension: None,
    };
    Spec {
        seconds: (0.0, 600.0),
        lanes: vec![
            lane(TraceKind::Area, &[-300.0], Extent::Fixed(150.0)),
            lane(TraceKind::Judged, &[-200.0, -350.0, -60.0], Extent::Rest),
        ],
        now: Some(599.0),
        text_scale: 1.0,
        ..Spec::default()
    }
}

fn chart(bench: &mut Criterion) {
    let grey = |value| Rgb8Pixel { r: value, g: value, b: value };
    let look = Look { paper: grey(250), ink: grey(20), fail: grey(90), ..Look::default() };
    let spec = spec();
    bench.bench_function("strip 1280 x 800, four traces, ten minutes", |b| {
        b.iter(|| draw(std::hint::black_box(&spec), &look, 1280.0, 800.0, 1.0));
    });
}

criterion_group!(benches, chart);
criterion_main!(benches);
