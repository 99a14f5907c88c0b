//! Reports of every kind, held against checkers of HTML and PDF that others wrote.

use std::path::{Path, PathBuf};

use stilltank::report::{Block, Document, Paper, Visit, compose, compose_fleet, html, pdf};

use super::comparison::compared;
use super::fleet::fleet;
use super::{ENGLISH, GERMAN, visits};
use crate::tools::{feed, python_with, run_on, tool};

/// Set to a folder to have the documents kept there, for a look at them or a heavier checker.
const KEEP: &str = "STILLTANK_TEST_DOCUMENTS";

/// Text that no report asked for: markup, turned reading direction, a word without end, letters
/// that no font here has, control characters.
fn hostile() -> Visit {
    let mut visit = visits::repaired(ENGLISH);
    let text = "\"></td></dl><script>alert('x')</script>\u{202e}&\u{0}<!-- שלום 車 🚗 e\u{301}";
    let long = "Donaudampfschifffahrt".repeat(30);
    visit.vehicle.name = text.to_owned();
    visit.vehicle.customer = Some(long.clone());
    visit.complaint = vec![text.to_owned(), long.clone(), String::new()];
    if let Some(repair) = &mut visit.repair {
        repair.part = text.to_owned();
        repair.notes = long.clone();
        repair.lines[0].text = long;
        repair.prices[0].seller = text.to_owned();
        repair.prices[1].note = String::new();
    }
    visit
}

fn documents() -> Vec<(&'static str, Document)> {
    let mut private = visits::repaired(ENGLISH);
    private.private = true;
    let mut letter = visits::sound(GERMAN);
    letter.paper = Paper::Letter;
    let mut bare = visits::sound(ENGLISH);
    bare.recording = stilltank::recording::Recording::default();
    bare.verdict = None;
    bare.checks.clear();
    bare.codes_before = None;
    vec![
        ("sound", compose(&visits::sound(ENGLISH))),
        ("sound-german-letter", compose(&letter)),
        ("repaired", compose(&visits::repaired(ENGLISH))),
        ("repaired-german", compose(&visits::repaired(GERMAN))),
        ("compared", compose(&compared(ENGLISH))),
        ("compared-german", compose(&compared(GERMAN))),
        ("open", compose(&visits::open(ENGLISH))),
        ("private", compose(&private)),
        ("hostile", compose(&hostile())),
        ("bare", compose(&bare)),
        ("fleet", compose_fleet(&fleet(40))),
        ("fleet-empty", compose_fleet(&fleet(0))),
    ]
}

