use serde::{Deserialize, Serialize};

/// What a unit measures. Each dimension has one base unit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Dimension {
    /// Base: pascal.
    Pressure,
    /// Base: degree Celsius.
    Temperature,
    /// Base: kilometre per hour.
    Speed,
    /// Base: kilometre.
    Distance,
    /// Base: millimetre.
    SmallLength,
    /// Base: litre.
    Volume,
    /// Base: litre per minute.
    VolumeFlow,
    /// Base: gram per second.
    MassFlow,
    /// Base: volt.
    Potential,
    /// Base: second.
    Time,
    /// Base: per cent.
    Share,
    /// Base: revolution per minute.
    Rotation,
}

macro_rules! display_units {
    ($($(#[$doc:meta])* $variant:ident, $symbol:literal, $dimension:ident, $factor:expr, $zero:expr;)*) => {
        /// A unit that values are shown or imported in.
        #[derive(
            Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize,
        )]
        pub enum DisplayUnit {
            $($(#[$doc])* #[serde(rename = $symbol)] $variant,)*
        }

        impl DisplayUnit {
            /// Every unit.
            pub const ALL: &[Self] = &[$(Self::$variant,)*];

            /// The symbol.
            pub const fn symbol(self) -> &'static str {
                match self { $(Self::$variant => $symbol,)* }
            }

            /// What it measures.
            pub const fn dimension(self) -> Dimension {
                match self { $(Self::$variant => Dimension::$dimension,)* }
            }

            /// Base units in one of this unit.
            pub const fn factor(self) -> f64 {
                match self { $(Self::$variant => $factor,)* }
            }

            /// The base unit's value where this unit's is zero.
            pub const fn zero(self) -> f64 {
                match self { $(Self::$variant => $zero,)* }
            }
        }
    };
}

// Factors: NIST Special Publication 811, appendix B.8; where a unit is defined exactly, the
// definition's own digits.
display_units! {
    /// The base of pressures.
    Pascal, "Pa", Pressure, 1.0, 0.0;
    /// A hundred pascals.
    Hectopascal, "hPa", Pressure, 100.0, 0.0;
    /// A hundred pascals under their older name.
    Millibar, "mbar", Pressure, 100.0, 0.0;
    /// A thousand pascals.
    Kilopascal, "kPa", Pressure, 1000.0, 0.0;
    /// A hundred thousand pascals.
    Bar, "bar", Pressure, 100_000.0, 0.0;
    /// Pound-force per square inch: 0.453 592 37 kg · 9.806 65 m/s² over 0.0254 m squared.
    PoundPerSquareInch, "psi", Pressure, 6_894.757_293_168_361, 0.0;
    /// Conventional inch of water: 1000 kg/m³ · 9.806 65 m/s² · 0.0254 m.
    InchOfWater, "inH2O", Pressure, 249.088_91, 0.0;
    /// Conventional millimetre of mercury: 13 595.1 kg/m³ · 9.806 65 m/s² · 0.001 m.
    MillimetreOfMercury, "mmHg", Pressure, 133.322_387_415, 0.0;
    /// Conventional inch of mercury: 25.4 of those.
    InchOfMercury, "inHg", Pressure, 3_386.388_640_341, 0.0;
    /// The base of temperatures.
    Celsius, "°C", Temperature, 1.0, 0.0;
    /// Five ninths of a degree, zero at 32 below freezing.
    Fahrenheit, "°F", Temperature, 5.0 / 9.0, -160.0 / 9.0;
    /// The base of speeds.
    KilometrePerHour, "km/h", Speed, 1.0, 0.0;
    /// International mile per hour.
    MilePerHour, "mph", Speed, 1.609_344, 0.0;
    /// The base of distances.
    Kilometre, "km", Distance, 1.0, 0.0;
    /// International mile.
    Mile, "mi", Distance, 1.609_344, 0.0;
    /// The base of small lengths.
    Millimetre, "mm", SmallLength, 1.0, 0.0;
    /// International inch.
    Inch, "in", SmallLength, 25.4, 0.0;
    /// The base of volumes.
    Litre, "L", Volume, 1.0, 0.0;
    /// United States liquid gallon: 231 cubic inches.
    Gallon, "gal", Volume, 3.785_411_784, 0.0;
    /// The base of volume flows.
    LitrePerMinute, "L/min", VolumeFlow, 1.0, 0.0;
    /// Cubic foot per hour.
    CubicFootPerHour, "ft³/h", VolumeFlow, 28.316_846_592 / 60.0, 0.0;
    /// The base of mass flows.
    GramPerSecond, "g/s", MassFlow, 1.0, 0.0;
    /// Pound (avoirdupois) per minute.
    PoundPerMinute, "lb/min", MassFlow, 453.592_37 / 60.0, 0.0;
    /// The base of potentials.
    Volt, "V", Potential, 1.0, 0.0;
    /// A thousandth of a volt.
    Millivolt, "mV", Potential, 0.001, 0.0;
    /// The base of times.
    Second, "s", Time, 1.0, 0.0;
    /// A thousandth of a second.
    Millisecond, "ms", Time, 0.001, 0.0;
    /// Sixty seconds.
    Minute, "min", Time, 60.0, 0.0;
    /// The base of shares.
    Percent, "%", Share, 1.0, 0.0;
    /// The base of rotations.
    RevolutionPerMinute, "rpm", Rotation, 1.0, 0.0;
}

impl DisplayUnit {
    /// The unit with this symbol, in the spellings other programs use.
    pub fn from_symbol(text: &str) -> Option<Self> {
        let text = text.trim();
        let exact = Self::ALL.iter().copied().find(|unit| unit.symbol() == text);
        exact.or_else(|| {
            let plain = text.to_lowercase();
            let other = SPELLINGS.iter().find(|(spelling, _)| *spelling == plain);
            other.map(|(_, unit)| *unit)
        })
    }

    /// A value in this unit from one in the base unit.
    pub fn from_base(self, value: f64) -> f64 {
        (value - self.zero()) / self.factor()
    }

    /// A value in the base unit from one in this unit.
    pub fn to_base(self, value: f64) -> f64 {
        value * self.factor() + self.zero()
    }

    /// A value in `to` from one in this unit; `None` if they measure different things.
    pub fn convert(self, value: f64, to: Self) -> Option<f64> {
        if self == to {
            return Some(value);
        }
        (self.dimension() == to.dimension()).then(|| to.from_base(self.to_base(value)))
    }

    /// Like [`Self::convert`] for a difference or a spread, to which no zero point applies.
    pub fn convert_difference(self, value: f64, to: Self) -> Option<f64> {
        if self == to {
            return Some(value);
        }
        (self.dimension() == to.dimension()).then(|| value * self.factor() / to.factor())
    }
}

/// Other spellings, in small letters.
const SPELLINGS: &[(&str, DisplayUnit)] = &[
    ("pa", DisplayUnit::Pascal),
    ("hpa", DisplayUnit::Hectopascal),
    ("mbar", DisplayUnit::Millibar),
    ("kpa", DisplayUnit::Kilopascal),
    ("bar", DisplayUnit::Bar),
    ("psi", DisplayUnit::PoundPerSquareInch),
    ("inh2o", DisplayUnit::InchOfWater),
    ("in h2o", DisplayUnit::InchOfWater),
    ("inh₂o", DisplayUnit::InchOfWater),
    ("inwc", DisplayUnit::InchOfWater),
    ("mmhg", DisplayUnit::MillimetreOfMercury),
    ("inhg", DisplayUnit::InchOfMercury),
    ("in hg", DisplayUnit::InchOfMercury),
    ("c", DisplayUnit::Celsius),
    ("degc", DisplayUnit::Celsius),
    ("°c", DisplayUnit::Celsius),
    ("f", DisplayUnit::Fahrenheit),
    ("degf", DisplayUnit::Fahrenheit),
    ("°f", DisplayUnit::Fahrenheit),
    ("km/h", DisplayUnit::KilometrePerHour),
    ("kmh", DisplayUnit::KilometrePerHour),
    ("kph", DisplayUnit::KilometrePerHour),
    ("mph", DisplayUnit::MilePerHour),
    ("km", DisplayUnit::Kilometre),
    ("mi", DisplayUnit::Mile),
    ("miles", DisplayUnit::Mile),
    ("v", DisplayUnit::Volt),
    ("volt", DisplayUnit::Volt),
    ("volts", DisplayUnit::Volt),
    ("mv", DisplayUnit::Millivolt),
    ("sec", DisplayUnit::Second),
    ("percent", DisplayUnit::Percent),
    ("1/min", DisplayUnit::RevolutionPerMinute),
    ("min-1", DisplayUnit::RevolutionPerMinute),
    ("rpm", DisplayUnit::RevolutionPerMinute),
];

/// The units that a person wants to read. The recording and the computation stay as they are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct UnitChoice {
    /// Tank pressure and other small gauge pressures.
    pub tank_pressure: DisplayUnit,
    /// Manifold and barometric pressure.
    pub absolute_pressure: DisplayUnit,
    /// Temperatures.
    pub temperature: DisplayUnit,
    /// Road speed.
    pub speed: DisplayUnit,
    /// Odometer.
    pub distance: DisplayUnit,
    /// Holes.
    pub small_length: DisplayUnit,
    /// Volumes.
    pub volume: DisplayUnit,
    /// Volume flows.
    pub volume_flow: DisplayUnit,
}

