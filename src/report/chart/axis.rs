use super::scale::Scale;
use super::{FIGURE, LABEL, about_width};
use crate::report::drawing::{Anchor, Drawing, Ink, Stroke, Weight};
use crate::wording::{Language, number};

/// How far a figure may stand out of its lane.
const OVERHANG: f64 = 8.0;

/// Where a lane lies on the drawing.
#[derive(Clone, Copy, Debug)]
pub(super) struct Frame {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
}

/// The paper of a lane: fine lines, strong lines at labelled values, label and figures above.
pub(super) fn lane_paper(
    drawing: &mut Drawing,
    frame: Frame,
    label: &str,
    values: &Scale,
    time: &Scale,
    language: Language,
) {
    let Frame { left, right, top, bottom } = frame;
    drawing.rectangle((left, top), (right - left, bottom - top), 0.0, Some(Ink::Paper), None);
    let fine = Stroke::solid(Ink::GridFine, 0.5);
    let strong = Stroke::solid(Ink::GridStrong, 0.7);
    for value in values.fine_ticks() {
        drawing.line((values.at(value), top), (values.at(value), bottom), fine);
    }
    for at in time.fine_ticks() {
        drawing.line((left, time.at(at)), (right, time.at(at)), fine);
    }
    for value in &values.ticks {
        drawing.line((values.at(*value), top), (values.at(*value), bottom), strong);
    }
    for at in &time.ticks {
        drawing.line((left, time.at(*at)), (right, time.at(*at)), strong);
    }
    // A long label shrinks to its lane and the gap beside it.
    let room = right - left + 10.0;
    let size = LABEL.min(LABEL * room / about_width(label, LABEL)).max(6.0);
    drawing.text((left, top - 16.0), Anchor::Start, size, Weight::Strong, Ink::Form, label);
    let mut free_from = left - OVERHANG;
    for value in &values.ticks {
        let text = number(*value, values.decimals(), language);
        let half = about_width(&text, FIGURE) / 2.0;
        // Kept to its own lane and half the gap, where the next lane's figures begin.
        let x = values.at(*value).min(right + OVERHANG - half).max(left - OVERHANG + half);
        if x - half < free_from {
            continue;
        }
        free_from = x + half + 4.0;
        drawing.text((x, top - 5.0), Anchor::Middle, FIGURE, Weight::Regular, Ink::Soft, &text);
    }
}

/// The outline of a lane, over what was drawn in it.
pub(super) fn lane_outline(drawing: &mut Drawing, frame: Frame) {
    let size = (frame.right - frame.left, frame.bottom - frame.top);
    let stroke = Stroke::solid(Ink::Rule, 0.8);
    drawing.rectangle((frame.left, frame.top), size, 0.0, None, Some(stroke));
}

/// Figures and edge dots of the time axis, left of `x`, seconds downwards.
pub(super) fn time_figures(drawing: &mut Drawing, x: f64, time: &Scale, language: Language) {
    for at in time.fine_ticks() {
        drawing.circle((x - 6.0, time.at(at)), 0.6, Some(Ink::Rail), None);
    }
    for at in &time.ticks {
        let y = time.at(*at);
        drawing.circle((x - 6.0, y), 1.3, Some(Ink::Rail), None);
        let text = format!("{}\u{a0}s", number(*at, time.decimals(), language));
        let place = (x - 11.0, y + FIGURE * 0.35);
        drawing.text(place, Anchor::End, FIGURE, Weight::Regular, Ink::Soft, &text);
    }
}
