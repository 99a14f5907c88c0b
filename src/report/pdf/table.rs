use super::blocks::{BODY, SMALL, wrapped};
use super::flow::Flow;
use super::structure::{NodeId, Role};
use crate::report::document::{LeaderLine, Table, WeightLine};
use crate::report::drawing::{Anchor, Drawing, Ink, Stroke, Weight};

/// Room a block of a weight takes.
const BLOCK: f64 = 8.0;

/// Rows and columns; every row keeps together.
pub(super) fn table(table: &Table, flow: &mut Flow) {
    let node = flow.node(Role::Table);
    let head: Vec<&str> = table.head.iter().map(String::as_str).collect();
    row(table, &head, true, node, flow);
    for cells in &table.rows {
        let cells: Vec<&str> = cells.iter().map(String::as_str).collect();
        row(table, &cells, false, node, flow);
    }
    flow.skip(8.0);
}

fn row(table: &Table, cells: &[&str], is_head: bool, under: NodeId, flow: &mut Flow) {
    let (style, weight, ink) = if is_head {
        ((8.0, 11.0), Weight::Strong, Ink::Form)
    } else {
        ((9.2, 12.4), Weight::Regular, Ink::Ink)
    };
    let content = flow.content();
    let mut columns = Vec::new();
    let mut left = flow.left();
    for place in 0..cells.len() {
        let share = table.widths.get(place).copied().unwrap_or(0.0);
        columns.push((left, share * content));
        left += share * content;
    }
    let lines = cells.iter().zip(&columns).map(|(cell, (_, width))| {
        flow.typefaces.wrap(&[(weight, cell)], style.0, width - 8.0).len()
    });
    let height = lines.max().unwrap_or(1) as f64 * style.1 + 6.0;
    flow.ensure(height + if is_head { 18.0 } else { 0.0 });
    let node = flow.node_under(Role::Row, under);
    let top = flow.y();
    for (place, (cell, (left, width))) in cells.iter().zip(&columns).enumerate() {
        let role = if is_head { Role::Head } else { Role::Cell };
        let cell_node = flow.node_under(role, node);
        flow.skip(3.0);
        if table.right.get(place) == Some(&true) {
            to_the_right(flow, cell_node, (weight, cell), style, ink, (left + width, width - 8.0));
        } else {
            wrapped(flow, cell_node, &[(weight, cell)], style, ink, (*left, width - 8.0));
        }
        flow.skip(top - flow.y());
    }
    flow.skip(height);
    let y = flow.y();
    let rule = Stroke::solid(Ink::Rule, 0.7);
    flow.line((flow.left(), y), (flow.right(), y), rule);
}

/// A cell whose lines end at `right`.
fn to_the_right(
    flow: &mut Flow,
    node: NodeId,
    (weight, cell): (Weight, &str),
    (size, height): (f64, f64),
    ink: Ink,
    (right, width): (f64, f64),
) {
    for line in flow.typefaces.wrap(&[(weight, cell)], size, width) {
        let base = flow.y() + height * 0.5 + size * 0.35;
        let words: String = line.into_iter().map(|run| run.1).collect();
        flow.text(Some(node), (right, base), Anchor::End, size, weight, ink, &words);
        flow.skip(height);
    }
}

