//! No text is cut where words are 40 % larger, which takes the room of words 40 % longer.

use i_slint_backend_testing::{ElementHandle, ElementQuery};
use rustybuzz::{Face, UnicodeBuffer};
use stilltank::ui::stage::{Screen, Stage};
use stilltank::wording::Language;

use crate::stage::{PHONE, TABLET, settle, stage};

const REGULAR: &[u8] = include_bytes!("../../ui/fonts/IBMPlexSans-Regular.ttf");
const STRONG: &[u8] = include_bytes!("../../ui/fonts/IBMPlexSans-SemiBold.ttf");

/// What a control unit calls itself is the car's own, and may be one long word.
const UNITS_OWN_WORDS: [&str; 1] = ["ECM-EngineControl"];

/// A line of this family is 1.30 em high before the styles' factors, of which none is below 0.9.
const LEAST_LINE: f32 = 1.30 * 0.9;

/// A type style: size and tracking in logical pixels, and whether it is strong.
struct Style {
    size: f32,
    tracking: f32,
    strong: bool,
}

/// The type style of this name at this scale of words.
fn style(name: &str, scale: f32, wide: bool) -> Option<Style> {
    let large = 1.0 + (scale - 1.0) * 0.35;
    let plain = |size: f32, strong| Some(Style { size: size * scale, tracking: 0.0, strong });
    let big = |size: f32, tracking| Some(Style { size: size * large, tracking, strong: true });
    match (name, wide) {
        ("Body", _) => plain(16.0, false),
        ("Strong", _) => plain(16.0, true),
        ("Small", _) => plain(14.0, false),
        ("SmallStrong" | "Label", _) => plain(14.0, true),
        ("Axis", _) => plain(13.0, false),
        ("Name", _) => plain(18.0, true),
        ("Title", _) => plain(20.0, true),
        ("Sentence", true) => big(32.0, -0.3),
        ("Sentence", false) => big(24.0, -0.2),
        ("PageTitle", _) => big(28.0, -0.2),
        ("Instruction", true) => big(36.0, -0.4),
        ("Instruction", false) => big(28.0, -0.2),
        _ => None,
    }
}

fn width(text: &str, style: &Style, face: &Face<'_>) -> f32 {
    let mut buffer = UnicodeBuffer::new();
    buffer.push_str(text);
    let shaped = rustybuzz::shape(face, &[], buffer);
    let units: i32 = shaped.glyph_positions().iter().map(|it| it.x_advance).sum();
    let tracking = style.tracking * text.chars().count() as f32;
    units as f32 * style.size / face.units_per_em() as f32 + tracking
}

/// Lines that the words take when they are broken at blanks to fit the width.
fn lines(text: &str, style: &Style, face: &Face<'_>, room: f32) -> usize {
    let mut lines = 0;
    for paragraph in text.split('\n') {
        lines += 1;
        let mut used = String::new();
        for word in paragraph.split(' ') {
            let longer = if used.is_empty() { word.to_owned() } else { format!("{used} {word}") };
            if !used.is_empty() && width(&longer, style, face) > room + 1.0 {
                lines += 1;
                used = word.to_owned();
            } else {
                used = longer;
            }
        }
    }
    lines
}

/// What is cut on a page: the words and the room that they have.
fn cuts(stage: &Stage, scale: f32, wide: bool) -> (usize, Vec<String>) {
    let faces = [REGULAR, STRONG].map(|bytes| Face::from_slice(bytes, 0).unwrap());
    let (mut looked_at, mut cut) = (0, Vec::new());
    for element in ElementQuery::from_root(stage.window()).match_descendants().find_all() {
        let Some(text) = element.accessible_label().filter(|it| !it.is_empty()) else { continue };
        let kinds = element.type_name().into_iter().chain(element.bases().into_iter().flatten());
        let Some(mut style) = kinds.into_iter().find_map(|it| style(&it, scale, wide)) else {
            continue;
        };
        if UNITS_OWN_WORDS.contains(&text.as_str()) {
            continue;
        }
        looked_at += 1;
        let extent = ElementHandle::size(&element);
        // Some words of a style are set smaller where they stand: no line is lower than its letters.
        style.size = style.size.min(extent.height / 1.36);
        let face = &faces[usize::from(style.strong)];
        let needed = lines(&text, &style, face, extent.width);
        // A line may also end behind a hyphen.
        let widest = text.split([' ', '-']).map(|it| width(it, &style, face)).fold(0.0, f32::max);
        let height = needed as f32 * style.size * LEAST_LINE;
        let too_low = height > extent.height + style.size * 0.45;
        if extent.height > 0.0 && (too_low || widest > extent.width + 2.0) {
            cut.push(format!("{text:?}: {needed} lines in {} × {}", extent.width, extent.height));
        }
    }
    // The query lists what it finds more than once.
    cut.sort();
    cut.dedup();
    (looked_at, cut)
}

#[test]
fn no_text_is_cut_at_140_per_cent() {
    let (mut looked_at, mut all) = (0, Vec::new());
    for screen in Screen::ALL {
        for size in [PHONE, TABLET] {
            for language in [Language::English, Language::German] {
                let stage = stage(size, screen);
                stage.set_language(language);
                stage.set_text_scale(1.4);
                stage.show(screen);
                settle(&stage);
                let (count, cut) = cuts(&stage, 1.4, size == TABLET);
                looked_at += count;
                all.extend(
                    cut.into_iter().map(|it| format!("{screen:?} {size:?} {language:?}: {it}")),
                );
            }
        }
    }
    assert!(looked_at > 1_000, "{looked_at}");
    assert!(all.is_empty(), "{}", all.join("\n"));
}
