use super::structure::{NodeId, Role, Structure};
use super::typeface::Typefaces;
use crate::report::document::Document;
use crate::report::drawing::{Anchor, Drawing, Ink, Item, Segment, Stroke, Weight};

/// Left and right margin of the sheet, points.
const SIDE: f64 = 40.0;
/// Where content starts on a page.
const TOP: f64 = 44.0;
/// What is kept free at the foot.
const FOOT: f64 = 50.0;
/// Width of the margin column with the section numbers.
const COLUMN: f64 = 34.0;

/// Something drawn on a page, and what it is.
#[derive(Clone, Debug)]
pub(super) struct Placed {
    /// Its node; `None` is decoration.
    pub(super) node: Option<NodeId>,
    /// Geometry in page coordinates.
    pub(super) item: Item,
}

/// All pages of a document with its structure.
#[derive(Clone, Debug, Default)]
pub(super) struct Pages {
    pub(super) pages: Vec<Vec<Placed>>,
    pub(super) structure: Structure,
    /// Section titles with the page and the height they start at.
    pub(super) outline: Vec<(String, usize, f64)>,
}

/// Fills pages from top to bottom.
pub(super) struct Flow<'a> {
    pub(super) typefaces: &'a Typefaces,
    document: &'a Document,
    pages: Pages,
    y: f64,
    width: f64,
    height: f64,
    /// Where the margin's double rule starts on the running page, once sections have begun.
    rule_from: Option<f64>,
    /// Measures only: nothing is drawn and no page ends.
    is_dry: bool,
    /// What new nodes stand under.
    under: Option<NodeId>,
}

impl<'a> Flow<'a> {
    pub(super) fn new(document: &'a Document, typefaces: &'a Typefaces) -> Self {
        let (width, height) = document.paper.points();
        let pages = Pages { pages: vec![Vec::new()], ..Pages::default() };
        let (y, rule_from, is_dry, under) = (TOP, None, false, None);
        Self { typefaces, document, pages, y, width, height, rule_from, is_dry, under }
    }

    /// Left edge of content.
    pub(super) fn left(&self) -> f64 {
        SIDE + COLUMN + 14.0
    }

    /// Right edge of content.
    pub(super) fn right(&self) -> f64 {
        self.width - SIDE
    }

    /// Width of content.
    pub(super) fn content(&self) -> f64 {
        self.right() - self.left()
    }

    /// Height of content on an empty page.
    pub(super) fn page_content(&self) -> f64 {
        self.height - FOOT - TOP
    }

    /// The running height.
    pub(super) fn y(&self) -> f64 {
        self.y
    }

    /// Moves down.
    pub(super) fn skip(&mut self, by: f64) {
        self.y += by;
    }

    /// Starts a new page unless this much fits on the running one.
    pub(super) fn ensure(&mut self, height: f64) {
        if self.y + height > self.height - FOOT && !self.is_dry && self.y > TOP + 1.0 {
            self.end_page();
            self.pages.pages.push(Vec::new());
            self.y = TOP;
            if self.rule_from.is_some() {
                self.rule_from = Some(TOP);
            }
        }
    }

    /// How high something will be, without drawing it.
    pub(super) fn measured(&mut self, draw: impl FnOnce(&mut Self)) -> f64 {
        let (y, was_dry) = (self.y, self.is_dry);
        let nodes = self.pages.structure.len();
        self.is_dry = true;
        draw(self);
        let height = self.y - y;
        self.pages.structure.truncate(nodes);
        (self.y, self.is_dry) = (y, was_dry);
        height
    }

    /// A node of the structure under the running one.
    pub(super) fn node(&mut self, role: Role) -> NodeId {
        self.pages.structure.add(role, self.under)
    }

    /// A node under another one.
    pub(super) fn node_under(&mut self, role: Role, under: NodeId) -> NodeId {
        self.pages.structure.add(role, Some(under))
    }

