use serde::{Deserialize, Serialize};

macro_rules! quantity {
    ($($(#[$doc:meta])* $name:ident, $symbol:literal;)*) => {$(
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub f64);

        impl $name {
            /// The unit's symbol.
            pub const SYMBOL: &'static str = $symbol;
        }
    )*};
}

quantity! {
    /// Pressure; gauge unless said otherwise, negative is vacuum.
    Pascal, "Pa";
    /// Absolute pressure.
    Kilopascal, "kPa";
    /// Electric potential.
    Volt, "V";
    /// Share of a whole.
    Percent, "%";
    /// Engine speed.
    RevolutionsPerMinute, "rpm";
    /// Road speed.
    KilometrePerHour, "km/h";
    /// Temperature.
    Celsius, "°C";
    /// Volume.
    Litre, "L";
    /// Volume flow at ambient density.
    LitrePerMinute, "L/min";
    /// Length, here of holes.
    Millimetre, "mm";
}
