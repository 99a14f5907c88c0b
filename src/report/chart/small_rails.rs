use super::{LABEL, about_width};
use crate::report::chart::mark_drawing;
use crate::report::document::Mark;
use crate::report::drawing::{Anchor, Drawing, Ink, Stroke, Weight};

/// One line of the small rails.
#[derive(Clone, Debug)]
pub(in crate::report) struct RailsLine {
    /// Name left of the rails, shortened to its column.
    pub(in crate::report) name: String,
    /// What follows the name, whole.
    pub(in crate::report) note: &'static str,
    /// Value and its bounds in half widths of this car's own band; `None` without a reading.
    pub(in crate::report) reading: Option<(f64, f64, f64)>,
    /// The reading in words, right of the rails.
    pub(in crate::report) words: String,
    /// The verdict's mark.
    pub(in crate::report) mark: Option<Mark>,
}

const WIDTH: f64 = 480.0;
const ROW: f64 = 17.0;
const LEFT: f64 = 190.0;
const RIGHT: f64 = 372.0;
/// Half widths of the band that fit on either side.
const REACH: f64 = 6.0;

/// Readings of many cars against their own bands: the rails line up and run through all rows; a
/// dot lies inside, a square outside, and a car without a reading has dashed rails.
pub(in crate::report) fn small_rails(lines: &[RailsLine]) -> Drawing {
    let height = ROW * lines.len() as f64;
    let mut drawing = Drawing::new(WIDTH, height + 2.0);
    let middle = f64::midpoint(LEFT, RIGHT);
    let unit = (RIGHT - LEFT) / 2.0 / REACH;
    let at = |value: f64| middle + value.clamp(-REACH, REACH) * unit;
    for (place, line) in lines.iter().enumerate() {
        let top = ROW * place as f64;
        let y = top + ROW / 2.0;
        let (left, right) = (at(-1.0), at(1.0));
        let rail = if line.reading.is_some() {
            let size = (right - left, ROW);
            drawing.rectangle((left, top), size, 0.0, Some(Ink::Band), None);
            Stroke::solid(Ink::Rail, 1.4)
        } else {
            Stroke::dashed(Ink::Rail, 1.0, 2.0, 2.5)
        };
        for x in [left, right] {
            drawing.line((x, top), (x, top + ROW), rail);
        }
        let rule = Stroke::solid(Ink::Rule, 0.6);
        drawing.line((0.0, top + ROW), (WIDTH, top + ROW), rule);
        if let Some(mark) = line.mark {
            super::place(&mut drawing, &mark_drawing(mark, 10.0), (0.0, y - 5.0));
        }
        let base = y + LABEL * 0.36;
        let room = LEFT - 24.0 - about_width(line.note, LABEL);
        let name = format!("{}{}", shortened(&line.name, room), line.note);
        drawing.text((15.0, base), Anchor::Start, LABEL, Weight::Strong, Ink::Ink, &name);
        let words = (RIGHT + 10.0, base);
        drawing.text(words, Anchor::Start, LABEL, Weight::Regular, Ink::Soft, &line.words);
        let Some((value, low, high)) = line.reading else { continue };
        let is_outside = value.abs() > 1.0;
        let ink = if is_outside { Ink::Fail } else { Ink::Ink };
        if at(high) - at(low) > 8.0 {
            drawing.line((at(low), y), (at(high), y), Stroke::solid(ink, 1.1));
        }
        let x = at(value);
        if is_outside {
            drawing.rectangle((x - 2.8, y - 2.8), (5.6, 5.6), 0.0, Some(ink), None);
        } else {
            drawing.circle((x, y), 2.9, Some(ink), None);
        }
    }
    drawing
}

/// A name that fits its column.
fn shortened(name: &str, width: f64) -> String {
    if about_width(name, LABEL) <= width {
        return name.to_owned();
    }
    let fits = (width / (LABEL * 0.56)) as usize;
    name.chars().take(fits.saturating_sub(1)).chain(['…']).collect()
}
