//! Programs of others that hold this one's files against their own reading.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// Set where every one of them must be there, as `.ci/run` does.
const REQUIRED: &str = "STILLTANK_TEST_TOOLS";

/// A program by name. Where it is not installed this says so, and what is then not checked; where
/// it is required that is a failure.
#[track_caller]
pub(crate) fn tool(name: &str, unchecked: &str) -> Option<PathBuf> {
    let paths = std::env::var_os("PATH").unwrap_or_default();
    let found = std::env::split_paths(&paths).map(|it| it.join(name)).find(|it| it.is_file());
    if found.is_none() {
        missing(name, unchecked);
    }
    found
}

/// A Python that has the query engine.
#[track_caller]
pub(crate) fn query_engine(unchecked: &str) -> Option<PathBuf> {
    python_with("import duckdb", "duckdb", unchecked)
}

/// A Python in which this import works, from this package: the one named in the environment, else the
/// system's.
#[track_caller]
pub(crate) fn python_with(import: &str, package: &str, unchecked: &str) -> Option<PathBuf> {
    let named = std::env::var_os("STILLTANK_TEST_PYTHON").map(PathBuf::from);
    let python = named.unwrap_or_else(|| PathBuf::from("python3"));
    let has = Command::new(&python).args(["-c", import]).output();
    if has.is_ok_and(|output| output.status.success()) {
        return Some(python);
    }
    missing(package, unchecked);
    None
}

#[track_caller]
fn missing(name: &str, unchecked: &str) {
    assert!(std::env::var_os(REQUIRED).is_none(), "{name} is not installed: {unchecked}");
    // Past the test harness, which swallows what a passing test prints.
    let _ = writeln!(std::io::stderr(), "\nNOT CHECKED: {name} is not installed: {unchecked}\n");
}

/// Runs a program on a file.
pub(crate) fn run_on(program: &Path, words: &[&str], file: &Path) -> Output {
    Command::new(program).args(words).arg(file).output().unwrap()
}

/// Runs a program that reads its standard input.
pub(crate) fn feed(program: &Path, words: &[&str], bytes: &[u8]) -> Output {
    let mut child = Command::new(program)
        .args(words)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let bytes = bytes.to_vec();
    let writer = std::thread::spawn(move || input.write_all(&bytes));
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap().unwrap();
    output
}
