use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rust_decimal::Decimal;

use super::{Currency, Money, MoneyError};
use crate::units::DecimalSign;

fn euro(text: &str) -> Money {
    Money::parse(text, Currency::EURO).unwrap()
}

fn currency(code: &str) -> Currency {
    code.parse().unwrap()
}

#[test]
fn comma_and_point_are_both_understood() {
    for text in
        ["38,50", "38.50", "38.5", " 38,50 € ", "€38.50", "EUR 38,50", "38,50 eur", "038,50"]
    {
        assert_eq!(euro(text).to_string(), "38.50 EUR", "{text}");
    }
    for text in ["1.234,50", "1,234.50", "1 234,50", "1\u{202F}234.5", "1'234.50", "1234,5"] {
        assert_eq!(euro(text).to_string(), "1234.50 EUR", "{text}");
    }
    assert_eq!(euro("1.234.567").to_string(), "1234567.00 EUR");
    assert_eq!(euro("1 234").to_string(), "1234.00 EUR");
    assert_eq!(euro(",5").to_string(), "0.50 EUR");
    assert_eq!(euro("5,").to_string(), "5.00 EUR");
    assert_eq!(euro("-12,30").to_string(), "-12.30 EUR");
    assert_eq!(euro("−0").to_string(), "0.00 EUR");
}

#[test]
fn text_that_may_mean_two_amounts_is_refused() {
    for text in ["1.234", "1,234", "12.345 €"] {
        let found = Money::parse(text, Currency::EURO);
        assert!(matches!(found, Err(MoneyError::Ambiguous { .. })), "{text}");
    }
    // A currency without decimals settles it.
    assert_eq!(Money::parse("1.234", currency("JPY")).unwrap().to_string(), "1234 JPY");
    assert_eq!(Money::parse("0.123", currency("KWD")).unwrap().to_string(), "0.123 KWD");
    assert!(Money::parse("0.1234", currency("KWD")).is_err());
    assert_eq!(Money::parse("1234.567", currency("KWD")).unwrap().to_string(), "1234.567 KWD");
}

#[test]
fn other_text_is_no_amount() {
    for text in [
        "",
        "€",
        "-",
        ".",
        "abc",
        "1,2,3",
        "1.23.456,00",
        "1,234.567,8",
        "12 34",
        "1e5",
        "--5",
        "+5",
        "38,50 $",
        "５",
        "99999999999999999999999999999999",
    ] {
        let found = Money::parse(text, Currency::EURO);
        assert!(matches!(found, Err(MoneyError::NotAnAmount { .. })), "{text}: {found:?}");
    }
    assert!(matches!(
        Money::parse("38,5000", Currency::EURO),
        Err(MoneyError::TooManyDecimals { .. })
    ));
}

/// A tenth and two tenths make three tenths, which binary fractions do not hold.
#[test]
fn sums_are_exact() {
    let parts = [euro("0,10"), euro("0,20"), euro("38,50"), euro("-0,80")];
    assert_eq!(Money::sum(parts, Currency::EURO).unwrap(), euro("38,00"));
    assert_eq!(Money::sum([], Currency::EURO), Ok(Money::zero(Currency::EURO)));
    assert_eq!(euro("100").minus(euro("38,50")).unwrap(), euro("61,50"));
    let cents = std::iter::repeat_n(euro("0,01"), 100_000);
    assert_eq!(Money::sum(cents, Currency::EURO).unwrap(), euro("1000,00"));
}

#[test]
fn currencies_are_not_mixed_and_sums_do_not_overflow() {
    let dollar = Money::parse("1", Currency::UNITED_STATES_DOLLAR).unwrap();
    assert_eq!(
        euro("1").plus(dollar),
        Err(MoneyError::DifferentCurrencies {
            left: Currency::EURO,
            right: Currency::UNITED_STATES_DOLLAR
        })
    );
    let most = Money::new(Decimal::MAX, Currency::EURO);
    assert_eq!(most.plus(most), Err(MoneyError::TooLarge));
}

/// ISO 4217, from memory: most have two decimals, the yen none, the Kuwaiti dinar three.
#[test]
fn currencies_are_known_by_their_code() {
    assert_eq!(currency("eur"), Currency::EURO);
    let decimals = ["USD", "JPY", "KWD", "CHF", "ISK"].map(|code| currency(code).decimals());
    assert_eq!(decimals, [2, 0, 3, 2, 0]);
    for text in ["", "EU", "EURO", "XXX", "ABC", "€"] {
        assert!(text.parse::<Currency>().is_err(), "{text}");
    }
    let all: Vec<&str> = Currency::all().map(Currency::code).collect();
    assert!(all.is_sorted_by(|a, b| a < b));
    assert!(all.iter().all(|code| code.len() == 3));
}

#[test]
fn amounts_read_as_in_print() {
    assert_eq!(euro("1234,5").text(DecimalSign::Comma), "1234,50\u{202F}EUR");
    assert_eq!(euro("-12345,6").text(DecimalSign::Point), "−12\u{202F}345.60\u{202F}EUR");
    let yen = Money::parse("98765", currency("JPY")).unwrap();
    assert_eq!(yen.text(DecimalSign::Point), "98\u{202F}765\u{202F}JPY");
    let fine = Money::new(Decimal::new(12_345, 4), Currency::EURO);
    assert_eq!(fine.text(DecimalSign::Point), "1.2345\u{202F}EUR");
}

#[test]
fn json_keeps_every_digit() {
    let money = euro("38,50");
    let json = serde_json::to_string(&money).unwrap();
    assert_eq!(json, r#"{"amount":"38.50","currency":"EUR"}"#);
    assert_eq!(serde_json::from_str::<Money>(&json).unwrap(), money);
    assert!(serde_json::from_str::<Money>(r#"{"amount":"1","currency":"XYZ"}"#).is_err());
}

/// Whatever is typed, an amount that is taken prints and parses back to itself.
#[test]
fn random_text_never_panics_and_what_is_taken_comes_back() {
    let mut random = ChaCha8Rng::seed_from_u64(0x4217);
    let alphabet: Vec<char> = "0123456789.,- '€$eur\u{202F}−".chars().collect();
    let mut taken = 0;
    for _ in 0..50_000 {
        let length = random.random_range(0..10);
        let text: String =
            (0..length).map(|_| alphabet[random.random_range(0..alphabet.len())]).collect();
        for code in ["EUR", "USD", "JPY", "KWD"] {
            let Ok(money) = Money::parse(&text, currency(code)) else { continue };
            taken += 1;
            let digits = money.amount().to_string();
            // A dinar has three decimals, which alone look like thousands.
            if code != "KWD" {
                assert_eq!(Money::parse(&digits, currency(code)).unwrap(), money, "{text}");
            }
        }
    }
    assert!(taken > 1000);
}
