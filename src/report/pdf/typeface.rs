use krilla::text::{Font, GlyphId, KrillaGlyph};
use rustybuzz::{Direction, UnicodeBuffer};

use crate::report::drawing::Weight;
use crate::report::error::ReportError;

const REGULAR: &[u8] = include_bytes!("../../../ui/fonts/IBMPlexSans-Regular.ttf");
const STRONG: &[u8] = include_bytes!("../../../ui/fonts/IBMPlexSans-SemiBold.ttf");

/// The two weights of the form's typeface. Text is shaped once, by the same shaper for measuring
/// and for drawing, so that lines break where they are drawn.
pub(super) struct Typefaces {
    regular: Typeface,
    strong: Typeface,
}

struct Typeface {
    shaper: rustybuzz::Face<'static>,
    font: Font,
}

/// A shaped piece of text.
pub(super) struct Shaped {
    pub(super) glyphs: Vec<KrillaGlyph>,
    /// Width at size 1.
    pub(super) width: f64,
}

impl Typefaces {
    /// The typefaces that come with the program.
    pub(super) fn embedded() -> Result<Self, ReportError> {
        let read = |bytes: &'static [u8]| {
            let shaper = rustybuzz::Face::from_slice(bytes, 0).ok_or(ReportError::Font)?;
            let font = Font::new(bytes.into(), 0).ok_or(ReportError::Font)?;
            Ok::<_, ReportError>(Typeface { shaper, font })
        };
        Ok(Self { regular: read(REGULAR)?, strong: read(STRONG)? })
    }

    /// The font to draw a weight with.
    pub(super) fn font(&self, weight: Weight) -> Font {
        self.typeface(weight).font.clone()
    }

    /// Text of which every letter has a glyph: what the typeface lacks becomes a question mark,
    /// because archives allow no missing glyph; control characters become spaces.
    pub(super) fn printable(&self, text: &str) -> String {
        let has = |letter: char| self.regular.shaper.glyph_index(letter).is_some();
        text.chars()
            .filter(|letter| !matches!(letter, '\u{feff}' | '\u{200b}'..='\u{200f}'))
            .map(|letter| match letter {
                letter if letter.is_control() => ' ',
                letter if has(letter) => letter,
                _ => '?',
            })
            .collect()
    }

    /// Shapes a line. The text must be printable.
    pub(super) fn shape(&self, weight: Weight, text: &str) -> Shaped {
        let shaper = &self.typeface(weight).shaper;
        let mut buffer = UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.set_direction(Direction::LeftToRight);
        let shaped = rustybuzz::shape(shaper, &[], buffer);
        let per_em = f64::from(shaper.units_per_em());
        let infos = shaped.glyph_infos();
        let mut width = 0.0;
        let glyphs = infos.iter().zip(shaped.glyph_positions()).enumerate();
        let glyphs = glyphs
            .map(|(place, (info, position))| {
                let start = info.cluster as usize;
                let next = infos[place + 1..].iter().find(|later| later.cluster != info.cluster);
                let end = next.map_or(text.len(), |later| later.cluster as usize);
                let em = |units: i32| (f64::from(units) / per_em) as f32;
                width += f64::from(position.x_advance) / per_em;
                KrillaGlyph::new(
                    GlyphId::new(info.glyph_id),
                    em(position.x_advance),
                    em(position.x_offset),
                    em(position.y_offset),
                    em(position.y_advance),
                    start..end,
                    None,
                )
            })
            .collect();
        Shaped { glyphs, width }
    }

    /// Width of a printable text.
    pub(super) fn width(&self, weight: Weight, size: f64, text: &str) -> f64 {
        self.shape(weight, text).width * size
    }

    /// Lines no wider than `width`; runs keep their weight. Breaks at spaces, and inside a word
    /// only when the word alone is too wide.
    pub(super) fn wrap(
        &self,
        runs: &[(Weight, &str)],
        size: f64,
        width: f64,
    ) -> Vec<Vec<(Weight, String)>> {
        let mut lines: Vec<Vec<(Weight, String)>> = vec![Vec::new()];
        let mut used = 0.0;
        let space = self.width(Weight::Regular, size, " ");
        for (weight, text) in runs {
            let text = self.printable(text);
            for word in text.split(' ').filter(|word| !word.is_empty()) {
                for piece in self.fitting(*weight, size, word, width) {
                    let wide = self.width(*weight, size, &piece);
                    let is_first = lines.last().is_none_or(Vec::is_empty);
                    if !is_first && used + space + wide > width {
                        lines.push(Vec::new());
                        used = 0.0;
                    }
                    let Some(line) = lines.last_mut() else { continue };
                    let gap = if line.is_empty() { "" } else { " " };
                    used += wide + if line.is_empty() { 0.0 } else { space };
                    match line.last_mut() {
                        Some((last, words)) if last == weight => {
                            words.push_str(gap);
                            words.push_str(&piece);
                        }
                        _ => line.push((*weight, format!("{gap}{piece}"))),
                    }
                }
            }
        }
        lines
    }

    /// A word in pieces that fit the width each.
    fn fitting(&self, weight: Weight, size: f64, word: &str, width: f64) -> Vec<String> {
        if self.width(weight, size, word) <= width {
            return vec![word.to_owned()];
        }
        let mut pieces = vec![String::new()];
        for letter in word.chars() {
            let Some(piece) = pieces.last_mut() else { break };
            piece.push(letter);
            if piece.chars().count() > 1 && self.width(weight, size, piece) > width {
                piece.pop();
                pieces.push(letter.to_string());
            }
        }
        pieces
    }

    fn typeface(&self, weight: Weight) -> &Typeface {
        match weight {
            Weight::Regular => &self.regular,
            Weight::Strong => &self.strong,
        }
    }
}
