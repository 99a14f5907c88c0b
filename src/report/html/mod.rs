//! The document as one page that stands alone: no script, no outside reference, prints on A4 and
//! Letter.

mod svg;

use std::fmt::Write;

use self::svg::svg;
use super::chart::{mark_drawing, mark_ink};
use super::document::{Block, Document, LeaderLine, Mark, Table, WeightLine};
use super::drawing::Ink;

/// The style sheet, with colours as `@role`.
const STYLE: &str = include_str!("report.css");

/// The document as HTML.
pub fn html(document: &Document) -> Vec<u8> {
    let mut page = String::with_capacity(64 * 1024);
    let title = format!("{}: {}", document.title, document.subtitle);
    page.push_str("<!DOCTYPE html>\n");
    tagged(
        &mut page,
        &format!("<html lang=\"{}\">", document.language.tag()),
        "</html>\n",
        |page| {
            page.push_str("<head><meta charset=\"utf-8\">");
            page.push_str(
                "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">",
            );
            tagged(page, "<title>", "</title>", |page| page.push_str(&escaped(&title)));
            tagged(page, "<style>", "</style></head>\n", |page| page.push_str(&style_sheet()));
            tagged(page, "<body><main>", "</main></body>", |page| body(document, page));
        },
    );
    page.into_bytes()
}

fn body(document: &Document, page: &mut String) {
    tagged(page, "<header>", "</header>\n", |page| {
        element(page, "h1", "", &document.title);
        element(page, "p", "subtitle", &document.subtitle);
        if let Some(mark) = &document.virtual_mark {
            element(page, "p", "virtual", mark);
        }
        document.head.iter().for_each(|block| write_block(block, page));
    });
    for (place, section) in document.sections.iter().enumerate() {
        tagged(page, "<section>", "</section>\n", |page| {
            let number = place + 1;
            let _ = write!(page, "<div class=\"number\" aria-hidden=\"true\">{number}</div>");
            tagged(page, "<div class=\"body\">", "</div>", |page| {
                element(page, "h2", "", &section.title);
                section.blocks.iter().for_each(|block| write_block(block, page));
            });
        });
    }
    tagged(page, "<footer>", "</footer>", |page| {
        let mark = document.virtual_mark.iter().map(|mark| format!("{mark}. "));
        let text: String = mark.chain([document.footer.clone()]).collect();
        page.push_str(&escaped(&text));
    });
}

fn write_block(block: &Block, page: &mut String) {
    match block {
        Block::Facts(facts) => tagged(page, "<dl class=\"facts\">", "</dl>", |page| {
            for (label, value) in facts {
                tagged(page, "<div>", "</div>", |page| {
                    element(page, "dt", "", label);
                    element(page, "dd", "", value);
                });
            }
        }),
        Block::Stamp { mark, word } => {
            let class = format!("stamp {}", class(*mark));
            tagged(page, &format!("<p class=\"{class}\"><span>"), "</span></p>", |page| {
                page.push_str(&svg(&mark_drawing(*mark, 20.0), ""));
                element(page, "b", "", word);
            });
        }
        Block::Sentence(text) => element(page, "p", "sentence", text),
        Block::Text(text) => element(page, "p", "", text),
        Block::Small(text) => element(page, "p", "small", text),
        Block::Subheading { text, outcome } => tagged(page, "<h3>", "</h3>", |page| {
            if let Some((mark, _)) = outcome {
                page.push_str(&svg(&mark_drawing(*mark, 16.0), ""));
            }
            element(page, "span", "", text);
            if let Some((mark, word)) = outcome {
                element(page, "span", &format!("word {}", class(*mark)), word);
            }
        }),
        Block::Certainty { share, named_from, label, flag, mark } => {
            certainty(page, *share, *named_from, (label, flag), *mark);
        }
        Block::Leaders(lines) => leaders(page, lines),
        Block::Weights { against, supports, lines } => weights(page, against, supports, lines),
        Block::Table(table) => write_table(table, page),
        Block::Figure(figure) => tagged(page, "<figure>", "</figure>", |page| {
            page.push_str(&svg(&figure.drawing, &figure.alternative));
            element(page, "figcaption", "", &figure.caption);
        }),
        Block::Cautions(cautions) => tagged(page, "<div class=\"cautions\">", "</div>", |page| {
            for (strong, rest) in cautions {
                tagged(page, "<p>", "</p>", |page| {
                    element(page, "b", "", strong);
                    let _ = write!(page, " {}", escaped(rest));
                });
            }
        }),
        Block::List(points) => tagged(page, "<ul>", "</ul>", |page| {
            points.iter().for_each(|point| element(page, "li", "", point));
        }),
    }
}

fn certainty(page: &mut String, share: f64, named: f64, words: (&str, &str), mark: Mark) {
    tagged(page, "<div class=\"certainty\">", "</div>", |page| {
        element(page, "b", "", words.0);
        let (fill, flag) = (share * 100.0, named * 100.0);
        let ink = mark_ink(mark).hex();
        let _ = write!(
            page,
            "<svg viewBox=\"0 0 100 5\" preserveAspectRatio=\"none\" aria-hidden=\"true\"><rect width=\"100\" height=\"3.6\" fill=\"{}\"/><rect width=\"{fill:.2}\" height=\"3.6\" fill=\"{ink}\"/><rect x=\"{:.2}\" width=\"0.9\" height=\"5\" fill=\"{}\"/><rect x=\"{flag:.2}\" width=\"0.4\" height=\"5\" fill=\"{}\"/></svg>",
            Ink::Track.hex(),
            flag - 0.25,
            Ink::Paper.hex(),
            Ink::Rail.hex(),
        );
        element(page, "span", "flag", words.1);
    });
}

