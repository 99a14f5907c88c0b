use serde::{Deserialize, Serialize};

/// The character between whole and fraction.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum DecimalSign {
    /// `1.5`, as in English.
    #[default]
    Point,
    /// `1,5`, as in German.
    Comma,
}

impl DecimalSign {
    /// The character.
    pub const fn character(self) -> char {
        match self {
            Self::Point => '.',
            Self::Comma => ',',
        }
    }
}

/// Narrow space that no line breaks at: between thousands, and between a number and its unit.
pub const THIN_SPACE: char = '\u{202F}';

/// The true minus, as wide as a plus.
pub const MINUS: char = '\u{2212}';

/// A number with this many decimals: true minus, thin spaces between thousands from five digits
/// on, as the SI brochure (section 5.4.4) sets them. What rounds to zero has no sign; what is not
/// finite is an en dash.
pub fn number_text(value: f64, decimals: usize, sign: DecimalSign) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let text = format!("{:.*}", decimals, value.abs());
    let negative = value < 0.0 && text.bytes().any(|digit| matches!(digit, b'1'..=b'9'));
    dress(&text, negative, sign)
}

/// A number at the resolution it is known to: as many decimals as show its first uncertain digit.
pub fn number_at_resolution(value: f64, resolution: f64, sign: DecimalSign) -> String {
    number_text(value, decimals_for(resolution), sign)
}

/// Decimals that show the leading digit of `resolution`, between 0 and 6: 0.25 calls for one,
/// 0.03 for two, 5 for none.
pub fn decimals_for(resolution: f64) -> usize {
    if resolution.is_nan() || resolution <= 0.0 {
        return 0;
    }
    // Of 0.001, whose logarithm is not quite whole, the exact power is meant.
    let exponent = (resolution.log10() + 1e-9).floor();
    (-exponent).clamp(0.0, 6.0) as usize
}

/// Gives plain digits with a point their minus, thousands and decimal sign.
pub(super) fn dress(digits: &str, negative: bool, sign: DecimalSign) -> String {
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let mut text = String::with_capacity(digits.len() * 2);
    if negative {
        text.push(MINUS);
    }
    let count = whole.len();
    for (place, digit) in whole.chars().enumerate() {
        if count > 4 && place > 0 && (count - place).is_multiple_of(3) {
            text.push(THIN_SPACE);
        }
        text.push(digit);
    }
    if !fraction.is_empty() {
        text.push(sign.character());
        text.push_str(fraction);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::{DecimalSign, decimals_for, number_at_resolution, number_text};

    #[test]
    fn numbers_are_set_as_in_print() {
        let english = |value, decimals| number_text(value, decimals, DecimalSign::Point);
        assert_eq!(english(-216.4, 0), "−216");
        assert_eq!(english(87_412.0, 0), "87\u{202F}412");
        assert_eq!(english(-1_234_567.891, 2), "−1\u{202F}234\u{202F}567.89");
        assert_eq!(english(8191.75, 2), "8191.75");
        assert_eq!(english(-0.04, 1), "0.0");
        assert_eq!(english(-0.0, 0), "0");
        assert_eq!(english(f64::NAN, 1), "–");
        assert_eq!(number_text(0.47, 2, DecimalSign::Comma), "0,47");
        assert_eq!(number_text(12_345.5, 1, DecimalSign::Comma), "12\u{202F}345,5");
    }

    #[test]
    fn decimals_follow_from_the_resolution() {
        let pairs = [
            (0.25, 1),
            (1.0, 0),
            (5.0, 0),
            (0.1, 1),
            (0.001, 3),
            (0.03125, 2),
            (100.0 / 255.0, 1),
            (1e-9, 6),
            (0.0, 0),
            (f64::NAN, 0),
            (f64::INFINITY, 0),
        ];
        for (resolution, decimals) in pairs {
            assert_eq!(decimals_for(resolution), decimals, "{resolution}");
        }
        assert_eq!(number_at_resolution(-250.0, 0.25, DecimalSign::Point), "−250.0");
    }
}
