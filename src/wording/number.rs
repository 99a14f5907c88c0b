use super::language::{Language, Style};
use crate::evidence::MeasureName;
use crate::units::{DecimalSign, Estimate, number_text};
use crate::vehicle::Signal;

/// No-break space between a number and its unit. The narrow one, which [`number_text`] sets between
/// thousands, is an eighth of an em in the form's typeface: too little here.
const GAP: char = '\u{a0}';

/// A number with this many decimals, set as [`number_text`] sets it, with the language's decimal
/// sign.
pub fn number(value: f64, decimals: usize, language: Language) -> String {
    let sign = match language {
        Language::English => DecimalSign::Point,
        Language::German => DecimalSign::Comma,
    };
    number_text(value, decimals, sign)
}

/// A number and its unit, kept together.
pub fn with_unit(number: &str, unit: &str) -> String {
    if unit.is_empty() { number.to_owned() } else { format!("{number}{GAP}{unit}") }
}

/// A share of 0 to 1 in whole per cent, rounded so that it never claims more than is known: below
/// 1 and above 99 it says so in words.
pub fn percent(share: f64, language: Language) -> String {
    if !share.is_finite() {
        return "–".to_owned();
    }
    if share >= 0.995 {
        let above = with_unit("99", "%");
        return match language {
            Language::English => format!("over {above}"),
            Language::German => format!("über {above}"),
        };
    }
    if share < 0.005 {
        let below = with_unit("1", "%");
        return match language {
            Language::English => format!("under {below}"),
            Language::German => format!("unter {below}"),
        };
    }
    with_unit(&number((share * 100.0).round(), 0, language), "%")
}

/// An estimate in its own unit: the value with its bounds, such as `−212 Pa (−219 to −205)`; where
/// only one bound is known, `at most 0.9 s` or `at least 12 s`.
pub fn estimate(estimate: &Estimate, unit: &str, language: Language) -> String {
    told(estimate, unit, 0, language)
}

/// As [`estimate`], with this many decimals at least where both bounds are known.
fn told(estimate: &Estimate, unit: &str, least: usize, language: Language) -> String {
    let Estimate { value, low, high } = *estimate;
    match (low.is_finite(), high.is_finite()) {
        _ if value.is_nan() => "–".to_owned(),
        (true, true) => {
            let decimals = decimals(estimate).max(least);
            let shown = |number_: f64| number(number_, decimals, language);
            let value = with_unit(&shown(value), unit);
            if estimate.half_width() == 0.0 {
                return value;
            }
            let (low, high) = (shown(low), shown(high));
            match language {
                Language::English => format!("{value} ({low} to {high})"),
                Language::German => format!("{value} ({low} bis {high})"),
            }
        }
        (false, true) => {
            let bound = with_unit(&number(high, digits_for(high), language), unit);
            match language {
                Language::English => format!("at most {bound}"),
                Language::German => format!("höchstens {bound}"),
            }
        }
        (true, false) => {
            let bound = with_unit(&number(low, digits_for(low), language), unit);
            match language {
                Language::English => format!("at least {bound}"),
                Language::German => format!("mindestens {bound}"),
            }
        }
        (false, false) => with_unit(&number(value, digits_for(value), language), unit),
    }
}

/// A gauge pressure with its bounds in the person's unit.
pub fn pressure(pascal: &Estimate, style: &Style) -> String {
    estimate(&pascal.scaled(1.0 / style.pressure.pascal()), style.pressure.symbol(), style.language)
}

/// A single gauge pressure in the person's unit, two figures at least.
pub fn pressure_value(pascal: f64, style: &Style) -> String {
    let value = pascal / style.pressure.pascal();
    with_unit(&number(value, digits_for(value), style.language), style.pressure.symbol())
}

/// The unit that a measure is shown in.
pub fn measure_unit(name: MeasureName, style: &Style) -> String {
    shown_unit(name.unit(), style).1
}

/// An amount of money, an exact decimal as text, as the language writes it.
pub fn money(amount: &str, language: Language) -> String {
    amount.replace('.', language.of(".", ","))
}

/// A measure's estimate turned into the unit of [`measure_unit`].
pub fn measure_value_in(name: MeasureName, value: &Estimate, style: &Style) -> Estimate {
    value.scaled(shown_unit(name.unit(), style).0)
}

/// A measure with its bounds and unit.
pub fn measure_value(name: MeasureName, value: &Estimate, style: &Style) -> String {
    let (factor, unit) = shown_unit(name.unit(), style);
    // A valve that leaks a quarter of a per cent must not read as one that leaks nothing.
    let least = usize::from(matches!(name, MeasureName::SealedLeak));
    told(&value.scaled(factor), &unit, least, style.language)
}

/// The unit that a signal is shown in. Only the tank's pressure follows the person's unit: the
/// manifold's is absolute and stays in kPa.
pub fn signal_unit(signal: Signal, style: &Style) -> String {
    shown_unit(signal.unit(), style).1
}

/// A signal's value turned into the unit of [`signal_unit`].
pub fn signal_value_in(signal: Signal, value: f64, style: &Style) -> f64 {
    value * shown_unit(signal.unit(), style).0
}

/// Factor and symbol that turn a unit of the layers below into the person's.
fn shown_unit(unit: &str, style: &Style) -> (f64, String) {
    let factor = 1.0 / style.pressure.pascal();
    let symbol = style.pressure.symbol();
    match unit {
        "Pa" => (factor, symbol.to_owned()),
        "Pa/s" => (factor, format!("{symbol}/s")),
        other => (1.0, other.to_owned()),
    }
}

/// As many decimals as the bounds support: the first digit of their half-width.
fn decimals(estimate: &Estimate) -> usize {
    let half = estimate.half_width();
    if half > 0.0 { places(-half.log10().floor()) } else { digits_for(estimate.value) }
}

/// Decimals that show two figures of a number without bounds.
fn digits_for(value: f64) -> usize {
    if value == 0.0 { 0 } else { places(1.0 - value.abs().log10().floor()) }
}

fn places(wanted: f64) -> usize {
    wanted.clamp(0.0, 5.0) as usize
}
