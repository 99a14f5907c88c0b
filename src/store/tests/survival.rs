use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Child, Command, Stdio};

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::super::{Store, StoreError};
use super::steps::{STEPS, contents, copy, prepare, step};
use super::{crash_safety, merging};

/// Where a child finds the database that it makes its steps on.
const DATABASE: &str = "STILLTANK_TEST_STEPS_ON";

/// How many times a child is killed; 500 for the full run.
const CRASHES: &str = "STILLTANK_TEST_CRASHES";

/// How often a disk fills up; 200 for the full run.
const FULL_DISKS: &str = "STILLTANK_TEST_FULL_DISKS";

/// Sets what the child says apart from the test program's own output.
const DONE: &str = "step-done";
const REFUSED: &str = "step-refused";

/// Not a fact of its own: what the killed or starved child does. Without a database it checks that
/// it would come to what the parent expects.
#[test]
fn the_child_makes_its_steps_until_it_is_stopped() {
    let Ok(path) = std::env::var(DATABASE) else {
        let contents = contents();
        assert_eq!(contents.len(), STEPS + 1);
        assert!(contents.windows(2).all(|pair| pair[0] != pair[1]), "each step leaves a trace");
        return;
    };
    let mut output = std::io::stdout();
    let mut say = |words: String| output.write_all(words.as_bytes()).and_then(|()| output.flush());
    let mut store = match Store::open(Path::new(&path)) {
        Ok(store) => store,
        Err(error) => return say(format!("\n{REFUSED} {error:?}\n")).unwrap(),
    };
    for number in 0..STEPS {
        match step(&mut store, number) {
            Ok(()) => say(format!("\n{DONE} {number}\n")).unwrap(),
            Err(error) => return say(format!("\n{REFUSED} {error:?}\n")).unwrap(),
        }
    }
}

