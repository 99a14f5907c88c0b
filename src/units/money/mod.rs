mod currency;

#[cfg(test)]
mod tests;

use std::fmt;

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};
use thiserror::Error;

pub use currency::Currency;

use super::number_text::{DecimalSign, THIN_SPACE, dress};

/// An amount of money: an exact decimal with its currency. Never a binary fraction.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Money {
    amount: Decimal,
    currency: Currency,
}

/// Why text or a sum is no amount of money.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum MoneyError {
    /// No number.
    #[error("{text:?} is no amount of money; write it like 38.50 or 38,50")]
    NotAnAmount {
        /// The text.
        text: String,
    },
    /// The sign between the digits may part thousands or be a decimal sign.
    #[error(
        "{text:?} can be read in two ways; write {text:?} with its decimals, or without a sign"
    )]
    Ambiguous {
        /// The text.
        text: String,
    },
    /// More decimals than the currency has.
    #[error("{text:?} has more decimals than {currency} has")]
    TooManyDecimals {
        /// The text.
        text: String,
        /// The currency.
        currency: Currency,
    },
    /// No currency of this code.
    #[error("{text:?} is no currency code; use three letters such as EUR or USD")]
    UnknownCurrency {
        /// The text.
        text: String,
    },
    /// Amounts of different currencies cannot be added.
    #[error("{left} and {right} cannot be added")]
    DifferentCurrencies {
        /// One currency.
        left: Currency,
        /// The other.
        right: Currency,
    },
    /// The sum is beyond what can be held exactly.
    #[error("the sum is too large")]
    TooLarge,
}

impl Money {
    /// An amount in a currency.
    pub const fn new(amount: Decimal, currency: Currency) -> Self {
        Self { amount, currency }
    }

    /// Nothing, in a currency.
    pub const fn zero(currency: Currency) -> Self {
        Self { amount: Decimal::ZERO, currency }
    }

    /// The amount.
    pub const fn amount(self) -> Decimal {
        self.amount
    }

    /// The currency.
    pub const fn currency(self) -> Currency {
        self.currency
    }

    /// What a person typed, with comma or point: `38,50`, `38.50`, `1.234,50`, `1 234.50`, with
    /// the currency's code or a common sign before or after it. A single sign before exactly three
    /// digits is only taken where the currency settles what it is.
    pub fn parse(text: &str, currency: Currency) -> Result<Self, MoneyError> {
        let wrong = || MoneyError::NotAnAmount { text: text.to_owned() };
        let bare = without_currency(text, currency);
        let (negative, bare) = match bare.strip_prefix(['-', '−']) {
            Some(rest) => (true, rest.trim_start()),
            None => (false, bare.as_str()),
        };
        let (whole, fraction) = split(bare, text, currency)?;
        if whole.is_empty() && fraction.is_empty() {
            return Err(wrong());
        }
        if fraction.len() > currency.decimals() as usize {
            return Err(MoneyError::TooManyDecimals { text: text.to_owned(), currency });
        }
        let digits = format!("{whole}.{fraction}0");
        let whole_digits = if whole.is_empty() { format!("0{digits}") } else { digits };
        let mut amount: Decimal = whole_digits.parse().map_err(|_| wrong())?;
        amount.rescale(currency.decimals());
        if negative && !amount.is_zero() {
            amount = -amount;
        }
        Ok(Self { amount, currency })
    }

    /// The sum of two amounts of one currency.
    pub fn plus(self, other: Self) -> Result<Self, MoneyError> {
        self.same_currency(other)?;
        let sum = self.amount.checked_add(other.amount).ok_or(MoneyError::TooLarge)?;
        Ok(Self { amount: sum, currency: self.currency })
    }

    /// The difference of two amounts of one currency.
    pub fn minus(self, other: Self) -> Result<Self, MoneyError> {
        self.same_currency(other)?;
        let difference = self.amount.checked_sub(other.amount).ok_or(MoneyError::TooLarge)?;
        Ok(Self { amount: difference, currency: self.currency })
    }

