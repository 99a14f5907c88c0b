/// A colour by its role on the form. The values are the day palette: readable at 7:1 for text and
/// 3:1 for marks, and told apart in grey by shape and hatch.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Ink {
    /// The sheet.
    Paper,
    /// What was measured or entered.
    Ink,
    /// Second text and axis figures.
    Soft,
    /// What is printed on the form.
    Form,
    /// Rails, margin rule, flag.
    Rail,
    /// Between the rails.
    Band,
    /// What was fitted to the readings.
    Fit,
    /// Outlines.
    Edge,
    /// Row lines.
    Rule,
    /// Fine grid.
    GridFine,
    /// Labelled grid.
    GridStrong,
    /// Fail, and the trace outside the rails.
    Fail,
    /// Ground of a failed part.
    FailTint,
    /// Inconclusive.
    Inconclusive,
    /// Text of a caution.
    CautionText,
    /// Ground of a caution.
    CautionGround,
    /// Bar of a caution.
    CautionMark,
    /// Unfilled ruler, throttle area.
    Track,
    /// Parts of the circuit.
    Circuit,
}

impl Ink {
    /// Red, green and blue, 0 to 255.
    pub const fn rgb(self) -> (u8, u8, u8) {
        match self {
            Self::Paper => (0xFB, 0xFC, 0xF8),
            Self::Ink => (0x14, 0x19, 0x1A),
            Self::Soft => (0x3D, 0x46, 0x42),
            Self::Form => (0x0F, 0x57, 0x40),
            Self::Rail => (0x1F, 0x7A, 0x58),
            Self::Band => (0xDD, 0xEF, 0xE3),
            Self::Fit => (0x1D, 0x4F, 0xA8),
            Self::Edge => (0x5B, 0x75, 0x68),
            Self::Rule => (0xB7, 0xC9, 0xBD),
            Self::GridFine => (0xE9, 0xF0, 0xE9),
            Self::GridStrong => (0xCF, 0xDE, 0xD3),
            Self::Fail => (0x97, 0x19, 0x10),
            Self::FailTint => (0xFC, 0xEB, 0xE7),
            Self::Inconclusive => (0x4B, 0x3A, 0x86),
            Self::CautionText => (0x4A, 0x35, 0x00),
            Self::CautionGround => (0xFF, 0xF0, 0xC4),
            Self::CautionMark => (0x94, 0x64, 0x00),
            Self::Track => (0xD9, 0xE2, 0xDA),
            Self::Circuit => (0x4C, 0x7A, 0x66),
        }
    }

    /// As in a style sheet, such as `#14191A`.
    pub fn hex(self) -> String {
        let (red, green, blue) = self.rgb();
        format!("#{red:02X}{green:02X}{blue:02X}")
    }
}

/// One piece of an outline. Coordinates in points, y downwards.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Segment {
    /// Starts a new outline.
    Move(f64, f64),
    /// Straight to.
    Line(f64, f64),
    /// Cubic curve: two controls, end.
    Curve(f64, f64, f64, f64, f64, f64),
    /// Back to the start.
    Close,
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stroke {
    /// Colour.
    pub ink: Ink,
    /// Width, points.
    pub width: f64,
    /// Dash and gap, points.
    pub dash: Option<(f64, f64)>,
}

impl Stroke {
    /// An unbroken line.
    pub const fn solid(ink: Ink, width: f64) -> Self {
        Self { ink, width, dash: None }
    }

    /// A dashed line.
    pub const fn dashed(ink: Ink, width: f64, dash: f64, gap: f64) -> Self {
        Self { ink, width, dash: Some((dash, gap)) }
    }
}

/// Which point of a text stands at its position.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// Its start.
    Start,
    /// Its middle.
    Middle,
    /// Its end.
    End,
}

/// Weight of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Weight {
    /// 400.
    Regular,
    /// 600.
    Strong,
}

/// A piece of a drawing.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// An outline.
    Path {
        /// The outline.
        segments: Vec<Segment>,
        /// Fill, even-odd.
        fill: Option<Ink>,
        /// Line.
        stroke: Option<Stroke>,
    },
    /// A line of text.
    Text {
        /// Where its anchor stands.
        x: f64,
        /// Its base line.
        y: f64,
        /// Which point stands there.
        anchor: Anchor,
        /// Size, points.
        size: f64,
        /// Weight.
        weight: Weight,
        /// Colour.
        ink: Ink,
        /// The words.
        text: String,
    },
}