fn leaders(page: &mut String, lines: &[LeaderLine]) {
    tagged(page, "<div class=\"leaders\">", "</div>", |page| {
        for line in lines {
            let class = if line.is_total { "<p class=\"total\">" } else { "<p>" };
            tagged(page, class, "</p>", |page| {
                element(page, "span", "", &line.text);
                page.push_str("<i aria-hidden=\"true\"></i>");
                element(page, "span", "amount", &line.amount);
            });
        }
    });
}

fn weights(page: &mut String, against: &str, supports: &str, lines: &[WeightLine]) {
    tagged(page, "<table class=\"weights\"><thead><tr><th></th>", "</tbody></table>", |page| {
        element(page, "th", "against", against);
        element(page, "th", "for", supports);
        page.push_str("</tr></thead><tbody>");
        for line in lines {
            tagged(page, "<tr>", "</tr>", |page| {
                tagged(page, "<td>", "</td>", |page| {
                    element(page, "span", "", &line.text);
                    element(page, "small", "", &line.odds);
                });
                let count = usize::from(line.blocks.unsigned_abs());
                let row = |hollow: &str| {
                    let block = format!("<i class=\"block{hollow}\"></i>");
                    block.repeat(count)
                };
                let (left, right) = if line.blocks < 0 {
                    (row(" hollow"), String::new())
                } else {
                    (String::new(), row(""))
                };
                let _ = write!(
                    page,
                    "<td class=\"against\" aria-hidden=\"true\">{left}</td><td class=\"for\" aria-hidden=\"true\">{right}</td>"
                );
            });
        }
    });
}

fn write_table(table: &Table, page: &mut String) {
    let class = |column: usize| if table.right.get(column) == Some(&true) { "right" } else { "" };
    tagged(page, "<table>", "</tbody></table>", |page| {
        page.push_str("<colgroup>");
        for width in &table.widths {
            let _ = write!(page, "<col style=\"width:{:.1}%\">", width * 100.0);
        }
        page.push_str("</colgroup><thead><tr>");
        for (column, head) in table.head.iter().enumerate() {
            let _ = write!(
                page,
                "<th scope=\"col\" class=\"{}\">{}</th>",
                class(column),
                escaped(head)
            );
        }
        page.push_str("</tr></thead><tbody>");
        for row in &table.rows {
            tagged(page, "<tr>", "</tr>", |page| {
                for (column, cell) in row.iter().enumerate() {
                    element(page, "td", class(column), cell);
                }
            });
        }
    });
}

const fn class(mark: Mark) -> &'static str {
    match mark {
        Mark::Pass => "pass",
        Mark::Fail => "fail",
        Mark::Inconclusive => "inconclusive",
    }
}

fn style_sheet() -> String {
    let roles = [
        ("@paper", Ink::Paper),
        ("@ink", Ink::Ink),
        ("@soft", Ink::Soft),
        ("@form", Ink::Form),
        ("@rail", Ink::Rail),
        ("@band", Ink::Band),
        ("@edge", Ink::Edge),
        ("@rule", Ink::Rule),
        ("@failtint", Ink::FailTint),
        ("@fail", Ink::Fail),
        ("@open", Ink::Inconclusive),
        ("@cautiontext", Ink::CautionText),
        ("@cautionground", Ink::CautionGround),
        ("@cautionmark", Ink::CautionMark),
    ];
    roles.iter().fold(STYLE.to_owned(), |style, (role, ink)| {
        style.replace(&format!("{role};"), &format!("{};", ink.hex()))
    })
}

/// An element around text, which is escaped.
fn element(page: &mut String, name: &str, class: &str, text: &str) {
    if class.is_empty() {
        let _ = write!(page, "<{name}>{}</{name}>", escaped(text));
    } else {
        let _ = write!(page, "<{name} class=\"{class}\">{}</{name}>", escaped(text));
    }
}

/// What `inside` writes, between two tags.
fn tagged(page: &mut String, open: &str, close: &str, inside: impl FnOnce(&mut String)) {
    page.push_str(open);
    inside(page);
    page.push_str(close);
}

/// Text that no reader takes for markup, inside an element or a quoted attribute. Control
/// characters, which no text here needs, are left out, and so are the marks that turn the reading
/// direction: a name must not rewrite the line it stands in.
pub(super) fn escaped(text: &str) -> String {
    let mut safe = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => safe.push_str("&amp;"),
            '<' => safe.push_str("&lt;"),
            '>' => safe.push_str("&gt;"),
            '"' => safe.push_str("&quot;"),
            '\'' => safe.push_str("&#39;"),
            '\n' | '\t' => safe.push(' '),
            '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' => {}
            letter if letter.is_control() => {}
            letter => safe.push(letter),
        }
    }
    safe
}
