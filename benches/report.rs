//! How long a report takes. Limits: HTML 150 ms, PDF 400 ms.
#![allow(clippy::unwrap_used, reason = "the visits are shared with the tests, which unwrap")]

#[path = "../tests/it/report/visits.rs"]
mod visits;

use criterion::{Criterion, criterion_group, criterion_main};
use stilltank::report::{compose, html, pdf};
use stilltank::wording::Style;

fn report(bench: &mut Criterion) {
    let visit = visits::repaired(Style::default());
    bench.bench_function("report html", |bench| bench.iter(|| html(&compose(&visit))));
    bench.bench_function("report pdf", |bench| bench.iter(|| pdf(&compose(&visit))));
    let others = [visits::sound(Style::default()), visits::open(Style::default())];
    bench.bench_function("report html of two more", |bench| {
        bench.iter(|| others.iter().map(|visit| html(&compose(visit)).len()).sum::<usize>());
    });
}

criterion_group!(benches, report);
criterion_main!(benches);