    /// Starts a section: rule across, number in the margin, heading; what follows stands in it.
    pub(super) fn start_section(&mut self, number: usize, title: &str) {
        self.under = None;
        let section = self.node(Role::Section);
        self.under = Some(section);
        let y = self.y;
        if self.rule_from.is_none() {
            self.rule_from = Some(y);
        }
        let stroke = Stroke::solid(Ink::Rule, 0.8);
        self.line((SIDE, y), (self.right(), y), stroke);
        self.y += 17.0;
        let base = self.y;
        let number = number.to_string();
        let x = SIDE + COLUMN - 8.0;
        self.text(None, (x, base), Anchor::End, 9.5, Weight::Strong, Ink::Form, &number);
        if !self.is_dry {
            let page = self.pages.pages.len() - 1;
            self.pages.outline.push((title.to_owned(), page, y));
        }
        let heading = self.node(Role::Heading(2, title.to_owned()));
        let place = (self.left(), base);
        self.text(Some(heading), place, Anchor::Start, 9.5, Weight::Strong, Ink::Form, title);
        self.y += 8.0;
    }

    /// A line of text with its base line at `place`.
    #[expect(clippy::too_many_arguments, reason = "the words of one line of type, no more")]
    pub(super) fn text(
        &mut self,
        node: Option<NodeId>,
        (x, y): (f64, f64),
        anchor: Anchor,
        size: f64,
        weight: Weight,
        ink: Ink,
        text: &str,
    ) {
        let text = self.typefaces.printable(text);
        self.place(node, Item::Text { x, y, anchor, size, weight, ink, text });
    }

    /// A line that decorates.
    pub(super) fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: Stroke) {
        let segments = vec![Segment::Move(from.0, from.1), Segment::Line(to.0, to.1)];
        self.place(None, Item::Path { segments, fill: None, stroke: Some(stroke) });
    }

    /// A drawing with its left upper corner at `place`, scaled.
    pub(super) fn drawing(
        &mut self,
        node: Option<NodeId>,
        drawing: &Drawing,
        place: (f64, f64),
        scale: f64,
    ) {
        for item in &drawing.items {
            self.place(node, item.placed(place, scale));
        }
    }

    fn place(&mut self, node: Option<NodeId>, item: Item) {
        if self.is_dry {
            return;
        }
        if let Some(page) = self.pages.pages.last_mut() {
            page.push(Placed { node, item });
        }
    }

    /// The margin's double rule beside what stands on the page.
    fn end_page(&mut self) {
        let Some(from) = self.rule_from else { return };
        let until = self.height - FOOT + 6.0;
        for x in [SIDE + COLUMN, SIDE + COLUMN + 2.6] {
            self.line((x, from), (x, until), Stroke::solid(Ink::Rail, 0.7));
        }
    }

    /// All pages, each with its foot; on a virtual car's document each says so at its head.
    pub(super) fn finish(mut self) -> Pages {
        self.end_page();
        let count = self.pages.pages.len();
        let base = self.height - 30.0;
        let (left, right) = (SIDE, self.right());
        let virtual_mark = self.document.virtual_mark.clone();
        let mut pages = std::mem::take(&mut self.pages.pages);
        for (place, page) in pages.iter_mut().enumerate() {
            let words = |x, y, anchor, weight, text: &str| Placed {
                node: None,
                item: Item::Text {
                    x,
                    y,
                    anchor,
                    size: 7.8,
                    weight,
                    ink: Ink::Soft,
                    text: self.typefaces.printable(text),
                },
            };
            let number = self.document.page_pattern.replace("{pages}", &count.to_string());
            let number = number.replace("{page}", &(place + 1).to_string());
            let footer = format!("{}. {}", self.document.subtitle, self.document.footer);
            page.push(words(left, base, Anchor::Start, Weight::Regular, &footer));
            page.push(words(right, base, Anchor::End, Weight::Regular, &number));
            if let Some(mark) = &virtual_mark {
                page.push(words(right, 30.0, Anchor::End, Weight::Strong, mark));
            }
        }
        self.pages.pages = pages;
        self.pages
    }
}