/// Where the documents lie while they are checked.
fn folder(temporary: &Path) -> PathBuf {
    let folder = std::env::var_os(KEEP).map_or_else(|| temporary.to_owned(), PathBuf::from);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

#[test]
fn html_passes_a_checker() {
    let temporary = tempfile::tempdir().unwrap();
    let folder = folder(temporary.path());
    for (name, document) in documents() {
        std::fs::write(folder.join(format!("{name}.html")), html(&document)).unwrap();
    }
    let Some(tidy) = tool("tidy", "the HTML reports were not held against a checker") else {
        return;
    };
    for (name, document) in documents() {
        // HTML lets a div hold a term with its description (HTML standard, 4.4.9); the checker's
        // version in use is older than that rule.
        let page = String::from_utf8(html(&document)).unwrap();
        let page = page.replace("<div><dt>", "<dt>").replace("</dd></div>", "</dd>");
        let words = ["-quiet", "-errors", "-utf8", "--drop-empty-elements", "no"];
        let output = feed(&tidy, &words, page.as_bytes());
        let said = String::from_utf8_lossy(&output.stderr);
        assert!(output.status.success() && said.trim().is_empty(), "{name}: {said}");
    }
}

#[test]
fn pdf_passes_a_checker() {
    let temporary = tempfile::tempdir().unwrap();
    let folder = folder(temporary.path());
    let unchecked = "the PDF reports were not held against a checker";
    let tools = ["qpdf", "pdfinfo", "pdffonts"].map(|name| tool(name, unchecked));
    for (name, document) in documents() {
        let path = folder.join(format!("{name}.pdf"));
        std::fs::write(&path, pdf(&document).unwrap()).unwrap();
        let [Some(qpdf), Some(info), Some(fonts)] = &tools else { continue };
        let checked = run_on(qpdf, &["--check"], &path);
        assert!(checked.status.success(), "{name}: {checked:?}");
        let facts = run_on(info, &[], &path);
        let facts = String::from_utf8_lossy(&facts.stdout).into_owned();
        let tagged = facts.lines().any(|line| line.starts_with("Tagged:") && line.ends_with("yes"));
        assert!(tagged, "{name}: {facts}");
        every_font_is_embedded(name, fonts, &path);
        every_cell_is_tagged(name, qpdf, &path, &document);
    }
}

/// What a validator says of each file: path, standard, whether it holds, rules held against it, rules
/// broken.
const VALIDATE: &str = "
import sys
from page import validate_pdf
for path in sys.argv[1:]:
    for profile in ('2a', 'ua1'):
        report = validate_pdf(path, profile=profile)
        broken = ' '.join(sorted({it.rule_id for it in report.failures}))
        print(path, profile, report.is_compliant, report.rules.total, broken, sep='\t')
";

/// PDF/A-2a and PDF/UA-1 by a validator that others wrote; and that it is no yes-man.
#[test]
fn pdf_conforms_to_its_standards() {
    let unchecked = "the PDF reports were not held against PDF/A-2a and PDF/UA-1";
    let import = "from page import validate_pdf";
    let Some(python) = python_with(import, "page-validation", unchecked) else { return };
    let temporary = tempfile::tempdir().unwrap();
    let mut paths = Vec::new();
    let mut write = |name: &str, bytes: &[u8]| {
        let path = temporary.path().join(name);
        std::fs::write(&path, bytes).unwrap();
        paths.push(path);
    };
    for (name, document) in documents() {
        write(name, &pdf(&document).unwrap());
    }
    // Without the words that claim the standards it keeps to neither.
    let mut spoiled = pdf(&compose(&visits::sound(ENGLISH))).unwrap();
    for claim in [b"pdfaid:part", b"pdfuaid:par"] {
        let places: Vec<usize> = (0..spoiled.len() - claim.len())
            .filter(|at| spoiled[*at..].starts_with(claim))
            .collect();
        assert!(!places.is_empty());
        places.into_iter().for_each(|at| spoiled[at + claim.len() - 1] = b'x');
    }
    write("spoiled", &spoiled);
    let output =
        std::process::Command::new(python).args(["-c", VALIDATE]).args(&paths).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let said = String::from_utf8(output.stdout).unwrap();
    assert_eq!(said.lines().count(), 2 * paths.len());
    for line in said.lines() {
        let fields: Vec<&str> = line.split('\t').collect();
        assert_eq!(fields[2] == "True", !fields[0].ends_with("spoiled"), "{line}");
        assert!(fields[3].parse::<u32>().unwrap() > 100, "{line}");
    }
}

/// Embedded, a subset, and readable back as letters: columns `emb`, `sub` and `uni`.
fn every_font_is_embedded(name: &str, fonts: &Path, path: &Path) {
    let listed = run_on(fonts, &[], path);
    let listed = String::from_utf8_lossy(&listed.stdout).into_owned();
    let rows: Vec<&str> = listed.lines().skip(2).collect();
    assert!(!rows.is_empty(), "{name}: {listed}");
    for row in rows {
        let columns: Vec<&str> = row.split_whitespace().rev().skip(2).take(3).collect();
        assert_eq!(columns, ["yes"; 3], "{name}: {row}");
    }
}

/// A table whose rows differ in length is read out wrong: an empty cell must be there too.
fn every_cell_is_tagged(name: &str, qpdf: &Path, path: &Path, document: &Document) {
    let blocks = document.sections.iter().flat_map(|section| &section.blocks);
    let cells: usize = blocks
        .map(|block| match block {
            Block::Table(table) => (table.rows.len() + 1) * table.head.len(),
            _ => 0,
        })
        .sum();
    let plain =
        feed(qpdf, &["--qdf", "--object-streams=disable", path.to_str().unwrap(), "-"], &[]);
    let plain = String::from_utf8_lossy(&plain.stdout).into_owned();
    let tagged = plain.lines().filter(|line| matches!(line.trim(), "/S /TD" | "/S /TH")).count();
    assert_eq!(tagged, cells, "{name}");
}
