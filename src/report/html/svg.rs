use std::fmt::Write;

use super::escaped;
use crate::report::drawing::{Anchor, Drawing, Item, Segment, Weight};

/// A drawing as inline SVG. Without alternative text it is hidden from screen readers.
pub(super) fn svg(drawing: &Drawing, alternative: &str) -> String {
    let Drawing { width, height, .. } = *drawing;
    let mut text = String::with_capacity(drawing.items.len() * 80);
    let role = if alternative.is_empty() {
        format!("width=\"{width}\" height=\"{height}\" aria-hidden=\"true\"")
    } else {
        format!("role=\"img\" aria-label=\"{}\"", escaped(alternative))
    };
    let _ = write!(text, "<svg viewBox=\"0 0 {width} {height}\" {role}>");
    for item in &drawing.items {
        write_item(item, &mut text);
    }
    text.push_str("</svg>");
    text
}

fn write_item(item: &Item, text: &mut String) {
    match item {
        Item::Path { segments, fill, stroke } => {
            text.push_str("<path d=\"");
            write_outline(segments, text);
            text.push('"');
            match fill {
                Some(ink) => {
                    let _ = write!(text, " fill=\"{}\" fill-rule=\"evenodd\"", ink.hex());
                }
                None => text.push_str(" fill=\"none\""),
            }
            if let Some(stroke) = stroke {
                let _ = write!(
                    text,
                    " stroke=\"{}\" stroke-width=\"{}\" stroke-linejoin=\"round\"",
                    stroke.ink.hex(),
                    short(stroke.width)
                );
                if let Some((dash, gap)) = stroke.dash {
                    let _ = write!(text, " stroke-dasharray=\"{} {}\"", short(dash), short(gap));
                }
            }
            text.push_str("/>");
        }
        Item::Text { x, y, anchor, size, weight, ink, text: words } => {
            let anchor = match anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            let weight = match weight {
                Weight::Regular => 400,
                Weight::Strong => 600,
            };
            let _ = write!(
                text,
                "<text x=\"{}\" y=\"{}\" text-anchor=\"{anchor}\" font-size=\"{}\" font-weight=\"{weight}\" fill=\"{}\">{}</text>",
                short(*x),
                short(*y),
                short(*size),
                ink.hex(),
                escaped(words)
            );
        }
    }
}

/// An outline; straight lines are written relative to where the last one ended, which halves a
/// trace. Positions are counted in tenths, so that no rounding adds up.
fn write_outline(segments: &[Segment], text: &mut String) {
    let tenth = |value: f64| (value * 10.0).round() as i64;
    let mut here = (0, 0);
    for segment in segments {
        let _ = match *segment {
            Segment::Move(x, y) => {
                here = (tenth(x), tenth(y));
                write!(text, "M{} {}", short(x), short(y))
            }
            Segment::Line(x, y) => {
                let (to_x, to_y) = (tenth(x), tenth(y));
                let by = ((to_x - here.0) as f64 / 10.0, (to_y - here.1) as f64 / 10.0);
                here = (to_x, to_y);
                write!(text, "l{} {}", by.0, by.1)
            }
            Segment::Curve(a, b, c, d, x, y) => {
                here = (tenth(x), tenth(y));
                let [a, b, c, d, x, y] = [a, b, c, d, x, y].map(short);
                write!(text, "C{a} {b} {c} {d} {x} {y}")
            }
            Segment::Close => write!(text, "Z"),
        };
    }
}

/// A tenth of a point is a sixth of a line's width.
fn short(value: f64) -> f64 {
    let rounded = (value * 10.0).round() / 10.0;
    if rounded == 0.0 { 0.0 } else { rounded }
}
