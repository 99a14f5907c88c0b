//! Reports of invented visits.

mod checkers;
mod comparison;
mod fleet;
mod hardship;
mod visits;

use crate::json_schema;
use crate::tools::{feed, tool};
use stilltank::report::{Paper, Visit, compose, csv, html, json, pdf, plain_text};
use stilltank::wording::{Language, PressureUnit, Style};

const ENGLISH: Style = Style { language: Language::English, pressure: PressureUnit::Pascal };
const GERMAN: Style = Style { language: Language::German, pressure: PressureUnit::Kilopascal };

/// Largest document that is allowed, bytes.
const LARGEST: usize = 600 * 1024;

fn page(visit: &Visit) -> String {
    String::from_utf8(html(&compose(visit))).unwrap()
}

/// What `pdftotext` reads, or nothing where the tool is not installed.
fn read_back(bytes: &[u8]) -> Option<String> {
    let reader = tool("pdftotext", "the PDF's words were not read back")?;
    let output = feed(&reader, &["-enc", "UTF-8", "-", "-"], bytes);
    Some(String::from_utf8(output.stdout).unwrap())
}

#[test]
fn document_reads_as_its_snapshot() {
    let text = plain_text(&compose(&visits::repaired(ENGLISH)));
    let kept = include_str!("repaired.txt");
    if text != kept {
        let path = std::env::temp_dir().join("stilltank-repaired.txt");
        std::fs::write(&path, &text).unwrap();
        let differs = text.lines().zip(kept.lines()).find(|(new, old)| new != old);
        panic!(
            "the document differs from tests/it/report/repaired.txt: {differs:?}; the new one is {path:?}"
        );
    }
}

#[test]
fn page_stands_alone() {
    let page = page(&visits::repaired(ENGLISH));
    for outside in ["http", "src=", "href=", "url(", "@import", "<script", "<link", "<iframe"] {
        assert!(!page.contains(outside), "{outside}");
    }
    let rest = page.split("@page").nth(1).unwrap();
    assert!(!rest.contains(": @"), "a colour role was not replaced");
}

#[test]
fn hostile_names_are_text() {
    let mut visit = visits::repaired(ENGLISH);
    let hostile = "\"><script>alert('x')</script>\u{202e}&\u{0}";
    visit.vehicle.name = hostile.to_owned();
    visit.vehicle.customer = Some(hostile.to_owned());
    visit.complaint = vec![hostile.to_owned()];
    if let Some(repair) = &mut visit.repair {
        repair.part = hostile.to_owned();
        repair.lines[0].text = "=HYPERLINK(1)".to_owned();
    }
    let page = page(&visit);
    assert!(!page.contains("<script") && !page.contains('\u{202e}') && !page.contains('\u{0}'));
    assert!(page.contains("&lt;script&gt;alert(&#39;x&#39;)&lt;/script&gt;"));
    let rows = String::from_utf8(csv(&visit).unwrap()).unwrap();
    assert!(rows.contains("'=HYPERLINK"));
    assert!(pdf(&compose(&visit)).unwrap().starts_with(b"%PDF-"));
}

#[test]
fn letters_without_a_glyph_do_not_stop_the_pdf() {
    let mut visit = visits::sound(GERMAN);
    visit.vehicle.name = "車 🚗 שלום e\u{301} ﬁ".to_owned();
    let bytes = pdf(&compose(&visit)).unwrap();
    assert!(bytes.starts_with(b"%PDF-"));
}

#[test]
fn pdf_reads_in_order() {
    let visit = visits::repaired(ENGLISH);
    let document = compose(&visit);
    let bytes = pdf(&document).unwrap();
    assert!(bytes.len() <= LARGEST, "{}", bytes.len());
    let Some(text) = read_back(&bytes) else { return };
    let words: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let mut from = 0;
    for wanted in [
        "Vapour system report",
        "Verdict",
        "Fault found",
        "The purge valve leaks when it should be shut (98 % sure).",
        "Complaint and what the car said",
        "P0496",
        "Checks",
        "Throttle follow",
        "Why this verdict",
        "Repair",
        "Purge valve replaced",
        "103.50",
        "Proof",
        "Repair proven",
        "Not tested",
        "How the numbers were obtained",
    ] {
        let place = words[from..].find(wanted).unwrap_or_else(|| panic!("{wanted} in: {words}"));
        from += place;
    }
}

#[test]
fn pdf_is_tagged_and_archivable() {
    for paper in [Paper::A4, Paper::Letter] {
        let mut visit = visits::open(GERMAN);
        visit.paper = paper;
        let bytes = pdf(&compose(&visit)).unwrap();
        let holds = |wanted: &[u8]| bytes.windows(wanted.len()).any(|window| window == wanted);
        assert!(holds(b"pdfaid:part") && holds(b"pdfuaid:part"));
        assert!(bytes.len() <= LARGEST, "{}", bytes.len());
    }
}