impl Item {
    /// The piece with the drawing's left upper corner at `corner`, scaled.
    pub(super) fn placed(&self, (left, top): (f64, f64), scale: f64) -> Self {
        let x = |x: f64| left + x * scale;
        let y = |y: f64| top + y * scale;
        match self {
            Self::Path { segments, fill, stroke } => {
                let turn = |segment: &Segment| match *segment {
                    Segment::Move(a, b) => Segment::Move(x(a), y(b)),
                    Segment::Line(a, b) => Segment::Line(x(a), y(b)),
                    Segment::Curve(a, b, c, d, e, f) => {
                        Segment::Curve(x(a), y(b), x(c), y(d), x(e), y(f))
                    }
                    Segment::Close => Segment::Close,
                };
                let stroke = stroke.map(|stroke| Stroke {
                    width: stroke.width * scale,
                    dash: stroke.dash.map(|(dash, gap)| (dash * scale, gap * scale)),
                    ..stroke
                });
                Self::Path { segments: segments.iter().map(turn).collect(), fill: *fill, stroke }
            }
            Self::Text { x: at_x, y: at_y, anchor, size, weight, ink, text } => Self::Text {
                x: x(*at_x),
                y: y(*at_y),
                anchor: *anchor,
                size: size * scale,
                weight: *weight,
                ink: *ink,
                text: text.clone(),
            },
        }
    }
}

/// Geometry that every format draws alike.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Width, points.
    pub width: f64,
    /// Height, points.
    pub height: f64,
    /// Back to front.
    pub items: Vec<Item>,
}

/// Control offset that makes a cubic curve a quarter circle: 4/3·tan(π/8).
const QUARTER: f64 = 0.552_284_749_830_793_6;

impl Drawing {
    /// An empty drawing.
    pub fn new(width: f64, height: f64) -> Self {
        Self { width, height, items: Vec::new() }
    }

    /// Adds an outline.
    pub fn path(&mut self, segments: Vec<Segment>, fill: Option<Ink>, stroke: Option<Stroke>) {
        if segments.len() > 1 {
            self.items.push(Item::Path { segments, fill, stroke });
        }
    }

    /// Adds a straight line.
    pub fn line(&mut self, from: (f64, f64), to: (f64, f64), stroke: Stroke) {
        self.path(
            vec![Segment::Move(from.0, from.1), Segment::Line(to.0, to.1)],
            None,
            Some(stroke),
        );
    }

    /// Adds connected straight lines.
    pub fn polyline(&mut self, points: &[(f64, f64)], stroke: Stroke) {
        self.path(outline(points.iter().copied()), None, Some(stroke));
    }

    /// Adds a filled polygon.
    pub fn polygon(&mut self, points: &[(f64, f64)], fill: Ink) {
        let mut segments = outline(points.iter().copied());
        segments.push(Segment::Close);
        self.path(segments, Some(fill), None);
    }

    /// Adds a rectangle with corners of this radius.
    pub fn rectangle(
        &mut self,
        (x, y): (f64, f64),
        (width, height): (f64, f64),
        radius: f64,
        fill: Option<Ink>,
        stroke: Option<Stroke>,
    ) {
        let (right, bottom) = (x + width, y + height);
        let r = radius.min(width / 2.0).min(height / 2.0);
        let k = r * (1.0 - QUARTER);
        let segments = if r <= 0.0 {
            vec![
                Segment::Move(x, y),
                Segment::Line(right, y),
                Segment::Line(right, bottom),
                Segment::Line(x, bottom),
                Segment::Close,
            ]
        } else {
            vec![
                Segment::Move(x + r, y),
                Segment::Line(right - r, y),
                Segment::Curve(right - k, y, right, y + k, right, y + r),
                Segment::Line(right, bottom - r),
                Segment::Curve(right, bottom - k, right - k, bottom, right - r, bottom),
                Segment::Line(x + r, bottom),
                Segment::Curve(x + k, bottom, x, bottom - k, x, bottom - r),
                Segment::Line(x, y + r),
                Segment::Curve(x, y + k, x + k, y, x + r, y),
                Segment::Close,
            ]
        };
        self.path(segments, fill, stroke);
    }

    /// Adds a circle.
    pub fn circle(
        &mut self,
        (x, y): (f64, f64),
        radius: f64,
        fill: Option<Ink>,
        stroke: Option<Stroke>,
    ) {
        let side = radius * 2.0;
        self.rectangle((x - radius, y - radius), (side, side), radius, fill, stroke);
    }

    /// Adds a line of text.
    pub fn text(
        &mut self,
        (x, y): (f64, f64),
        anchor: Anchor,
        size: f64,
        weight: Weight,
        ink: Ink,
        text: &str,
    ) {
        self.items.push(Item::Text { x, y, anchor, size, weight, ink, text: text.to_owned() });
    }
}

/// Straight lines through these points.
pub(super) fn outline(points: impl IntoIterator<Item = (f64, f64)>) -> Vec<Segment> {
    let segment = |(place, (x, y))| match place {
        0 => Segment::Move(x, y),
        _ => Segment::Line(x, y),
    };
    points.into_iter().enumerate().map(segment).collect()
}