fn child(program: &mut Command, path: &Path) -> Child {
    program
        .args(["--exact", "store::tests::survival::the_child_makes_its_steps_until_it_is_stopped"])
        .args(["--nocapture", "--test-threads=1"])
        .env(DATABASE, path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap()
}

fn count(name: &str, usual: u64) -> u64 {
    std::env::var(name).ok().and_then(|text| text.parse().ok()).unwrap_or(usual)
}

/// Killed while it records, judges, keeps repairs and merges: what was acknowledged is there, the
/// step that was cut off is there whole or not at all, and nothing else changed.
#[test]
fn a_program_killed_at_any_moment_keeps_every_step_whole() {
    let (contents, prepared) = (contents(), prepare());
    let mut random = ChaCha8Rng::seed_from_u64(12);
    for crash in 0..count(CRASHES, 40) {
        let folder = tempfile::tempdir().unwrap();
        let path = copy(prepared.path(), folder.path());
        let mut child = child(&mut Command::new(std::env::current_exe().unwrap()), &path);
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let mut steps = lines.map_while(Result::ok).filter(|line| line.starts_with(DONE));
        let wanted = random.random_range(0..STEPS);
        let before = steps.by_ref().take(wanted).count();
        for _ in 0..random.random_range(0..40_000_000_u32) {
            std::hint::spin_loop();
        }
        child.kill().unwrap();
        child.wait().unwrap();
        let acknowledged = before + steps.count();
        let store = Store::open(&path).unwrap();
        crash_safety::check_integrity(&store);
        let found = merging::content(&store);
        let reached = contents.iter().position(|it| *it == found);
        let reached =
            reached.unwrap_or_else(|| panic!("crash {crash}: a step that was cut in two"));
        assert!(reached >= acknowledged, "crash {crash}: {acknowledged} done, {reached} there");
        store.connection.execute_batch("PRAGMA foreign_key_check").unwrap();
    }
}

/// The engine is given so many pages and no more, from any step on.
#[test]
fn a_disk_that_fills_up_at_any_step_costs_that_step_alone() {
    let (contents, prepared) = (contents(), prepare());
    let mut random = ChaCha8Rng::seed_from_u64(13);
    let mut refused_by_step = std::collections::BTreeSet::new();
    for round in 0..count(FULL_DISKS, 25) {
        let folder = tempfile::tempdir().unwrap();
        let path = copy(prepared.path(), folder.path());
        let mut store = Store::open(&path).unwrap();
        let (from, more) = (random.random_range(0..STEPS), random.random_range(0..40_i64));
        let limit = |store: &Store, pages: i64| {
            store.connection.pragma_update(None, "max_page_count", pages).unwrap();
        };
        let mut number = 0;
        while number < STEPS {
            if number == from {
                let sql = &store.connection;
                let pages: i64 =
                    sql.pragma_query_value(None, "page_count", |row| row.get(0)).unwrap();
                limit(&store, pages + more);
            }
            match step(&mut store, number) {
                Ok(()) => number += 1,
                Err(StoreError::DiskFull { .. }) => break,
                Err(error) => panic!("round {round}, step {number}: {error:?}"),
            }
        }
        if number < STEPS {
            refused_by_step.insert(number % 13);
            // Room is made, and the step is made again.
            limit(&store, 1 << 30);
            step(&mut store, number).unwrap();
            number += 1;
        }
        drop(store);
        let store = Store::open(&path).unwrap();
        crash_safety::check_integrity(&store);
        assert!(merging::content(&store) == contents[number], "round {round}, step {number}");
    }
    assert!(refused_by_step.len() >= 3, "{refused_by_step:?}");
}

/// A file system of a few hundred kilobytes, mounted for the child alone. Where the system lets
/// nobody mount one, the test says so and the engine's own limit above is all that is tried.
#[test]
#[cfg(target_os = "linux")]
fn a_small_file_system_that_fills_up_costs_the_last_step_alone() {
    let probe = tempfile::tempdir().unwrap();
    let possible = Command::new("unshare")
        .args(["-Urm", "mount", "-t", "tmpfs", "none"])
        .arg(probe.path())
        .stderr(Stdio::null())
        .status();
    if !possible.is_ok_and(|status| status.success()) {
        std::io::stderr().write_all(b"no small file system can be mounted here\n").unwrap();
        return;
    }
    let (contents, prepared) = (contents(), prepare());
    let mut random = ChaCha8Rng::seed_from_u64(14);
    let mut refused = 0;
    for round in 0..count(FULL_DISKS, 12) {
        let place = tempfile::tempdir().unwrap();
        // The file system goes away with the child, so the child copies what it reached out of it.
        let out = tempfile::tempdir().unwrap();
        let kilobytes = random.random_range(900..2_600);
        let script = "mount -t tmpfs -o size=${0}k none \"$1\" && cp \"$2\"/* \"$1\"; place=$1; \
                      out=$3; shift 3; \"$@\"; cp -r \"$place\"/garage.db* \"$out\"";
        let mut program = Command::new("unshare");
        program.args(["-Urm", "sh", "-c", script]).arg(kilobytes.to_string());
        program.arg(place.path()).arg(prepared.path()).arg(out.path());
        program.arg(std::env::current_exe().unwrap());
        let mut child = child(&mut program, &place.path().join("garage.db"));
        let lines = BufReader::new(child.stdout.take().unwrap()).lines().map_while(Result::ok);
        let lines: Vec<String> = lines.collect();
        child.wait().unwrap();
        let done = lines.iter().filter(|line| line.starts_with(DONE)).count();
        if let Some(error) = lines.iter().find(|line| line.starts_with(REFUSED)) {
            refused += 1;
            assert!(error.contains("DiskFull"), "round {round}: {error}");
        }
        let store = Store::open(&out.path().join("garage.db")).unwrap();
        crash_safety::check_integrity(&store);
        assert!(
            merging::content(&store) == contents[done],
            "round {round}, {kilobytes} kB, {done}"
        );
    }
    assert!(refused > 0, "the file systems were too large");
}
