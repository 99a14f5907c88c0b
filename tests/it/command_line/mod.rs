//! The program itself: its words, its files, its exit status.

mod adapters;
mod asking;
mod histories;
mod keeping;
mod network;
mod query;
mod recordings;
mod refusals;
mod whole_job;

use std::path::{Path, PathBuf};
use std::process::Command;

use tempfile::TempDir;

/// What a run of the program came to.
#[derive(Debug)]
struct Run {
    status: Option<i32>,
    data: String,
    messages: String,
}

/// A folder of its own for one test: the database lies in it, and no display is near.
struct Bench(TempDir);

impl Bench {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn write(&self, name: &str, text: &str) -> PathBuf {
        let path = self.path(name);
        std::fs::write(&path, text).unwrap();
        path
    }

    /// Runs the program with this folder as the platform's data folder.
    fn run(&self, words: &[&str]) -> Run {
        let output = Command::new(env!("CARGO_BIN_EXE_stilltank"))
            .args(words)
            .current_dir(self.0.path())
            .env("XDG_DATA_HOME", self.0.path())
            .env_remove("DISPLAY")
            .env_remove("WAYLAND_DISPLAY")
            .output()
            .unwrap();
        Run {
            status: output.status.code(),
            data: String::from_utf8(output.stdout).unwrap(),
            messages: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Runs the program, which must do its work, and returns its data.
    #[track_caller]
    fn done(&self, words: &[&str]) -> String {
        let run = self.run(words);
        assert_eq!(run.status, Some(0), "{words:?}: {run:?}");
        run.data
    }

    /// The same as JSON, held against its schema.
    #[track_caller]
    fn json(&self, schema: &str, words: &[&str]) -> serde_json::Value {
        let value = serde_json::from_str(&self.done(words)).unwrap();
        crate::json_schema::check(schema, &value);
        value
    }

    /// Runs the program, which must refuse with this status and a message that holds `needle`.
    #[track_caller]
    fn refused(&self, status: i32, needle: &str, words: &[&str]) {
        let run = self.run(words);
        assert_eq!(run.status, Some(status), "{words:?}: {run:?}");
        assert!(run.messages.contains(needle), "{words:?}: {run:?}");
        assert!(run.data.is_empty(), "{words:?}: {run:?}");
    }
}

fn text(path: &Path) -> &str {
    path.to_str().unwrap()
}
