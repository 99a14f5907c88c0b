use super::flow::Flow;
use super::structure::{NodeId, Role};
use super::table::{leaders, table, weights};
use crate::report::chart::{mark_drawing, mark_ink};
use crate::report::document::{Block, Document, Mark};
use crate::report::drawing::{Anchor, Drawing, Ink, Stroke, Weight};

/// Size and line height of running text.
pub(super) const BODY: (f64, f64) = (9.5, 13.0);
/// Size and line height of smaller text.
pub(super) const SMALL: (f64, f64) = (8.3, 11.2);
const SENTENCE: (f64, f64) = (14.0, 18.0);

/// Lays the whole document out.
pub(super) fn lay_out(document: &Document, flow: &mut Flow) {
    let left = flow.left();
    flow.skip(16.0);
    let heading = flow.node(Role::Heading(1, document.title.clone()));
    let place = (left, flow.y());
    flow.text(Some(heading), place, Anchor::Start, 20.0, Weight::Strong, Ink::Ink, &document.title);
    flow.skip(6.0);
    let subtitle = [(Weight::Regular, document.subtitle.as_str())];
    paragraph(flow, &subtitle, (11.0, 15.0), Ink::Soft, Role::Paragraph);
    if let Some(mark) = &document.virtual_mark {
        virtual_badge(flow, mark);
    }
    for block in &document.head {
        lay_block(block, flow);
    }
    flow.skip(8.0);
    for (place, section) in document.sections.iter().enumerate() {
        // A heading never stands alone at the foot of a page.
        let first: f64 = section
            .blocks
            .iter()
            .take(3)
            .map(|block| {
                let height = flow.measured(|flow| lay_block(block, flow));
                // Rows and points may go on overleaf.
                let is_long =
                    matches!(block, Block::Table(_) | Block::List(_) | Block::Weights { .. });
                if is_long { height.min(90.0) } else { height }
            })
            .sum();
        flow.ensure((26.0 + first).min(flow.page_content() * 0.45).max(60.0));
        flow.start_section(place + 1, &section.title);
        for (place, block) in section.blocks.iter().enumerate() {
            keep_together(&section.blocks[place..], flow);
            lay_block(block, flow);
        }
        flow.skip(6.0);
    }
}

/// A subheading stays with what it heads: up to and with the first drawing, if a page holds that.
fn keep_together(blocks: &[Block], flow: &mut Flow) {
    let Some(Block::Subheading { .. }) = blocks.first() else { return };
    let figure = blocks.iter().take(4).position(|block| matches!(block, Block::Figure(_)));
    let next = blocks.iter().skip(1).position(|block| matches!(block, Block::Subheading { .. }));
    let with = match (figure, next) {
        (Some(figure), Some(next)) if next < figure => 1,
        (Some(figure), _) => figure,
        (None, _) => 1,
    };
    let mut height = 0.0;
    for block in blocks.iter().take(with + 1) {
        height += flow.measured(|flow| lay_block(block, flow));
    }
    flow.ensure(height.min(flow.page_content() * 0.9));
}

fn lay_block(block: &Block, flow: &mut Flow) {
    match block {
        Block::Facts(facts) => lay_facts(facts, flow),
        Block::Stamp { mark, word } => stamp(*mark, word, flow),
        Block::Sentence(text) => {
            flow.skip(3.0);
            paragraph(flow, &[(Weight::Strong, text)], SENTENCE, Ink::Ink, Role::Paragraph);
            flow.skip(4.0);
        }
        Block::Subheading { text, outcome } => subheading(text, outcome.as_ref(), flow),
        Block::Text(text) => {
            paragraph(flow, &[(Weight::Regular, text)], BODY, Ink::Ink, Role::Paragraph);
            flow.skip(4.0);
        }
        Block::Small(text) => {
            paragraph(flow, &[(Weight::Regular, text)], SMALL, Ink::Soft, Role::Paragraph);
            flow.skip(3.5);
        }
        Block::Certainty { share, named_from, label, flag, mark } => {
            certainty((*share, *named_from), (label, flag), *mark, flow);
        }
        Block::Leaders(lines) => leaders(lines, flow),
        Block::Weights { against, supports, lines } => weights((against, supports), lines, flow),
        Block::Table(rows) => table(rows, flow),
        Block::Figure(figure) => {
            let scale = (flow.content() / figure.drawing.width).min(1.0);
            let height = figure.drawing.height * scale;
            flow.ensure(height + 18.0);
            let node = flow.node(Role::Figure(figure.alternative.clone()));
            let place = (flow.left(), flow.y() + 2.0);
            flow.drawing(Some(node), &figure.drawing, place, scale);
            flow.skip(height + 3.0);
            paragraph(flow, &[(Weight::Regular, &figure.caption)], SMALL, Ink::Soft, Role::Caption);
            flow.skip(7.0);
        }
        Block::Cautions(cautions) => {
            for (strong, rest) in cautions {
                caution(strong, rest, flow);
            }
            flow.skip(4.0);
        }
        Block::List(points) => list(points, flow),
    }
}

