//! How much room a recording takes, and how long lists, searches and merges of many histories last.
//!
//! With STILLTANK_BENCH_REAL=FOLDER the histories are of real size, ten minutes of six signals a visit,
//! and stay in that folder for the next run: making them takes a quarter of an hour and 500 MB.
#![allow(
    clippy::unwrap_used,
    clippy::print_stdout,
    reason = "a benchmark that cannot run has nothing to tell, and one that can says it"
)]

use std::hint::black_box;
use std::path::Path;

use chrono::{DateTime, Utc};
use criterion::measurement::WallTime;
use criterion::{
    BatchSize, BenchmarkGroup, Criterion, Throughput, criterion_group, criterion_main,
};
use stilltank::diagnosis::{Hypothesis, Source, Verdict, VerdictOutcome, Weight};
use stilltank::evidence::{Check, CheckResult, Measure, MeasureName, Outcome, Reason};
use stilltank::store::{FillUp, NewVehicle, RepairEntry, Store, VehicleId};
use stilltank::units::{Estimate, Instant};
use stilltank::vehicle::{Fault, Signal};

const VEHICLES: usize = 2_000;
const VISITS_EACH: usize = 10;

fn minute(minutes: usize) -> DateTime<Utc> {
    DateTime::from_timestamp(1_700_000_000 + minutes as i64 * 60, 0).unwrap_or_default()
}

/// One round of six signals polled in turn, 45 ms apart with an uneven rest in milliseconds.
fn round(number: usize) -> Vec<(Signal, Instant, f64)> {
    let signals = [
        (Signal::TankPressure, 0.25, 23),
        (Signal::ManifoldPressure, 1.0, 5),
        (Signal::Throttle, 100.0 / 255.0, 3),
        (Signal::PurgeCommand, 100.0 / 255.0, 7),
        (Signal::EngineSpeed, 0.25, 101),
        (Signal::Coolant, 1.0, 2),
    ];
    signals
        .into_iter()
        .enumerate()
        .map(|(place, (signal, step, spread))| {
            let count = number * signals.len() + place;
            let uneven = count.wrapping_mul(2_654_435_761) >> 7;
            let at = count as i64 * 45_000 + (uneven % 16) as i64 * 1_000;
            let value = (40 + uneven / 16 % spread) as f64 * step;
            (signal, Instant::from_micros(at), value)
        })
        .collect()
}

fn check(vacuum: f64) -> CheckResult {
    let estimate = Estimate { value: vacuum, low: vacuum - 5.0, high: vacuum + 5.0 };
    CheckResult {
        check: Check::ThrottleFollow,
        outcome: Outcome::Fail,
        reason: Reason::FollowsThrottle,
        measures: vec![Measure { name: MeasureName::VacuumWithPurgeShut, estimate }],
        window: (Instant::ZERO, Instant::from_seconds(60.0)),
    }
}

fn verdict() -> Verdict {
    let leaking = Hypothesis::Fault(Fault::PurgeValveLeaking);
    let odds = |hypothesis| (hypothesis, if hypothesis == leaking { 0.98 } else { 0.02 / 7.0 });
    let weight = |place: usize| Weight {
        source: Source::Code(format!("P04{place:02}")),
        factor: 30.0 / 7.0,
        estimate: Some(Estimate { value: -212.0, low: -219.1, high: -204.9 }),
    };
    Verdict {
        outcome: VerdictOutcome::FaultFound,
        fault: Some(Fault::PurgeValveLeaking),
        also: None,
        probability: 0.98,
        probabilities: Hypothesis::all().map(odds).collect(),
        weights: (0..8).map(weight).collect(),
        next_check: None,
        smallest_leak_percent: None,
        smallest_leak_pa: Some(18.0),
    }
}

/// Rounds of six signals, 45 ms a signal, in ten minutes.
const TEN_MINUTES: usize = 2_222;

