use crate::recording::CellFlaw;
use crate::units::Instant;

/// A finite number with the given decimal sign.
pub(super) fn parse(text: &str, decimal: char) -> Result<f64, CellFlaw> {
    let plain = if decimal == ',' {
        // A point would be a thousands separator here, which cannot be told from a decimal sign.
        if text.contains('.') {
            return Err(CellFlaw::NotANumber);
        }
        text.replace(',', ".")
    } else {
        text.to_owned()
    };
    match plain.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        Ok(_) => Err(CellFlaw::NotFinite),
        Err(_) if text.replacen(',', ".", 1).parse::<f64>().is_ok() => Err(CellFlaw::DecimalComma),
        Err(_) => Err(CellFlaw::NotANumber),
    }
}

/// Seconds as text to whole microseconds, without a detour through a binary fraction, so that a
/// written time comes back as it was. Digits beyond the microsecond are rounded.
pub(super) fn parse_seconds(text: &str, decimal: char) -> Result<Instant, CellFlaw> {
    match plain_decimal(text, decimal) {
        Some(micros) => {
            i64::try_from(micros).map(Instant::from_micros).map_err(|_| CellFlaw::TimeTooLarge)
        }
        // Exponents and what is no number at all.
        None => seconds(parse(text, decimal)?),
    }
}

/// Hours, minutes and seconds, such as `13:05:09.25`; hours may be left out.
pub(super) fn parse_clock(text: &str, decimal: char) -> Result<Instant, CellFlaw> {
    let mut micros = 0_i64;
    let mut parts = text.trim().split(':').peekable();
    let mut count = 0;
    while let Some(part) = parts.next() {
        count += 1;
        let last = parts.peek().is_none();
        let whole = part.bytes().all(|byte| byte.is_ascii_digit());
        if part.is_empty() || count > 3 || !(last || whole) || part.starts_with(['-', '+']) {
            return Err(CellFlaw::NotANumber);
        }
        let value = parse_seconds(part, decimal)?.micros();
        if count > 1 && value >= 60_000_000 {
            return Err(CellFlaw::NotANumber);
        }
        micros = micros
            .checked_mul(60)
            .and_then(|sum| sum.checked_add(value))
            .ok_or(CellFlaw::TimeTooLarge)?;
    }
    if count < 2 { Err(CellFlaw::NotANumber) } else { Ok(Instant::from_micros(micros)) }
}

/// Seconds as a number to an instant.
pub(super) fn seconds(seconds: f64) -> Result<Instant, CellFlaw> {
    // Beyond this a double no longer holds whole microseconds.
    const LARGEST: f64 = 9.0e9;
    if seconds.abs() > LARGEST {
        return Err(CellFlaw::TimeTooLarge);
    }
    Ok(Instant::from_seconds(seconds))
}

/// An instant as seconds, shortest exact form.
pub(super) fn write_seconds(at: Instant) -> String {
    let micros = at.micros();
    let sign = if micros < 0 { "-" } else { "" };
    let (whole, rest) = (micros.unsigned_abs() / 1_000_000, micros.unsigned_abs() % 1_000_000);
    let fraction = format!("{rest:06}");
    match fraction.trim_end_matches('0') {
        "" => format!("{sign}{whole}"),
        digits => format!("{sign}{whole}.{digits}"),
    }
}

/// Microseconds of a decimal number without exponent; `None` if the text is none.
fn plain_decimal(text: &str, decimal: char) -> Option<i128> {
    let (negative, digits) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text.strip_prefix('+').unwrap_or(text)),
    };
    let (whole, fraction) = digits.split_once(decimal).unwrap_or((digits, ""));
    let all_digits = |part: &str| part.bytes().all(|byte| byte.is_ascii_digit());
    // Longer numbers overflow any time anyway; as doubles they are found too large.
    if (whole.is_empty() && fraction.is_empty())
        || whole.len() > 18
        || !all_digits(whole)
        || !all_digits(fraction)
    {
        return None;
    }
    let seconds: i128 = if whole.is_empty() { 0 } else { whole.parse().ok()? };
    let mut micros = seconds * 1_000_000;
    let mut weight = 100_000;
    for digit in fraction.bytes().take(6) {
        micros += i128::from(digit - b'0') * weight;
        weight /= 10;
    }
    if fraction.as_bytes().get(6).is_some_and(|digit| *digit >= b'5') {
        micros += 1;
    }
    Some(if negative { -micros } else { micros })
}