/// Wrapped text at the running height; returns nothing, moves down.
pub(super) fn paragraph(
    flow: &mut Flow,
    runs: &[(Weight, &str)],
    (size, height): (f64, f64),
    ink: Ink,
    role: Role,
) {
    let node = flow.node(role);
    let (left, width) = (flow.left(), flow.content());
    wrapped(flow, node, runs, (size, height), ink, (left, width));
}

/// Wrapped text in a column. A line's end is a space, so that words stay apart for who copies.
pub(super) fn wrapped(
    flow: &mut Flow,
    node: NodeId,
    runs: &[(Weight, &str)],
    (size, height): (f64, f64),
    ink: Ink,
    (left, width): (f64, f64),
) {
    let lines = flow.typefaces.wrap(runs, size, width);
    let last = lines.len().saturating_sub(1);
    // Short paragraphs are not torn apart.
    if lines.len() <= 4 {
        flow.ensure(height * lines.len() as f64);
    }
    for (place, line) in lines.into_iter().enumerate() {
        flow.ensure(height);
        let base = flow.y() + height * 0.5 + size * 0.35;
        let mut x = left;
        let count = line.len();
        for (run, (weight, mut words)) in line.into_iter().enumerate() {
            let wide = flow.typefaces.width(weight, size, &words);
            if run + 1 == count && place != last {
                words.push(' ');
            }
            flow.text(Some(node), (x, base), Anchor::Start, size, weight, ink, &words);
            x += wide;
        }
        flow.skip(height);
    }
}

fn virtual_badge(flow: &mut Flow, mark: &str) {
    flow.skip(6.0);
    let (left, top) = (flow.left(), flow.y());
    let text = flow.typefaces.printable(mark);
    let width = flow.typefaces.width(Weight::Strong, 8.5, &text);
    let mut frame = Drawing::new(width + 14.0, 16.0);
    let dashed = Stroke::dashed(Ink::Edge, 1.0, 3.0, 2.0);
    frame.rectangle((0.0, 0.0), (width + 14.0, 16.0), 2.0, None, Some(dashed));
    flow.drawing(None, &frame, (left, top), 1.0);
    let node = flow.node(Role::Paragraph);
    let place = (left + 7.0, top + 11.0);
    flow.text(Some(node), place, Anchor::Start, 8.5, Weight::Strong, Ink::Soft, mark);
    flow.skip(20.0);
}

/// Labels over values, three columns.
fn lay_facts(facts: &[(String, String)], flow: &mut Flow) {
    flow.skip(6.0);
    let column = flow.content() / 3.0;
    for row in facts.chunks(3) {
        flow.ensure(26.0);
        let top = flow.y();
        let mut lowest = top;
        for (place, (label, value)) in row.iter().enumerate() {
            let left = flow.left() + column * place as f64;
            let node = flow.node(Role::Paragraph);
            let at = (left, top + 9.0);
            flow.text(Some(node), at, Anchor::Start, 8.0, Weight::Strong, Ink::Form, label);
            flow.skip(12.0);
            let node = flow.node(Role::Paragraph);
            let runs = [(Weight::Regular, value.as_str())];
            wrapped(flow, node, &runs, BODY, Ink::Ink, (left, column - 10.0));
            lowest = lowest.max(flow.y());
            flow.skip(top - flow.y());
        }
        flow.skip(lowest - top + 5.0);
    }
}

fn stamp(mark: Mark, word: &str, flow: &mut Flow) {
    let size = 13.5;
    let text = flow.typefaces.printable(word);
    let width = flow.typefaces.width(Weight::Strong, size, &text) + 44.0;
    flow.ensure(40.0);
    let (left, top) = (flow.left(), flow.y() + 2.0);
    let ink = mark_ink(mark);
    let mut frame = Drawing::new(width, 31.0);
    frame.rectangle((1.0, 1.0), (width - 2.0, 29.0), 5.0, None, Some(Stroke::solid(ink, 1.9)));
    frame.rectangle((4.2, 4.2), (width - 8.4, 22.6), 2.5, None, Some(Stroke::solid(ink, 0.8)));
    flow.drawing(None, &frame, (left, top), 1.0);
    flow.drawing(None, &mark_drawing(mark, 15.0), (left + 11.0, top + 8.0), 1.0);
    let node = flow.node(Role::Paragraph);
    let place = (left + 32.0, top + 20.3);
    flow.text(Some(node), place, Anchor::Start, size, Weight::Strong, ink, word);
    flow.skip(37.0);
}

