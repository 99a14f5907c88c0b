//! Sections of aligned lines for the terminal.

/// What a cell says, for where colours are shown. The words say the same, so nothing is lost
/// without them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Tone {
    /// Nothing in particular.
    Plain,
    /// As it should be.
    Good,
    /// Not as it should be.
    Bad,
    /// Not to be relied on, or not known.
    Doubt,
}

/// A line: cells that stand under those of the same section.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Line(Vec<(String, Tone)>);

impl Line {
    /// A line of plain cells.
    pub(super) fn new<const N: usize>(cells: [&str; N]) -> Self {
        Self(cells.map(|cell| (cell.to_owned(), Tone::Plain)).to_vec())
    }

    /// The line with one more cell.
    pub(super) fn and(mut self, cell: &str, tone: Tone) -> Self {
        self.0.push((cell.to_owned(), tone));
        self
    }
}

/// A heading with its lines; nothing is shown of a section without lines.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Section {
    /// The heading.
    pub(super) title: String,
    /// The lines.
    pub(super) lines: Vec<Line>,
}

impl Section {
    /// A section.
    pub(super) fn new(title: &str, lines: Vec<Line>) -> Self {
        Self { title: title.to_owned(), lines }
    }
}

/// The widest that a column makes others wait for; longer cells push their own line on.
const WIDEST: usize = 34;

/// Select graphic rendition (ECMA-48, section 8.3.117): bold, green, red, yellow, and back.
const BOLD: &str = "\u{1b}[1m";
const GREEN: &str = "\u{1b}[32m";
const RED: &str = "\u{1b}[31m";
const YELLOW: &str = "\u{1b}[33m";
const BACK: &str = "\u{1b}[0m";

/// The sections as text, a blank line between them.
pub(super) fn render(sections: &[Section], colours: bool) -> String {
    let shown: Vec<String> = sections
        .iter()
        .filter(|section| !section.lines.is_empty())
        .map(|section| one(section, colours))
        .collect();
    shown.join("\n\n")
}

fn one(section: &Section, colours: bool) -> String {
    let columns = section.lines.iter().map(|line| line.0.len()).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = section.lines.iter().filter_map(|line| line.0.get(column));
        let widths = cells.map(|(text, _)| text.chars().count());
        widths.filter(|width| *width <= WIDEST).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let title =
        if colours { format!("{BOLD}{}{BACK}", section.title) } else { section.title.clone() };
    let mut text = title;
    for line in &section.lines {
        text.push_str("\n ");
        let last = line.0.len().saturating_sub(1);
        for (column, ((cell, tone), width)) in line.0.iter().zip(&widths).enumerate() {
            let room = if column == last { 0 } else { width.saturating_sub(cell.chars().count()) };
            text.push(' ');
            text.push_str(&coloured(cell, *tone, colours));
            text.extend(std::iter::repeat_n(' ', room));
        }
        text.truncate(text.trim_end().len());
    }
    text
}

fn coloured(cell: &str, tone: Tone, colours: bool) -> String {
    let start = match tone {
        Tone::Good => GREEN,
        Tone::Bad => RED,
        Tone::Doubt => YELLOW,
        Tone::Plain => return cell.to_owned(),
    };
    if colours && !cell.is_empty() { format!("{start}{cell}{BACK}") } else { cell.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::{Line, Section, Tone, render};

    fn sections() -> Vec<Section> {
        vec![
            Section::new("Empty", Vec::new()),
            Section::new(
                "Readiness",
                vec![
                    Line::new(["Catalyst"]).and("complete", Tone::Good),
                    Line::new(["Evaporative system"]).and("not complete", Tone::Bad),
                    Line::new(["–"]).and("why", Tone::Plain),
                ],
            ),
        ]
    }

    #[test]
    fn cells_stand_under_each_other_and_no_line_ends_in_blanks() {
        assert_eq!(
            render(&sections(), false),
            "Readiness\n  Catalyst           complete\n  Evaporative system not complete\n  –                  why"
        );
    }

    #[test]
    fn colours_change_no_letter() {
        let coloured = render(&sections(), true);
        assert!(coloured.contains("\u{1b}[31mnot complete\u{1b}[0m"), "{coloured}");
        let mut bare = String::new();
        let mut letters = coloured.chars();
        while let Some(letter) = letters.next() {
            if letter == '\u{1b}' {
                letters.by_ref().find(|it| *it == 'm');
            } else {
                bare.push(letter);
            }
        }
        assert_eq!(bare, render(&sections(), false));
    }
}
