use std::io::{IsTerminal, Write};
use std::process::ExitCode;

use serde::Serialize;

/// Shows what the parser has to say: help and version are data, a wrong word is a message. The
/// status is the parser's own, 2 for wrong words.
pub(super) fn usage(error: &clap::Error) -> ExitCode {
    drop(error.print());
    ExitCode::from(u8::try_from(error.exit_code()).unwrap_or(2))
}

/// The only place that prints: data to standard output, messages and progress to standard error.
#[derive(Debug)]
pub(super) struct Output {
    shows_progress: bool,
    shows_colours: bool,
    progress_shown: usize,
}

impl Output {
    /// Progress is shown where standard error is a terminal; colours where standard output is one
    /// and nobody asked for none: NO_COLOR set to anything, or a terminal called dumb (common
    /// practice).
    pub(super) fn new() -> Self {
        let unwanted = std::env::var_os("NO_COLOR").is_some_and(|it| !it.is_empty())
            || std::env::var_os("TERM").is_some_and(|it| it == "dumb");
        Self {
            shows_progress: std::io::stderr().is_terminal(),
            shows_colours: std::io::stdout().is_terminal() && !unwanted,
            progress_shown: 0,
        }
    }

    /// Whether data may be coloured.
    pub(super) fn shows_colours(&self) -> bool {
        self.shows_colours
    }

    /// Data, one line or more, to standard output.
    ///
    /// A reader that went away is no failure of the work, so nothing is made of it.
    pub(super) fn data(&mut self, text: &str) {
        self.clear_progress();
        let mut out = std::io::stdout().lock();
        drop(writeln!(out, "{text}").and_then(|()| out.flush()));
    }

    /// Data as JSON to standard output.
    pub(super) fn json(&mut self, value: &impl Serialize) {
        match serde_json::to_string_pretty(value) {
            Ok(text) => self.data(&text),
            Err(error) => self.message(&format!("could not be written as JSON: {error}")),
        }
    }

    /// A message to standard error.
    pub(super) fn message(&mut self, text: &str) {
        self.clear_progress();
        drop(writeln!(std::io::stderr().lock(), "{text}"));
    }

    /// How far a long work is, on one line that is written over.
    pub(super) fn progress(&mut self, text: &str) {
        if !self.shows_progress {
            return;
        }
        let width = text.chars().count();
        let blank = " ".repeat(self.progress_shown.saturating_sub(width));
        let mut out = std::io::stderr().lock();
        drop(write!(out, "\r{text}{blank}").and_then(|()| out.flush()));
        self.progress_shown = width;
    }

    fn clear_progress(&mut self) {
        if self.progress_shown > 0 {
            let blank = " ".repeat(self.progress_shown);
            let mut out = std::io::stderr().lock();
            drop(write!(out, "\r{blank}\r").and_then(|()| out.flush()));
            self.progress_shown = 0;
        }
    }
}