impl UnitChoice {
    /// International units, as measured.
    pub const METRIC: Self = Self {
        tank_pressure: DisplayUnit::Pascal,
        absolute_pressure: DisplayUnit::Kilopascal,
        temperature: DisplayUnit::Celsius,
        speed: DisplayUnit::KilometrePerHour,
        distance: DisplayUnit::Kilometre,
        small_length: DisplayUnit::Millimetre,
        volume: DisplayUnit::Litre,
        volume_flow: DisplayUnit::LitrePerMinute,
    };

    /// As usual in workshops of the United States.
    pub const UNITED_STATES: Self = Self {
        tank_pressure: DisplayUnit::InchOfWater,
        absolute_pressure: DisplayUnit::InchOfMercury,
        temperature: DisplayUnit::Fahrenheit,
        speed: DisplayUnit::MilePerHour,
        distance: DisplayUnit::Mile,
        small_length: DisplayUnit::Inch,
        volume: DisplayUnit::Gallon,
        volume_flow: DisplayUnit::CubicFootPerHour,
    };

    /// The unit to show values in that are kept in `kept`. Pascals are shown as tank pressures,
    /// kilopascals as absolute ones; units without a choice stay.
    pub fn shown(&self, kept: DisplayUnit) -> DisplayUnit {
        match (kept.dimension(), kept) {
            (Dimension::Pressure, DisplayUnit::Pascal) => self.tank_pressure,
            (Dimension::Pressure, _) => self.absolute_pressure,
            (Dimension::Temperature, _) => self.temperature,
            (Dimension::Speed, _) => self.speed,
            (Dimension::Distance, _) => self.distance,
            (Dimension::SmallLength, _) => self.small_length,
            (Dimension::Volume, _) => self.volume,
            (Dimension::VolumeFlow, _) => self.volume_flow,
            _ => kept,
        }
    }

