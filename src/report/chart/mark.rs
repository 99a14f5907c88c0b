use crate::report::document::Mark;
use crate::report::drawing::{Drawing, Ink, Stroke};

/// The colour of an outcome.
pub(in crate::report) const fn mark_ink(mark: Mark) -> Ink {
    match mark {
        Mark::Pass => Ink::Form,
        Mark::Fail => Ink::Fail,
        Mark::Inconclusive => Ink::Inconclusive,
    }
}

/// An outcome's shape in a square of this size: dot with tick, square with cross, open ring with
/// three dots. Told apart without colour.
pub(in crate::report) fn mark_drawing(mark: Mark, size: f64) -> Drawing {
    let mut drawing = Drawing::new(size, size);
    let ink = mark_ink(mark);
    let unit = size / 24.0;
    let at = |x: f64, y: f64| (x * unit, y * unit);
    match mark {
        Mark::Pass => {
            drawing.circle(at(12.0, 12.0), 10.5 * unit, Some(ink), None);
            let tick = [at(7.0, 12.4), at(10.6, 16.0), at(17.0, 8.8)];
            drawing.polyline(&tick, Stroke::solid(Ink::Paper, 2.6 * unit));
        }
        Mark::Fail => {
            drawing.rectangle(at(2.0, 2.0), at(20.0, 20.0), 2.0 * unit, Some(ink), None);
            let stroke = Stroke::solid(Ink::Paper, 2.8 * unit);
            drawing.line(at(7.5, 7.5), at(16.5, 16.5), stroke);
            drawing.line(at(16.5, 7.5), at(7.5, 16.5), stroke);
        }
        Mark::Inconclusive => {
            let ring = Stroke::dashed(ink, 2.0 * unit, 4.0 * unit, 2.4 * unit);
            drawing.circle(at(12.0, 12.0), 9.5 * unit, None, Some(ring));
            for x in [7.5, 12.0, 16.5] {
                drawing.circle(at(x, 12.0), 1.6 * unit, Some(ink), None);
            }
        }
    }
    drawing
}
