use std::collections::BTreeMap;

use super::{date_and_time, section};
use crate::report::document::{Block, Section, Table};
use crate::report::visit::{CodeRecord, Visit};
use crate::wording::{Language, observation};

/// Why the person came, what the car said, and what was observed by hand.
pub(super) fn complaint_and_codes(visit: &Visit) -> Option<Section> {
    let language = visit.style.language;
    let mut blocks = Vec::new();
    if !visit.complaint.is_empty() {
        blocks.push(heading(language.of("Complaint", "Beanstandung")));
        blocks.push(Block::List(visit.complaint.iter().map(|it| visit.shown_text(it)).collect()));
    }
    blocks.push(heading(language.of("Trouble codes", "Fehlercodes")));
    blocks.extend(codes(visit));
    if let Some(cleared) = &visit.cleared {
        let at = date_and_time(cleared, language);
        blocks.push(Block::Text(match language {
            Language::English => format!(
                "Codes were cleared on {at}. Monitors start over, and an inspection has to wait for them; permanent codes stay until the car itself is satisfied."
            ),
            Language::German => format!(
                "Die Codes wurden gelöscht: {at}. Die Überwachungen beginnen von vorn, eine Prüfung muss auf sie warten; permanente Codes bleiben, bis das Auto selbst zufrieden ist."
            ),
        }));
    }
    if !visit.readiness.is_empty() {
        blocks.push(heading(language.of("Readiness", "Prüfbereitschaft")));
        let rows = visit.readiness.iter().map(|(name, complete)| {
            let word = if *complete {
                language.of("complete", "abgeschlossen")
            } else {
                language.of("not complete", "nicht abgeschlossen")
            };
            vec![name.clone(), word.to_owned()]
        });
        blocks.push(Block::Table(Table {
            head: vec![
                language.of("Monitor", "Überwachung").to_owned(),
                language.of("State", "Stand").to_owned(),
            ],
            rows: rows.collect(),
            widths: vec![0.66, 0.34],
            right: vec![false, false],
        }));
    }
    if !visit.observations.is_empty() {
        blocks.push(heading(language.of("Seen by hand", "Von Hand geprüft")));
        let seen = visit.observations.iter().map(|it| observation(*it, language).to_owned());
        blocks.push(Block::List(seen.collect()));
    }
    Some(section(
        language.of("Complaint and what the car said", "Beanstandung und was das Auto sagt"),
        blocks,
    ))
}

fn heading(text: &str) -> Block {
    Block::Subheading { text: text.to_owned(), outcome: None }
}

fn codes(visit: &Visit) -> Vec<Block> {
    let language = visit.style.language;
    let Some(before) = &visit.codes_before else {
        let text = language.of("– (not read)", "– (nicht gelesen)");
        return vec![Block::Text(text.to_owned())];
    };
    let after = visit.codes_after.as_deref();
    // Every code that was there at either time, once.
    let mut all: BTreeMap<&str, (Option<&CodeRecord>, Option<&CodeRecord>)> = BTreeMap::new();
    for code in before {
        all.entry(&code.code).or_default().0 = Some(code);
    }
    for code in after.unwrap_or_default() {
        all.entry(&code.code).or_default().1 = Some(code);
    }
    if all.is_empty() {
        let text = language.of("None.", "Keine.");
        return vec![Block::Text(text.to_owned())];
    }
    let mut head = vec![
        language.of("Code", "Code").to_owned(),
        language.of("Meaning", "Bedeutung").to_owned(),
        language.of("At the start", "Zu Beginn").to_owned(),
    ];
    let mut widths = vec![0.12, 0.64, 0.24];
    if after.is_some() {
        head.push(language.of("At the end", "Am Ende").to_owned());
        widths = vec![0.12, 0.44, 0.22, 0.22];
    }
    let rows = all.into_iter().map(|(code, (start, end))| {
        let meaning = start.or(end).map_or("–", |known| known.meaning.as_str());
        let mut row = vec![code.to_owned(), meaning.to_owned(), kinds(start, language)];
        if after.is_some() {
            row.push(kinds(end, language));
        }
        row
    });
    let right = vec![false; head.len()];
    vec![Block::Table(Table { head, rows: rows.collect(), widths, right })]
}

fn kinds(code: Option<&CodeRecord>, language: Language) -> String {
    let Some(code) = code else {
        return language.of("none", "keiner").to_owned();
    };
    let mut kinds = Vec::new();
    if code.stored {
        kinds.push(language.of("stored", "gespeichert"));
    }
    if code.pending {
        kinds.push(language.of("pending", "vorläufig"));
    }
    if code.permanent {
        kinds.push(language.of("permanent", "permanent"));
    }
    if kinds.is_empty() { "–".to_owned() } else { kinds.join(", ") }
}