#[test]
fn virtual_visit_says_so_on_every_page() {
    let document = compose(&visits::open(ENGLISH));
    let mark = document.virtual_mark.clone().unwrap();
    assert!(page(&visits::open(ENGLISH)).matches(&mark).count() >= 2);
    let Some(text) = read_back(&pdf(&document).unwrap()) else { return };
    let pages = text.matches('\u{c}').count();
    let words: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.matches(&mark).count() >= pages, "{pages} pages");
    assert!(json(&visits::open(ENGLISH)).unwrap().windows(15).any(|it| it == b"\"virtual\": true"));
}

#[test]
fn numbers_in_the_formats_are_those_passed_in() {
    let visit = visits::repaired(ENGLISH);
    let value: serde_json::Value = serde_json::from_slice(&json(&visit).unwrap()).unwrap();
    assert_eq!(value["schema"], 1);
    assert_eq!(value["verdict"]["probability"], 0.984);
    let rows = String::from_utf8(csv(&visit).unwrap()).unwrap();
    let page = page(&visit);
    for (place, record) in visit.checks.iter().enumerate() {
        for (row, measure) in record.result.measures.iter().enumerate() {
            let shown = &value["checks"][place]["measures"][row];
            assert_eq!(shown["name"], measure.name.name());
            // The reader of JSON may round the last bit of a double.
            let value = shown["value"].as_f64().unwrap();
            assert!((value - measure.estimate.value).abs() <= 1e-14 * value.abs(), "{value}");
            assert_eq!(shown["low"].is_null(), measure.estimate.low.is_infinite());
            let start = format!(
                "{},{},,{}",
                record.result.check.name(),
                measure.name.name(),
                measure.estimate.value
            );
            assert!(rows.contains(&start), "{start}");
        }
    }
    assert!(page.contains("−209\u{a0}Pa (−216 to −202)"));
    for row in rows.lines().skip(1) {
        let fields = ::csv::ReaderBuilder::new()
            .has_headers(false)
            .from_reader(row.as_bytes())
            .records()
            .next()
            .unwrap()
            .unwrap();
        assert_eq!(fields.len(), 8, "{row}");
    }
}

#[test]
fn private_report_names_nobody() {
    let mut visit = visits::repaired(ENGLISH);
    visit.private = true;
    visit.complaint.push("A. Example says 9ZZAB12C0R1000001 smells".to_owned());
    let outputs = [
        html(&compose(&visit)),
        csv(&visit).unwrap(),
        json(&visit).unwrap(),
        plain_text(&compose(&visit)).into_bytes(),
    ];
    for output in outputs {
        let text = String::from_utf8(output).unwrap();
        assert!(!text.contains("A. Example") && !text.contains("9ZZAB12C0R1000001"), "{text}");
        assert!(text.contains("…000001"));
    }
}

#[test]
fn units_and_language_are_the_readers() {
    let text = plain_text(&compose(&visits::repaired(GERMAN)));
    assert!(text.contains("−0,209\u{a0}kPa (−0,216 bis −0,202)"), "{text}");
    assert!(text.contains("103,50"));
    for english in [" the ", "Pass", "Fail", "Verdict", "sure"] {
        let own: Vec<&str> = text.lines().filter(|line| line.contains(english)).collect();
        assert!(
            own.iter().all(|line| line.contains("Flow while")
                || line.contains("Starts badly")
                || line.contains("The old valve")),
            "{english}: {own:?}"
        );
    }
}

#[test]
fn json_keeps_to_its_schema() {
    for visit in [visits::sound(ENGLISH), visits::repaired(GERMAN), visits::open(ENGLISH)] {
        let value: serde_json::Value = serde_json::from_slice(&json(&visit).unwrap()).unwrap();
        json_schema::check("report", &value);
    }
}

#[test]
fn empty_visit_is_a_document_too() {
    let mut visit = visits::sound(ENGLISH);
    visit.recording = stilltank::recording::Recording::default();
    visit.verdict = None;
    visit.checks.clear();
    visit.codes_before = None;
    let text = plain_text(&compose(&visit));
    assert!(text.contains("There is no verdict"));
    assert!(text.contains("– (not read)"));
    assert!(pdf(&compose(&visit)).is_ok());
    assert!(!html(&compose(&visit)).is_empty());
}

/// The fit lies dashed over the trace, its caption names the number it gave, and the JSON holds it.
#[test]
fn fits_stand_in_every_format() {
    let visit = visits::repaired(ENGLISH);
    let drawn = page(&visit);
    assert!(drawn.contains("stroke-dasharray=\"6 4\"") && drawn.contains(">its bounds<"));
    let text = plain_text(&compose(&visit));
    assert!(text.contains("Dashed: the fit that gave “Time constant of the return”"), "{text}");
    let german = plain_text(&compose(&visits::repaired(GERMAN)));
    assert!(german.contains("Gestrichelt: die Anpassung, aus der „Zeitkonstante"), "{german}");
    let value: serde_json::Value = serde_json::from_slice(&json(&visit).unwrap()).unwrap();
    let checks = value["checks"].as_array().unwrap();
    let returned = checks.iter().find(|it| it["check"] == "unplug_recovery").unwrap();
    let fit = &returned["fits"][0];
    assert_eq!(fit["measure"], "recovery_time");
    assert_eq!(fit["points"][0].as_array().unwrap().len(), 4);
}
