use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Command, Stdio};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::{Store, VisitId};
use super::{Bench, batch};
use crate::recording::{Action, ActionAt, Recording};

/// Where a child finds the database that it appends to until it is killed.
const DATABASE: &str = "STILLTANK_TEST_APPEND_TO";

/// How many times a child is killed; 500 for the full run.
const CRASHES: &str = "STILLTANK_TEST_CRASHES";

/// Crashes that one visit goes through before a fresh one begins.
const CRASHES_PER_VISIT: u64 = 25;

/// Sets the pattern apart from the test program's own output.
const APPENDED: &str = "appended-batch";

/// Large enough that a run reaches the compression of a chunk.
const BATCHES_PER_CALL: usize = 300;

/// Not a fact of its own: what the killed child does. Without a database to append to it checks
/// that it would append what the parent expects.
#[test]
fn the_child_appends_until_it_is_killed() {
    let Ok(path) = std::env::var(DATABASE) else {
        assert_eq!(call(0).len(), 2 * BATCHES_PER_CALL);
        return;
    };
    let mut store = Store::open(Path::new(&path)).unwrap();
    let visit = store.open_visits().unwrap()[0];
    let start = calls_in(&store.load_recording(visit).unwrap());
    let mut output = std::io::stdout();
    for number in start.. {
        store.append_samples(visit, &call(number)).unwrap();
        let action = ActionAt { at: call(number)[0].1, action: Action::ThrottleOpened };
        store.append_actions(visit, &[action]).unwrap();
        std::io::Write::write_all(&mut output, format!("{APPENDED} {number}\n").as_bytes())
            .and_then(|()| std::io::Write::flush(&mut output))
            .unwrap();
    }
}

#[test]
fn a_killed_program_loses_nothing_that_was_appended() {
    let crashes = std::env::var(CRASHES).ok().and_then(|text| text.parse().ok()).unwrap_or(24_u64);
    let mut random = ChaCha8Rng::seed_from_u64(11);
    let mut bench = Bench::new(1);
    let visit = bench.visit("Blue estate", "");
    for crash in 0..crashes {
        // A fresh visit now and then keeps the whole run short.
        if crash % CRASHES_PER_VISIT == 0 {
            bench = Bench::new(crash);
            bench.visit("Blue estate", "");
        }
        let Bench { store, folder } = bench;
        drop(store);
        let path = folder.path().join("garage.db");
        let acknowledged = kill_while_appending(&path, &mut random);
        let store = Store::open(&path).unwrap();
        check_integrity(&store);
        check_recording(&store, visit, acknowledged, crash % CRASHES_PER_VISIT + 1);
        bench = Bench { store, folder };
    }
}

/// Starts the child, lets it append a random number of calls, kills it at no particular moment and
/// returns the last call that it reported as appended.
fn kill_while_appending(path: &Path, random: &mut ChaCha8Rng) -> Option<usize> {
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "store::tests::crash_safety::the_child_appends_until_it_is_killed"])
        .args(["--nocapture", "--test-threads=1"])
        .env(DATABASE, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut last = None;
    let mut reports = (&mut lines).map_while(Result::ok).filter_map(|line| reported(&line));
    for _ in 0..random.random_range(0..12) {
        last = reports.next().or(last);
    }
    for _ in 0..random.random_range(0..3_000_000_u32) {
        std::hint::spin_loop();
    }
    child.kill().unwrap();
    child.wait().unwrap();
    reports.last().or(last)
}

fn reported(line: &str) -> Option<usize> {
    line.split_once(APPENDED)?.1.trim().parse().ok()
}

fn call(number: usize) -> Vec<(crate::vehicle::Signal, crate::units::Instant, f64)> {
    (number * BATCHES_PER_CALL..(number + 1) * BATCHES_PER_CALL).flat_map(batch).collect()
}

/// Whole calls in a recording; a call that was cut in two would leave a rest.
fn calls_in(recording: &Recording) -> usize {
    let samples: usize = recording.signals().map(|(_, series)| series.len()).sum();
    assert_eq!(samples % (2 * BATCHES_PER_CALL), 0);
    samples / (2 * BATCHES_PER_CALL)
}

pub(super) fn check_integrity(store: &Store) {
    let found: String = store
        .connection
        .query_row("PRAGMA integrity_check", [], |row| row.get("integrity_check"))
        .unwrap();
    assert_eq!(found, "ok");
}

/// `crashes`: how often the visit was cut off; each time at most one action had not been appended.
fn check_recording(store: &Store, visit: VisitId, acknowledged: Option<usize>, crashes: u64) {
    let recording = store.load_recording(visit).unwrap();
    let calls = calls_in(&recording);
    assert!(acknowledged.is_none_or(|last| calls > last), "{acknowledged:?} of {calls}");
    let mut expected = Recording::default();
    for number in 0..calls {
        for (signal, at, value) in call(number) {
            assert!(expected.push(signal, at, value));
        }
    }
    for (signal, series) in recording.signals() {
        assert_eq!(expected.series(signal), Some(series));
    }
    let missing = calls as u64 - recording.actions().len() as u64;
    assert!(missing <= crashes, "{missing} of {calls} actions after {crashes} crashes");
}
