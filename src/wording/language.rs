use serde::{Deserialize, Serialize};

use crate::units::DisplayUnit;

/// A language that every sentence exists in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Language {
    /// English.
    #[default]
    English,
    /// German.
    German,
}

impl Language {
    /// Every language.
    pub const ALL: [Self; 2] = [Self::English, Self::German];

    /// The language's tag (BCP 47).
    pub const fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    /// The one of two wordings that is in this language.
    ///
    /// Sentences stand side by side in the code, whole, so that neither is glued from the other's
    /// pieces and a missing translation does not compile.
    pub const fn of<'a>(self, english: &'a str, german: &'a str) -> &'a str {
        match self {
            Self::English => english,
            Self::German => german,
        }
    }
}

/// The unit that the person wants pressures in.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum PressureUnit {
    /// Pascal.
    #[default]
    Pascal,
    /// Kilopascal.
    Kilopascal,
    /// Pound-force per square inch.
    PoundPerSquareInch,
    /// Inch of water.
    InchOfWater,
}

impl PressureUnit {
    /// Every unit.
    pub const ALL: [Self; 4] =
        [Self::Pascal, Self::Kilopascal, Self::PoundPerSquareInch, Self::InchOfWater];

    /// The unit's symbol.
    pub const fn symbol(self) -> &'static str {
        self.unit().symbol()
    }

    /// Pascal in one of this unit.
    pub const fn pascal(self) -> f64 {
        self.unit().factor()
    }

    /// The unit among all that values are shown in.
    pub const fn unit(self) -> DisplayUnit {
        match self {
            Self::Pascal => DisplayUnit::Pascal,
            Self::Kilopascal => DisplayUnit::Kilopascal,
            Self::PoundPerSquareInch => DisplayUnit::PoundPerSquareInch,
            Self::InchOfWater => DisplayUnit::InchOfWater,
        }
    }
}

/// How the person wants to be spoken to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Style {
    /// The language.
    pub language: Language,
    /// The unit of tank pressures.
    pub pressure: PressureUnit,
}

impl Style {
    /// The one of two wordings that is in the person's language.
    pub const fn of<'a>(&self, english: &'a str, german: &'a str) -> &'a str {
        self.language.of(english, german)
    }
}
