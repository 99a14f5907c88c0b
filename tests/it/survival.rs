//! The program killed while it records and judges: nothing older than a second is lost.

use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc::channel;

use stilltank::evidence::Observation;
use stilltank::jobs::{self, Event, LinkAddress, Workshop};
use stilltank::store::{Store, VisitId};
use stilltank::vehicle::Fault;
use stilltank::wording::Style;

/// Where a child finds the database that it records into.
const DATABASE: &str = "STILLTANK_TEST_RECORD_INTO";

/// How many times a child is killed; 500 for the full run.
const CRASHES: &str = "STILLTANK_TEST_CRASHES";

/// How many children live at once. They mostly wait: the virtual car runs at the clock's own pace.
const AT_ONCE: u64 = 4;

const TOLD: &str = "recorded";

/// Not a fact of its own: what the killed child does. It says after each turn how far the visit's
/// clock is, how many samples it took in, and how many verdicts it was told are kept. Without a
/// database it checks that what it says is understood.
#[test]
fn the_child_records_and_judges_until_it_is_killed() {
    let Ok(path) = std::env::var(DATABASE) else {
        assert_eq!(numbers(&line(1.25, 40, 3)), [1.25, 40.0, 3.0]);
        return;
    };
    let (sender, events) = channel();
    let mut workshop = Workshop::open(Path::new(&path), Style::default(), sender).unwrap();
    let name = "Blue estate".to_owned();
    let add = jobs::Command::AddVehicle { name, vin: String::new(), notes: String::new() };
    workshop.attempt(add).unwrap();
    workshop.attempt(jobs::Command::StartVisit { vehicle: 1 }).unwrap();
    let fault = Some(Fault::PurgeValveLeaking);
    let link = LinkAddress::Virtual { fault, seed: 3, real_time: true };
    workshop.attempt(jobs::Command::Connect(link)).unwrap();
    let mut output = std::io::stdout();
    let (mut samples, mut verdicts) = (0, 0);
    for turn in 0_u64.. {
        workshop.turn();
        // Judging now and then, as when the person says what they saw.
        if turn % 7 == 3 {
            let (observation, holds) = (Observation::HoseCracked, turn % 2 == 1);
            workshop.attempt(jobs::Command::Observe { observation, holds }).unwrap();
            let visit = workshop.visit().unwrap();
            verdicts = workshop.store().verdicts(visit).unwrap().len();
        }
        let mut now = None;
        for event in events.try_iter() {
            if let Event::Samples(batch) = event {
                samples += batch.samples.len();
                now = Some(batch.now.seconds());
            }
        }
        if let Some(now) = now {
            writeln!(output, "\n{}", line(now, samples, verdicts)).unwrap();
            output.flush().unwrap();
        }
    }
}

#[test]
fn a_program_killed_while_it_records_loses_no_more_than_a_second() {
    let crashes = std::env::var(CRASHES).ok().and_then(|text| text.parse().ok()).unwrap_or(8);
    std::thread::scope(|scope| {
        for first in 0..AT_ONCE {
            scope.spawn(move || {
                for crash in (first..crashes).step_by(AT_ONCE as usize) {
                    kill_after(crash);
                }
            });
        }
    });
}

/// A turn takes in 50 ms; the spin ends anywhere within one.
fn kill_after(crash: u64) {
    let scattered = crash.wrapping_mul(2_654_435_761);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("garage.db");
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "survival::the_child_records_and_judges_until_it_is_killed"])
        .args(["--nocapture", "--test-threads=1"])
        .env(DATABASE, &path)
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut lines = lines.map_while(Result::ok).filter(|line| line.starts_with(TOLD));
    let mut told: Vec<String> = lines.by_ref().take(5 + scattered as usize % 60).collect();
    assert!(!told.is_empty(), "crash {crash}: nothing recorded");
    for _ in 0..scattered % 50_000_000 {
        std::hint::spin_loop();
    }
    child.kill().unwrap();
    child.wait().unwrap();
    told.extend(lines);
    let told: Vec<[f64; 3]> = told.iter().map(|line| numbers(line)).collect();
    let last = told.last().unwrap();
    let store = Store::open(&path).unwrap();
    let record = store.load_visit(VisitId(1)).unwrap();
    let kept: usize = record.recording.signals().map(|(_, series)| series.len()).sum();
    let older = told.iter().rev().find(|it| it[0] <= last[0] - 1.0);
    let due = older.map_or(0, |it| it[1] as usize);
    assert!(kept >= due, "crash {crash}: {kept} of {due} samples that were older than a second");
    assert!(record.verdicts.len() >= last[2] as usize, "crash {crash}: a verdict is missing");
}

fn line(now: f64, samples: usize, verdicts: usize) -> String {
    format!("{TOLD} {now} {samples} {verdicts}")
}

fn numbers(line: &str) -> [f64; 3] {
    let mut words = line.split(' ').skip(1).map(|word| word.trim().parse().unwrap());
    std::array::from_fn(|_| words.next().unwrap())
}