/// Makes the histories, `rounds` of samples a visit.
fn garage(path: &Path, rounds: usize) -> Store {
    let mut store = Store::open(path).unwrap();
    store.seed_uids(1);
    let known = store.list_vehicles("").unwrap().len();
    for number in known..VEHICLES {
        let vehicle = NewVehicle { name: format!("Vehicle {number}"), ..NewVehicle::default() };
        let vehicle = store.add_vehicle(&vehicle, minute(number)).unwrap();
        for visit in 0..VISITS_EACH {
            let now = minute(number + visit * 10_000);
            let visit = store.start_visit(vehicle, now).unwrap();
            let samples: Vec<_> = (number..number + rounds).flat_map(round).collect();
            store.append_samples(visit, &samples).unwrap();
            store.append_code(visit, Instant::ZERO, "P0496").unwrap();
            store.save_check(visit, &check(-(number as f64)), now).unwrap();
            store.save_verdict(visit, &verdict(), now).unwrap();
            let repair = RepairEntry { part: format!("part {number}"), ..RepairEntry::default() };
            store.add_repair(visit, &repair, now).unwrap();
            store.close_visit(visit, now).unwrap();
        }
        let note = format!("fill-up {number}");
        let fill_up = FillUp { filled: minute(number), note, ..FillUp::default() };
        store.add_fill_up(vehicle, &fill_up).unwrap();
    }
    store
}

fn many_histories(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().unwrap();
    let (path, rounds) = match std::env::var_os("STILLTANK_BENCH_REAL") {
        Some(folder) => (Path::new(&folder).join("garage.db"), TEN_MINUTES),
        None => (folder.path().join("garage.db"), 1),
    };
    let store = garage(&path, rounds);
    let mut group = criterion.benchmark_group(format!("{VEHICLES} vehicles"));
    group.sample_size(20);
    group.bench_function("list", |b| b.iter(|| black_box(store.list_vehicles("").unwrap())));
    group.bench_function("search", |b| {
        b.iter(|| black_box(store.list_vehicles("part 1234 0496").unwrap()));
    });
    group.bench_function("timeline", |b| {
        b.iter(|| black_box(store.timeline(VehicleId(1234)).unwrap()));
    });
    group.bench_function("visits", |b| {
        b.iter(|| black_box(store.list_visits(VehicleId(1234)).unwrap()));
    });
    drop(store);
    group.bench_function("open", |b| b.iter_with_large_drop(|| Store::open(&path).unwrap()));
    just_opened(&mut group, "list", &path, |store| store.list_vehicles("").unwrap().len());
    just_opened(&mut group, "search", &path, |store| {
        store.list_vehicles("part 1234 0496").unwrap().len()
    });
    just_opened(&mut group, "timeline", &path, |store| {
        store.timeline(VehicleId(1234)).unwrap().len()
    });
    group.finish();
    cold(&path);
}

/// The first question to a file of which the system's cache holds nothing: `dd` of coreutils has it
/// dropped. Told as the middle and the longest of ten; a criterion of its own would warm the file up.
fn cold(path: &Path) {
    type Question = fn(&Store) -> usize;
    let questions: [(&str, Question); 3] = [
        ("list", |store| store.list_vehicles("").unwrap().len()),
        ("search", |store| store.list_vehicles("part 1234 0496").unwrap().len()),
        ("timeline", |store| store.timeline(VehicleId(1234)).unwrap().len()),
    ];
    let forget = || {
        let file = format!("if={}", path.display());
        let words = [file.as_str(), "iflag=nocache", "count=0", "status=none"];
        let status = std::process::Command::new("dd").args(words).status();
        assert!(status.is_ok_and(|it| it.success()), "dd is missing");
    };
    for (name, ask) in questions {
        let mut opened = Vec::new();
        let mut answered = Vec::new();
        for _ in 0..10 {
            forget();
            let started = Instant::ZERO + clock().elapsed();
            let store = Store::open(path).unwrap();
            opened.push((Instant::ZERO + clock().elapsed()).seconds_since(started));
            forget();
            let started = Instant::ZERO + clock().elapsed();
            black_box(ask(&store));
            answered.push((Instant::ZERO + clock().elapsed()).seconds_since(started));
        }
        for (what, mut times) in [("opening", opened), (name, answered)] {
            times.sort_by(f64::total_cmp);
            let (middle, longest) = (times[times.len() / 2] * 1e3, times[times.len() - 1] * 1e3);
            println!("cold, {what}: {middle:.1} ms in the middle, {longest:.1} ms at most");
        }
    }
}

