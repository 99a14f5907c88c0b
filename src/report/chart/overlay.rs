use super::LABEL;
use super::axis::{Frame, lane_outline, lane_paper, time_figures};
use super::scale::{Scale, round_step};
use super::trace::thinned;
use crate::report::drawing::{Anchor, Drawing, Ink, Stroke, Weight};
use crate::wording::Style;

/// Before and after the repair on one scale.
#[derive(Clone, Copy, Debug)]
pub(in crate::report) struct Overlay<'a> {
    /// Before: seconds, Pa.
    pub(in crate::report) before: &'a [(f64, f64)],
    /// After: seconds, Pa.
    pub(in crate::report) after: &'a [(f64, f64)],
    /// Limit within which the tank counts as still, Pa; `None` where it must move.
    pub(in crate::report) limit_pa: Option<f64>,
    /// The word for before.
    pub(in crate::report) before_word: &'a str,
    /// The word for after.
    pub(in crate::report) after_word: &'a str,
    /// The lane's label without its unit.
    pub(in crate::report) label: &'a str,
    /// Language and units.
    pub(in crate::report) style: &'a Style,
}

const WIDTH: f64 = 480.0;
const TOP: f64 = 30.0;
const TIMES: f64 = 44.0;
const HEIGHT: f64 = 200.0;

/// The overlay: before red and thin with squares, after in ink and thick with dots, both named,
/// between the rails of the stated limit. `None` without samples on both sides.
pub(in crate::report) fn overlay(overlay: &Overlay) -> Option<Drawing> {
    let style = overlay.style;
    let factor = 1.0 / style.pressure.pascal();
    let turned = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
        let finite = points.iter().filter(|point| point.0.is_finite() && point.1.is_finite());
        finite.map(|(at, pascal)| (*at, pascal * factor)).collect()
    };
    let (before, after) = (turned(overlay.before), turned(overlay.after));
    let (first, last) = ends(before.iter().chain(&after).map(|point| point.0))?;
    if before.len() < 2 || after.len() < 2 || last <= first {
        return None;
    }
    let limit = overlay.limit_pa.map(|limit| limit.abs() * factor).filter(|it| it.is_finite());
    // Zero is on the scale, so that a vacuum is seen as one.
    let bounds = limit.map_or([(0.0, 0.0); 2], |limit| [(0.0, -limit), (0.0, limit)]);
    let (low, high) = ends(before.iter().chain(&after).chain(&bounds).map(|point| point.1))?;

    let bottom = TOP + HEIGHT;
    let frame = Frame { left: TIMES, right: WIDTH - 12.0, top: TOP, bottom };
    let mut drawing = Drawing::new(WIDTH, bottom + 8.0);
    let time = Scale::exactly(first, last, TOP, bottom, round_step((last - first) / 6.0));
    let margin = (high - low) * 0.08;
    let values = Scale::holding(low - margin, high + margin, frame.left, frame.right, 6.0);
    time_figures(&mut drawing, TIMES, &time, style.language);
    let label = format!("{}, {}", overlay.label, style.pressure.symbol());
    lane_paper(&mut drawing, frame, &label, &values, &time, style.language);

    if let Some(limit) = limit {
        let (left, right) = (values.at(-limit), values.at(limit));
        drawing.rectangle((left, TOP), (right - left, HEIGHT), 0.0, Some(Ink::Band), None);
        for x in [left, right] {
            drawing.line((x, TOP), (x, bottom), Stroke::solid(Ink::Rail, 1.4));
        }
    }
    if first < 0.0 && last > 0.0 {
        let deed = Stroke::dashed(Ink::Ink, 0.8, 3.0, 2.2);
        drawing.line((frame.left, time.at(0.0)), (frame.right, time.at(0.0)), deed);
    }
    let row = (last - first) / HEIGHT * 0.75;
    let placed = |points: &[(f64, f64)]| -> Vec<(f64, f64)> {
        let thin = thinned(points, row);
        thin.iter().map(|(at, value)| (values.at(*value), time.at(*at))).collect()
    };
    let (before, after) = (placed(&before), placed(&after));
    drawing.polyline(&before, Stroke::solid(Ink::Fail, 1.1));
    for (x, y) in spaced(&before) {
        let size = (4.4, 4.4);
        let edge = Stroke::solid(Ink::Fail, 1.0);
        drawing.rectangle((x - 2.2, y - 2.2), size, 0.0, Some(Ink::Paper), Some(edge));
    }
    drawing.polyline(&after, Stroke::solid(Ink::Ink, 1.3));
    for (x, y) in spaced(&after) {
        drawing.circle((x, y), 2.3, Some(Ink::Ink), None);
    }
    lane_outline(&mut drawing, frame);
    legend(&mut drawing, overlay, frame);
    Some(drawing)
}

/// The two names with their lines, right of the lane's label where no trace can lie.
fn legend(drawing: &mut Drawing, overlay: &Overlay, frame: Frame) {
    let y = frame.top - 16.0;
    let mut x = frame.right;
    for (word, ink, width, is_before) in
        [(overlay.after_word, Ink::Ink, 1.3, false), (overlay.before_word, Ink::Fail, 1.1, true)]
    {
        drawing.text((x, y), Anchor::End, LABEL, Weight::Strong, ink, word);
        x -= super::about_width(word, LABEL) + 6.0;
        let middle = y - LABEL * 0.33;
        drawing.line((x - 22.0, middle), (x, middle), Stroke::solid(ink, width));
        if is_before {
            let edge = Stroke::solid(ink, 1.0);
            let corner = (x - 13.2, middle - 2.2);
            drawing.rectangle(corner, (4.4, 4.4), 0.0, Some(Ink::Paper), Some(edge));
        } else {
            drawing.circle((x - 11.0, middle), 2.3, Some(ink), None);
        }
        x -= 34.0;
    }
}

/// Points about 28 apart along the time axis, to carry shapes.
fn spaced(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    for point in points {
        if kept.last().is_none_or(|last| point.1 - last.1 >= 28.0) {
            kept.push(*point);
        }
    }
    kept
}

fn ends(values: impl Iterator<Item = f64>) -> Option<(f64, f64)> {
    values.fold(None, |ends, value| {
        let (low, high) = ends.unwrap_or((value, value));
        Some((low.min(value), high.max(value)))
    })
}
