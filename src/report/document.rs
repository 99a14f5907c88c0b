use chrono::{DateTime, FixedOffset};
use serde::{Deserialize, Serialize};

use super::drawing::Drawing;
use crate::evidence::Outcome;
use crate::wording::Language;

/// The sheet a document is printed on.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Paper {
    /// 210 mm × 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 in × 11 in (ANSI A).
    Letter,
}

impl Paper {
    /// Width and height in points, 1/72 in.
    pub const fn points(self) -> (f64, f64) {
        match self {
            Self::A4 => (595.276, 841.89),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// A document: a head and numbered sections, as on a printed form. It holds finished words and
/// numbers only; the formats lay it out and nothing else.
#[derive(Clone, Debug, PartialEq)]
pub struct Document {
    /// What it is.
    pub title: String,
    /// Of what.
    pub subtitle: String,
    /// Its language.
    pub language: Language,
    /// Said on every page when the car was virtual.
    pub virtual_mark: Option<String>,
    /// When it was written.
    pub written: DateTime<FixedOffset>,
    /// At the foot of every page.
    pub footer: String,
    /// The words for “page {page} of {pages}”.
    pub page_pattern: String,
    /// The sheet.
    pub paper: Paper,
    /// Above the first section.
    pub head: Vec<Block>,
    /// The numbered sections.
    pub sections: Vec<Section>,
}

/// A numbered section.
#[derive(Clone, Debug, PartialEq)]
pub struct Section {
    /// Its heading.
    pub title: String,
    /// What stands in it.
    pub blocks: Vec<Block>,
}

/// An outcome as shape, word and colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Mark {
    /// Dot with a tick.
    Pass,
    /// Square with a cross.
    Fail,
    /// Open ring with three dots.
    Inconclusive,
}

impl From<Outcome> for Mark {
    fn from(outcome: Outcome) -> Self {
        match outcome {
            Outcome::Pass => Self::Pass,
            Outcome::Fail => Self::Fail,
            Outcome::Inconclusive => Self::Inconclusive,
        }
    }
}

/// A piece of a section.
#[derive(Clone, Debug, PartialEq)]
pub enum Block {
    /// Labels with their values, in columns.
    Facts(Vec<(String, String)>),
    /// The verdict's stamp.
    Stamp {
        /// Its shape.
        mark: Mark,
        /// Its word.
        word: String,
    },
    /// The one sentence of the section, large.
    Sentence(String),
    /// A heading within the section, with the outcome it reports.
    Subheading {
        /// The heading.
        text: String,
        /// Outcome as shape and word.
        outcome: Option<(Mark, String)>,
    },
    /// Running text.
    Text(String),
    /// Smaller text: how something was obtained.
    Small(String),
    /// How sure, on the ruler.
    Certainty {
        /// Probability, 0 to 1.
        share: f64,
        /// From where a fault is named, 0 to 1.
        named_from: f64,
        /// The words left of it.
        label: String,
        /// The words at the flag.
        flag: String,
        /// Colour and shape of the fill.
        mark: Mark,
    },
    /// Text, leader, amount.
    Leaders(Vec<LeaderLine>),
    /// The factors of the verdict.
    Weights {
        /// Over the blocks that speak against.
        against: String,
        /// Over the blocks that speak for.
        supports: String,
        /// The factors.
        lines: Vec<WeightLine>,
    },
    /// Rows and columns.
    Table(Table),
    /// A drawing.
    Figure(Figure),
    /// Hazards: strong first clause and the rest.
    Cautions(Vec<(String, String)>),
    /// Points.
    List(Vec<String>),
}

/// A line with a dotted leader to its amount.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LeaderLine {
    /// The text.
    pub text: String,
    /// The amount with its unit.
    pub amount: String,
    /// Whether it is a sum: set strong over a double rule.
    pub is_total: bool,
}

/// One factor of the verdict.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WeightLine {
    /// What the fact is.
    pub text: String,
    /// The factor in words.
    pub odds: String,
    /// Blocks right (for) or left (against) of the centre, about one for each factor of 3.
    pub blocks: i8,
}

/// Rows and columns.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Column heads.
    pub head: Vec<String>,
    /// Cells.
    pub rows: Vec<Vec<String>>,
    /// Share of the width each column takes; their sum is 1.
    pub widths: Vec<f64>,
    /// Columns that are set to the right.
    pub right: Vec<bool>,
}

/// A drawing with its words.
#[derive(Clone, Debug, PartialEq)]
pub struct Figure {
    /// The geometry, in points.
    pub drawing: Drawing,
    /// Under it.
    pub caption: String,
    /// In its place, for who cannot see it.
    pub alternative: String,
}