/// Text, dotted leader, amount; a total stands between a line and a double rule.
pub(super) fn leaders(lines: &[LeaderLine], flow: &mut Flow) {
    let left = flow.left();
    let right = left + flow.content().min(360.0);
    for line in lines {
        let (size, height, weight) = if line.is_total {
            (11.0, 19.0, Weight::Strong)
        } else {
            (BODY.0, 14.0, Weight::Regular)
        };
        flow.ensure(height + 4.0);
        let top = flow.y();
        if line.is_total {
            flow.line((left, top + 2.0), (right, top + 2.0), Stroke::solid(Ink::Ink, 1.0));
        }
        let base = top + height * 0.5 + size * 0.38;
        let node = flow.node(Role::Paragraph);
        let amount = flow.typefaces.printable(&line.amount);
        let amount_width = flow.typefaces.width(weight, size, &amount);
        let room = right - left - amount_width - 16.0;
        let words = flow.typefaces.wrap(&[(weight, &line.text)], size, room);
        let words: String =
            words.into_iter().next().unwrap_or_default().into_iter().map(|run| run.1).collect();
        let text_width = flow.typefaces.width(weight, size, &words);
        flow.text(
            Some(node),
            (left, base),
            Anchor::Start,
            size,
            weight,
            Ink::Ink,
            &format!("{words} "),
        );
        if !line.is_total {
            let from = (left + text_width + 5.0, base - 1.0);
            let to = (right - amount_width - 5.0, base - 1.0);
            if to.0 > from.0 {
                flow.line(from, to, Stroke::dashed(Ink::Edge, 0.8, 1.0, 2.4));
            }
        }
        flow.text(Some(node), (right, base), Anchor::End, size, weight, Ink::Ink, &line.amount);
        flow.skip(height);
        if line.is_total {
            for gap in [0.0, 2.6] {
                let y = flow.y() + gap;
                flow.line((left, y), (right, y), Stroke::solid(Ink::Ink, 0.8));
            }
            flow.skip(5.0);
        }
    }
    flow.skip(6.0);
}

/// The factors of the verdict with their blocks: solid right of the centre speaks for, hollow left
/// of it against.
pub(super) fn weights((against, supports): (&str, &str), lines: &[WeightLine], flow: &mut Flow) {
    let side = BLOCK * 8.0 + 4.0;
    let centre = flow.right() - side;
    let width = flow.content() - side * 2.0 - 8.0;
    let node = flow.node(Role::Paragraph);
    let base = flow.y() + 8.0;
    let (size, ink) = (8.0, Ink::Form);
    flow.text(
        Some(node),
        (centre - 5.0, base),
        Anchor::End,
        size,
        Weight::Strong,
        ink,
        &format!("{against} "),
    );
    flow.text(Some(node), (centre + 5.0, base), Anchor::Start, size, Weight::Strong, ink, supports);
    flow.skip(12.0);
    for line in lines {
        let height = flow.measured(|flow| weight_words(line, width, flow)) + 7.0;
        flow.ensure(height);
        let top = flow.y();
        flow.skip(3.0);
        weight_words(line, width, flow);
        let middle = top + height / 2.0;
        flow.line((centre, top + 4.0), (centre, top + height - 4.0), Stroke::solid(Ink::Soft, 1.2));
        let mut blocks = Drawing::new(0.0, 0.0);
        for place in 0..line.blocks.unsigned_abs() {
            let offset = 4.0 + BLOCK * f64::from(place);
            let size = (BLOCK - 1.6, BLOCK - 1.6);
            let top = middle - size.1 / 2.0;
            let edge = Some(Stroke::solid(Ink::Ink, 0.9));
            if line.blocks > 0 {
                blocks.rectangle((centre + offset, top), size, 0.0, Some(Ink::Ink), edge);
            } else {
                let x = centre - offset - size.0;
                blocks.rectangle((x, top), size, 0.0, Some(Ink::Paper), edge);
            }
        }
        flow.drawing(None, &blocks, (0.0, 0.0), 1.0);
        flow.skip(top + height - flow.y());
        let y = flow.y();
        flow.line((flow.left(), y), (flow.right(), y), Stroke::solid(Ink::Rule, 0.7));
    }
    flow.skip(6.0);
}

fn weight_words(line: &WeightLine, width: f64, flow: &mut Flow) {
    let left = flow.left();
    let node = flow.node(Role::Paragraph);
    wrapped(flow, node, &[(Weight::Regular, &line.text)], BODY, Ink::Ink, (left, width));
    let node = flow.node(Role::Paragraph);
    wrapped(flow, node, &[(Weight::Regular, &line.odds)], SMALL, Ink::Soft, (left, width));
}
