use slint::Rgb8Pixel;

/// What is to be drawn. Times are seconds on the strip's own scale.
#[derive(Clone, Debug, Default)]
pub struct Spec {
    /// First and last time in view.
    pub seconds: (f64, f64),
    /// Lanes from left to right.
    pub lanes: Vec<Lane>,
    /// What happened, across all lanes.
    pub events: Vec<Event>,
    /// Times without readings.
    pub gaps: Vec<Gap>,
    /// The present, if the strip is live.
    pub now: Option<f64>,
    /// What it comes to, at the foot.
    pub total: Option<Total>,
    /// A peek: no time figures, no lane names, no words.
    pub peek: bool,
    /// Whether the paper runs out of view at the foot, as on the phone.
    pub open_foot: bool,
    /// Factor on the size of words.
    pub text_scale: f64,
    /// Decimal mark.
    pub decimal_comma: bool,
}

/// How wide a lane is.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Extent {
    /// This many pixels.
    Fixed(f64),
    /// What is left.
    Rest,
}

/// One quantity over time.
#[derive(Clone, Debug)]
pub struct Lane {
    /// Name with unit, such as `Tank pressure, Pa`.
    pub name: String,
    /// What is said of its scale at the top of the paper; empty for the usual one.
    pub scale_words: String,
    /// How wide.
    pub extent: Extent,
    /// Value at the left edge.
    pub low: f64,
    /// Value at the right edge.
    pub high: f64,
    /// Lines in it.
    pub traces: Vec<Trace>,
    /// The band while it holds.
    pub rails: Vec<RailSpan>,
    /// Where a tight valve would land: time and value.
    pub landing: Vec<(f64, f64)>,
    /// Words beside the landing line.
    pub landing_words: String,
    /// A measured distance from the rails.
    pub dimension: Option<Dimension>,
}

/// How a line is drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum TraceKind {
    /// Ink; red and hatched outside the rails.
    Judged,
    /// Ink alone.
    Plain,
    /// Red: before the repair.
    Before,
    /// Dashed, with paper under the dashes: fitted to the readings.
    Fit,
    /// An area from the left edge.
    Area,
}

/// One line; a gap in it starts a new piece.
#[derive(Clone, Debug)]
pub struct Trace {
    /// How it is drawn.
    pub kind: TraceKind,
    /// Pieces of time and value, times never decreasing.
    pub pieces: Vec<Vec<(f64, f64)>>,
    /// Name at its top; empty for none.
    pub name: String,
}

/// The rails while they hold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RailSpan {
    /// From.
    pub from: f64,
    /// Until.
    pub until: f64,
    /// Lower rail.
    pub low: f64,
    /// Upper rail.
    pub high: f64,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// When.
    pub at: f64,
    /// In words.
    pub words: String,
}

/// A time without readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Gap {
    /// From.
    pub from: f64,
    /// Until.
    pub until: f64,
    /// What happened.
    pub words: String,
    /// More about it.
    pub note: String,
}

/// A distance with its figure.
#[derive(Clone, Debug, PartialEq)]
pub struct Dimension {
    /// At which time it stands.
    pub at: f64,
    /// From the trace.
    pub from: f64,
    /// To the rail.
    pub to: f64,
    /// Figure.
    pub words: String,
}

/// What it comes to, in the last lane's own scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Total {
    /// Two short lines on the left.
    pub words: (String, String),
    /// Intervals.
    pub marks: Vec<TotalMark>,
    /// Where the total's own zero stands on the lane's scale; none if it shares the lane's.
    pub zero: Option<f64>,
}

/// One interval of a total.
#[derive(Clone, Debug, PartialEq)]
pub struct TotalMark {
    /// Lower bound on the lane's scale.
    pub low: f64,
    /// Middle.
    pub value: f64,
    /// Upper bound.
    pub high: f64,
    /// Figure.
    pub words: String,
    /// A red square, else an ink dot.
    pub fails: bool,
}

/// What a word on the strip means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WordTone {
    /// Ink.
    Ink,
    /// Second ink.
    Soft,
    /// The form.
    Form,
    /// Outside the rails.
    Fail,
}

/// Size of a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WordSize {
    /// Figure on an axis.
    Axis,
    /// Label.
    Label,
    /// Figure of a total.
    Figure,
}

/// Colours, taken from the theme.
#[derive(Clone, Copy, Debug, Default)]
#[allow(missing_docs, reason = "each is the theme's colour of the same name")]
pub struct Look {
    pub paper: Rgb8Pixel,
    pub ink: Rgb8Pixel,
    pub ink_soft: Rgb8Pixel,
    pub form: Rgb8Pixel,
    pub rail: Rgb8Pixel,
    pub band: Rgb8Pixel,
    pub edge: Rgb8Pixel,
    pub rule: Rgb8Pixel,
    pub grid_fine: Rgb8Pixel,
    pub grid_strong: Rgb8Pixel,
    pub fail: Rgb8Pixel,
    pub track: Rgb8Pixel,
}