    /// The sum of many amounts in `currency`; nothing adds up to zero.
    pub fn sum(
        amounts: impl IntoIterator<Item = Self>,
        currency: Currency,
    ) -> Result<Self, MoneyError> {
        amounts.into_iter().try_fold(Self::zero(currency), Self::plus)
    }

    /// The amount for reading, such as `1 234,50 EUR`: the currency's decimals, or more if the
    /// amount has more.
    pub fn text(self, sign: DecimalSign) -> String {
        let decimals = self.currency.decimals().max(self.amount.normalize().scale());
        let mut amount = self.amount;
        amount.rescale(decimals);
        let digits = amount.abs().to_string();
        let negative = amount.is_sign_negative() && !amount.is_zero();
        format!("{}{THIN_SPACE}{}", dress(&digits, negative, sign), self.currency)
    }

    fn same_currency(self, other: Self) -> Result<(), MoneyError> {
        if self.currency == other.currency {
            return Ok(());
        }
        Err(MoneyError::DifferentCurrencies { left: self.currency, right: other.currency })
    }
}

impl fmt::Display for Money {
    /// As `38.50 EUR`, for files and logs.
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{} {}", self.amount, self.currency)
    }
}

/// The text without spaces around, the currency's code and the signs people write for it.
fn without_currency(text: &str, currency: Currency) -> String {
    let code = currency.code();
    let sign = match code {
        "EUR" => "€",
        "GBP" => "£",
        "JPY" | "CNY" => "¥",
        "USD" | "CAD" | "AUD" | "NZD" | "MXN" => "$",
        _ => code,
    };
    let upper = text.trim().to_uppercase();
    let mut bare = upper.as_str();
    for mark in [code, sign] {
        bare = bare.strip_prefix(mark).unwrap_or(bare);
        bare = bare.strip_suffix(mark).unwrap_or(bare);
    }
    bare.trim().to_owned()
}

/// Whole digits and decimals of an amount.
fn split(bare: &str, text: &str, currency: Currency) -> Result<(String, String), MoneyError> {
    let wrong = || MoneyError::NotAnAmount { text: text.to_owned() };
    let signs: Vec<(usize, char)> =
        bare.char_indices().filter(|(_, c)| ",.".contains(*c)).collect();
    let decimal_at = match signs.as_slice() {
        [] => None,
        [(at, _)] => {
            let after = bare.get(at + 1..).unwrap_or("");
            let before = bare.get(..*at).unwrap_or("");
            let like_thousands =
                after.len() == 3 && (1..=3).contains(&before.len()) && !before.starts_with('0');
            match (like_thousands, currency.decimals()) {
                (false, _) => Some(*at),
                // Without decimals there is nothing else that the sign could part.
                (true, 0) => None,
                (true, _) => return Err(MoneyError::Ambiguous { text: text.to_owned() }),
            }
        }
        [rest @ .., (at, last)] => {
            // The last sign parts the decimals unless it is the same as those before it.
            let alike = rest.iter().filter(|(_, sign)| sign == last).count();
            match alike {
                0 => Some(*at),
                _ if alike == rest.len() => None,
                _ => return Err(wrong()),
            }
        }
    };
    let (whole, fraction) = match decimal_at {
        Some(at) => (bare.get(..at).unwrap_or(""), bare.get(at + 1..).unwrap_or("")),
        None => (bare, ""),
    };
    let whole = thousands(whole).ok_or_else(wrong)?;
    let digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    if digits(fraction) { Ok((whole, fraction.to_owned())) } else { Err(wrong()) }
}

/// Digits without the signs between thousands; `None` unless those part groups of three.
fn thousands(whole: &str) -> Option<String> {
    let separator =
        |c: char| matches!(c, ',' | '.' | ' ' | '\'' | '\u{A0}' | '\u{2009}' | '\u{202F}');
    let groups: Vec<&str> = whole.split(separator).collect();
    let digits = groups.iter().all(|group| group.bytes().all(|byte| byte.is_ascii_digit()));
    let sound = match groups.as_slice() {
        [_] => true,
        [first, rest @ ..] => {
            (1..=3).contains(&first.len()) && rest.iter().all(|group| group.len() == 3)
        }
        [] => false,
    };
    (digits && sound).then(|| groups.concat())
}
