use super::document::{Block, Document, Mark};

/// The document as plain text: for a terminal, and for tests that hold its words.
pub fn plain_text(document: &Document) -> String {
    let mut text = format!("{}\n{}\n", document.title, document.subtitle);
    if let Some(mark) = &document.virtual_mark {
        text.push_str(&format!("[{mark}]\n"));
    }
    for block in &document.head {
        write(block, &mut text);
    }
    for (place, section) in document.sections.iter().enumerate() {
        text.push_str(&format!("\n{} {}\n", place + 1, section.title));
        for block in &section.blocks {
            write(block, &mut text);
        }
    }
    text.push_str(&format!("\n{}\n", document.footer));
    text
}

fn write(block: &Block, text: &mut String) {
    let mut line = |words: String| {
        text.push_str(&words);
        text.push('\n');
    };
    match block {
        Block::Facts(facts) => {
            facts.iter().for_each(|(label, value)| line(format!("  {label}: {value}")));
        }
        Block::Stamp { mark, word } => line(format!("  [{} {word}]", sign(*mark))),
        Block::Sentence(words) | Block::Text(words) | Block::Small(words) => {
            line(format!("  {words}"));
        }
        Block::Subheading { text: words, outcome } => match outcome {
            Some((mark, word)) => line(format!("  # {words} [{} {word}]", sign(*mark))),
            None => line(format!("  # {words}")),
        },
        Block::Certainty { share, label, flag, .. } => {
            line(format!("  {label} | {:.0} of 100 | {flag}", share * 100.0));
        }
        Block::Leaders(lines) => lines.iter().for_each(|leader| {
            let rule = if leader.is_total { " ==" } else { "" };
            line(format!("  {} .... {}{rule}", leader.text, leader.amount));
        }),
        Block::Weights { lines, .. } => lines.iter().for_each(|weight| {
            line(format!("  {}: {} ({:+})", weight.text, weight.odds, weight.blocks));
        }),
        Block::Table(table) => {
            line(format!("  | {} |", table.head.join(" | ")));
            table.rows.iter().for_each(|row| line(format!("  | {} |", row.join(" | "))));
        }
        Block::Figure(figure) => {
            let (width, height) = (figure.drawing.width, figure.drawing.height);
            line(format!("  (figure {width:.0} x {height:.0}: {})", figure.alternative));
            line(format!("  {}", figure.caption));
        }
        Block::Cautions(cautions) => {
            cautions.iter().for_each(|(strong, rest)| line(format!("  ! {strong} {rest}")));
        }
        Block::List(points) => points.iter().for_each(|point| line(format!("  - {point}"))),
    }
}

const fn sign(mark: Mark) -> char {
    match mark {
        Mark::Pass => '✓',
        Mark::Fail => '×',
        Mark::Inconclusive => '…',
    }
}