fn clock() -> std::time::Instant {
    static STARTED: std::sync::OnceLock<std::time::Instant> = std::sync::OnceLock::new();
    #[allow(clippy::disallowed_methods, reason = "a benchmark measures time")]
    *STARTED.get_or_init(std::time::Instant::now)
}

/// The first question to a database that was opened a moment ago, with nothing in its own memory.
fn just_opened(
    group: &mut BenchmarkGroup<'_, WallTime>,
    name: &str,
    path: &Path,
    ask: impl Fn(&Store) -> usize,
) {
    group.bench_function(format!("{name}, just opened"), |b| {
        b.iter_batched(
            || Store::open(path).unwrap(),
            |store| (ask(&store), store),
            BatchSize::PerIteration,
        );
    });
}

/// Visits with ten minutes of recording each, merged into an empty store.
fn merging(criterion: &mut Criterion) {
    let visits = 200;
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::open(&folder.path().join("full.db")).unwrap();
    store.seed_uids(1);
    let samples: Vec<_> = (0..TEN_MINUTES).flat_map(round).collect();
    for number in 0..visits {
        let vehicle = NewVehicle { name: format!("Vehicle {number}"), ..NewVehicle::default() };
        let vehicle = store.add_vehicle(&vehicle, minute(number)).unwrap();
        let visit = store.start_visit(vehicle, minute(number)).unwrap();
        store.append_samples(visit, &samples).unwrap();
        store.save_check(visit, &check(-(number as f64)), minute(number)).unwrap();
        store.save_verdict(visit, &verdict(), minute(number)).unwrap();
        store.close_visit(visit, minute(number + 1)).unwrap();
    }
    let bundle = folder.path().join("all");
    store.export(&bundle, None, minute(0)).unwrap();
    let mut group = criterion.benchmark_group("merge");
    group.sample_size(10).throughput(Throughput::Elements(visits as u64));
    group.bench_function("visits of ten minutes", |b| {
        b.iter_batched(
            || {
                let folder = tempfile::tempdir().unwrap();
                let store = Store::open(&folder.path().join("empty.db")).unwrap();
                (folder, store)
            },
            |(folder, mut store)| (store.import(&bundle).unwrap(), store, folder),
            BatchSize::PerIteration,
        );
    });
    group.finish();
}

fn one_recording(criterion: &mut Criterion) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("visit.db");
    let mut store = Store::open(&path).unwrap();
    let vehicle = store.add_vehicle(&NewVehicle::default(), minute(0)).unwrap();
    let visit = store.start_visit(vehicle, minute(0)).unwrap();
    let empty = backup_size(&mut store, 0);
    let samples: Vec<_> = (0..20_000).flat_map(round).collect();
    for part in samples.chunks(40) {
        store.append_samples(visit, part).unwrap();
    }
    store.close_visit(visit, minute(1)).unwrap();
    let full = backup_size(&mut store, 1);
    let mut group = criterion.benchmark_group(format!(
        "recording, {:.2} bytes a sample",
        full.saturating_sub(empty) as f64 / samples.len() as f64
    ));
    group.sample_size(20).throughput(Throughput::Elements(samples.len() as u64));
    group.bench_function("load", |b| b.iter(|| black_box(store.load_recording(visit).unwrap())));
    group.throughput(Throughput::Elements(40));
    let mut next = 20_000;
    group.bench_function("append 40 samples", |b| {
        b.iter(|| {
            next += 7;
            let samples: Vec<_> = (next..next + 7).flat_map(round).take(40).collect();
            store.append_samples(visit, &samples).unwrap()
        });
    });
    group.finish();
}

/// Bytes of a backup made on this day: the database without free pages.
fn backup_size(store: &mut Store, day: usize) -> u64 {
    let copy = store.back_up_if_due(minute(day * 24 * 60)).unwrap();
    copy.map_or(0, |copy| std::fs::metadata(copy).map_or(0, |metadata| metadata.len()))
}

criterion_group!(benches, one_recording, merging, many_histories);
criterion_main!(benches);