    /// A value kept in `kept`, in the unit it is shown in, with that unit.
    pub fn show(&self, value: f64, kept: DisplayUnit) -> (f64, DisplayUnit) {
        let shown = self.shown(kept);
        kept.convert(value, shown).map_or((value, kept), |value| (value, shown))
    }

    /// Like [`Self::show`] for a difference or a spread.
    pub fn show_difference(&self, value: f64, kept: DisplayUnit) -> (f64, DisplayUnit) {
        let shown = self.shown(kept);
        kept.convert_difference(value, shown).map_or((value, kept), |value| (value, shown))
    }
}

impl Default for UnitChoice {
    fn default() -> Self {
        Self::METRIC
    }
}

#[cfg(test)]
mod tests {
    use super::{DisplayUnit, UnitChoice};

    /// NIST Special Publication 811 (2008), appendix B.8, as printed there with seven digits.
    #[test]
    fn factors_are_the_published_ones() {
        let printed = [
            (DisplayUnit::PoundPerSquareInch, 6.894_757e3),
            (DisplayUnit::InchOfWater, 2.490_889e2),
            (DisplayUnit::MillimetreOfMercury, 1.333_224e2),
            (DisplayUnit::InchOfMercury, 3.386_389e3),
            (DisplayUnit::Bar, 1e5),
            (DisplayUnit::Millibar, 1e2),
            (DisplayUnit::MilePerHour, 1.609_344),
            (DisplayUnit::Mile, 1.609_344),
            (DisplayUnit::Inch, 25.4),
            (DisplayUnit::Gallon, 3.785_412),
            (DisplayUnit::CubicFootPerHour, 7.865_791e-6 * 6e4),
            (DisplayUnit::PoundPerMinute, 7.559_873),
        ];
        for (unit, factor) in printed {
            let relative = (unit.to_base(1.0) / factor - 1.0).abs();
            assert!(relative < 5e-7, "{}: {relative}", unit.symbol());
        }
    }

    /// Fixed points of the two scales, and the one they share.
    #[test]
    fn fahrenheit_has_its_own_zero() {
        let pairs = [(0.0, 32.0), (100.0, 212.0), (-40.0, -40.0), (37.0, 98.6)];
        for (celsius, fahrenheit) in pairs {
            let shown = DisplayUnit::Celsius.convert(celsius, DisplayUnit::Fahrenheit).unwrap();
            assert!((shown - fahrenheit).abs() < 1e-12);
        }
        let rise = DisplayUnit::Celsius.convert_difference(10.0, DisplayUnit::Fahrenheit);
        assert!((rise.unwrap() - 18.0).abs() < 1e-12);
    }

    #[test]
    fn every_unit_converts_back_and_only_into_its_own_kind() {
        for from in DisplayUnit::ALL {
            assert_eq!(DisplayUnit::from_symbol(from.symbol()), Some(*from));
            for to in DisplayUnit::ALL {
                let there = from.convert(-12.5, *to);
                assert_eq!(there.is_some(), from.dimension() == to.dimension());
                if let Some(there) = there {
                    assert!((to.convert(there, *from).unwrap() + 12.5).abs() < 1e-12);
                }
            }
        }
    }

    #[test]
    fn a_choice_keeps_tank_and_absolute_pressures_apart() {
        let choice = UnitChoice::UNITED_STATES;
        let (value, unit) = choice.show(-249.088_91, DisplayUnit::Pascal);
        assert_eq!((value, unit), (-1.0, DisplayUnit::InchOfWater));
        assert_eq!(choice.shown(DisplayUnit::Kilopascal), DisplayUnit::InchOfMercury);
        assert_eq!(choice.shown(DisplayUnit::Volt), DisplayUnit::Volt);
        assert_eq!(UnitChoice::METRIC.show(-250.0, DisplayUnit::Pascal).0, -250.0);
    }
}
