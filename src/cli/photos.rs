use std::path::PathBuf;

use chrono::Utc;
use serde::Serialize;

use super::arguments::Photos;
use super::{Failure, Output};
use crate::jobs::{MachineClock, PhotoLine, PhotoState, VisitPhotos};
use crate::wording::{self, Language};

/// Number of the layout below.
const SCHEMA: u32 = 1;

/// Lists a visit's pictures, after one was added or taken out.
pub(super) fn run(
    arguments: &Photos,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let now: chrono::DateTime<Utc> = MachineClock::start().date();
    let mut visit = VisitPhotos::open(&database, arguments.visit)?;
    if let Some(file) = &arguments.add {
        visit.add(file, &arguments.caption, now)?;
    }
    if let Some(id) = arguments.remove {
        visit.remove(id, now)?;
    }
    let lines = visit.list()?;
    if arguments.json {
        let photos = lines.iter().map(photo).collect();
        output.json(&Layout { schema: SCHEMA, visit: arguments.visit, photos });
    } else if lines.is_empty() {
        output.message("The visit has no picture.");
    } else {
        output.data(&lines.iter().map(in_words).collect::<Vec<_>>().join("\n"));
    }
    Ok(())
}

#[derive(Serialize)]
struct Layout {
    schema: u32,
    visit: i64,
    photos: Vec<Photo>,
}

#[derive(Serialize)]
struct Photo {
    id: i64,
    caption: String,
    added: String,
    file: String,
    size_byte: u64,
    state: &'static str,
}

fn photo(line: &PhotoLine) -> Photo {
    Photo {
        id: line.id,
        caption: line.caption.clone(),
        added: line.added.to_rfc3339(),
        file: line.path.display().to_string(),
        size_byte: line.size_byte,
        state: match line.state {
            PhotoState::Whole(_) => "whole",
            PhotoState::Missing => "missing",
            PhotoState::Changed => "changed",
            PhotoState::Unreadable(_) => "unreadable",
        },
    }
}

fn in_words(line: &PhotoLine) -> String {
    let size = wording::number(line.size_byte as f64 / 1000.0, 0, Language::English);
    let state = match line.state {
        PhotoState::Whole(_) => "",
        PhotoState::Missing => "; its file is missing",
        PhotoState::Changed => "; its file is not the one that was added",
        PhotoState::Unreadable(_) => "; its file cannot be read",
    };
    let caption = if line.caption.is_empty() { "–" } else { &line.caption };
    let day = line.added.format("%Y-%m-%d");
    format!("{} {day} {caption} ({size} kB{state}): {}", line.id, line.path.display())
}
