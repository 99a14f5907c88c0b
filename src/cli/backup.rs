use std::path::PathBuf;

use super::arguments::{Backup, Salvage};
use super::{Failure, Output};
use crate::jobs::{MachineClock, back_up, backups, restore, salvage};
use crate::wording::{self, Language};

/// Copies the database, lists the copies, or puts one in its place.
pub(super) fn run(
    arguments: &Backup,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    if let Some(copy) = &arguments.restore {
        let kept = restore(&database, copy)?;
        output.message(&format!("{} is in place.", copy.display()));
        if let Some(kept) = kept {
            output.message(&format!("What stood there is kept: {}", kept.display()));
        }
        return Ok(());
    }
    if !arguments.list {
        let copy = back_up(&database, MachineClock::start())?;
        output.message(&format!("Copied: {}", copy.display()));
        return Ok(());
    }
    let lines = backups(&database)?;
    if lines.is_empty() {
        output.message("There is no copy of the database yet.");
        return Ok(());
    }
    let shown = lines.iter().map(|line| {
        let day = line.day.map_or("before a change".to_owned(), |day| day.to_string());
        let size = wording::number(line.size_byte as f64 / 1000.0, 0, Language::English);
        format!("{day} ({size} kB): {}", line.path.display())
    });
    output.data(&shown.collect::<Vec<_>>().join("\n"));
    Ok(())
}

/// Saves what can be read of a damaged database, and says what was saved and what was not.
pub(super) fn run_salvage(arguments: &Salvage, output: &mut Output) -> Result<(), Failure> {
    let salvaged = salvage(&arguments.damaged, &arguments.out)?;
    let mut lines = Vec::new();
    for (table, rows) in &salvaged.saved {
        let lost = match salvaged.lost.get(table) {
            Some(lost) => format!(", {lost} lost"),
            None => String::new(),
        };
        lines.push(format!("{table}: {rows} saved{lost}"));
    }
    for (table, lost) in salvaged.lost.iter().filter(|(it, _)| !salvaged.saved.contains_key(*it)) {
        lines.push(format!("{table}: {lost} lost"));
    }
    lines.extend(salvaged.unreadable.iter().map(|table| format!("{table}: nothing readable")));
    output.data(&lines.join("\n"));
    output.message(&format!("Saved into {}", arguments.out.display()));
    Ok(())
}
