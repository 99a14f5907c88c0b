use serde::{Deserialize, Serialize};

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
        match self {
            Self::Pascal => "Pa",
            Self::Kilopascal => "kPa",
            Self::PoundPerSquareInch => "psi",
            Self::InchOfWater => "inH2O",
        }
    }

    /// Pascal in one of this unit. Source: NIST SP 811 (2008), appendix B, from memory:
    /// pound-force per square inch 6.894 757 E+03, inch of water (conventional) 2.490 889 E+02.
    pub const fn pascal(self) -> f64 {
        match self {
            Self::Pascal => 1.0,
            Self::Kilopascal => 1000.0,
            Self::PoundPerSquareInch => 6_894.757,
            Self::InchOfWater => 249.088_9,
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