fn subheading(text: &str, outcome: Option<&(Mark, String)>, flow: &mut Flow) {
    flow.skip(7.0);
    flow.ensure(20.0);
    let (left, right) = (flow.left(), flow.right());
    let base = flow.y() + 11.0;
    let mut x = left;
    if let Some((mark, _)) = outcome {
        flow.drawing(None, &mark_drawing(*mark, 12.5), (x, base - 10.5), 1.0);
        x += 18.0;
    }
    let title = match outcome {
        Some((_, word)) => format!("{text}: {word}"),
        None => text.to_owned(),
    };
    let node = flow.node(Role::Heading(3, title));
    flow.text(Some(node), (x, base), Anchor::Start, 11.0, Weight::Strong, Ink::Ink, text);
    if let Some((mark, word)) = outcome {
        let ink = mark_ink(*mark);
        flow.text(Some(node), (right, base), Anchor::End, 9.5, Weight::Strong, ink, word);
    }
    flow.skip(17.0);
}

fn certainty((share, named): (f64, f64), words: (&str, &str), mark: Mark, flow: &mut Flow) {
    flow.ensure(42.0);
    let (left, top, width) = (flow.left(), flow.y(), 300.0);
    let node = flow.node(Role::Paragraph);
    let (label, flag) = words;
    let place = (left, top + 10.0);
    flow.text(Some(node), place, Anchor::Start, 9.5, Weight::Strong, Ink::Ink, label);
    let mut ruler = Drawing::new(width, 16.0);
    ruler.rectangle((0.0, 3.0), (width, 8.0), 0.0, Some(Ink::Track), None);
    ruler.rectangle((0.0, 3.0), (width * share, 8.0), 0.0, Some(mark_ink(mark)), None);
    for tenth in 0..=10 {
        let x = width * f64::from(tenth) / 10.0;
        let length = if tenth == 5 { 4.5 } else { 3.0 };
        ruler.line((x, 11.0), (x, 11.0 + length), Stroke::solid(Ink::Edge, 0.7));
    }
    let x = width * named;
    ruler.rectangle((x - 3.0, 0.5), (6.0, 14.0), 0.0, Some(Ink::Paper), None);
    ruler.line((x, 0.5), (x, 15.5), Stroke::solid(Ink::Rail, 1.8));
    flow.drawing(None, &ruler, (left, top + 13.0), 1.0);
    let place = (left + width, top + 38.0);
    flow.text(Some(node), place, Anchor::End, 8.0, Weight::Strong, Ink::Form, flag);
    flow.skip(46.0);
}

fn caution(strong: &str, rest: &str, flow: &mut Flow) {
    let runs = [(Weight::Strong, strong), (Weight::Regular, rest)];
    let (left, width) = (flow.left(), flow.content());
    let column = (left + 12.0, width - 20.0);
    let lines = flow.typefaces.wrap(&runs, 8.8, column.1).len() as f64;
    let height = lines * 12.0 + 9.0;
    flow.ensure(height + 3.0);
    let top = flow.y();
    let mut ground = Drawing::new(width, height);
    ground.rectangle((0.0, 0.0), (width, height), 0.0, Some(Ink::CautionGround), None);
    ground.rectangle((0.0, 0.0), (3.0, height), 0.0, Some(Ink::CautionMark), None);
    flow.drawing(None, &ground, (left, top), 1.0);
    flow.skip(4.5);
    let node = flow.node(Role::Paragraph);
    wrapped(flow, node, &runs, (8.8, 12.0), Ink::CautionText, column);
    flow.skip(4.5 + 3.0);
}

fn list(points: &[String], flow: &mut Flow) {
    let node = flow.node(Role::List);
    let (left, width) = (flow.left(), flow.content());
    for point in points {
        let item = flow.node_under(Role::Point, node);
        let body = flow.node_under(Role::PointBody, item);
        flow.ensure(BODY.1);
        let mut dot = Drawing::new(4.0, 4.0);
        dot.circle((2.0, 2.0), 1.4, Some(Ink::Soft), None);
        flow.drawing(None, &dot, (left + 1.0, flow.y() + 4.8), 1.0);
        let runs = [(Weight::Regular, point.as_str())];
        wrapped(flow, body, &runs, BODY, Ink::Ink, (left + 11.0, width - 11.0));
        flow.skip(1.5);
    }
    flow.skip(4.0);
}
