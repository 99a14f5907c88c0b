//! Drawings of what was measured, time downwards, drawn once for every format.

mod axis;
mod circuit;
mod fit;
mod hatch;
mod mark;
mod overlay;
mod scale;
mod small_rails;
mod strip;
mod trace;

pub(super) use circuit::circuit;
pub(super) use mark::{mark_drawing, mark_ink};
pub(super) use overlay::{Overlay, overlay};
pub(super) use small_rails::{RailsLine, small_rails};
pub(super) use strip::{Lane, Strip, strip};

use super::drawing::Drawing;

/// Size of axis figures and event words, points.
const FIGURE: f64 = 8.0;
/// Size of lane labels, points.
const LABEL: f64 = 8.5;

/// Puts a drawing into another one, its left upper corner at `corner`.
fn place(into: &mut Drawing, part: &Drawing, corner: (f64, f64)) {
    into.items.extend(part.items.iter().map(|item| item.placed(corner, 1.0)));
}

/// About how wide a text will be. Only places halos and decides which figures fit, so an estimate
/// serves: digits and most letters of the form's typeface are near 0.56 em.
fn about_width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * 0.56
}
