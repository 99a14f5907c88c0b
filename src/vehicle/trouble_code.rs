use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::DecodeError;

/// A trouble code of SAE J2012 / ISO 15031-6, kept as its two bytes.
///
/// Bits 7 and 6 of the first byte are the letter (P, C, B, U), bits 5 and 4 the first digit; the
/// other three digits are hexadecimal (from memory of the standard).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct TroubleCode(u16);

impl TroubleCode {
    /// From the two bytes as they come; `None` for 00 00, which means no code.
    pub const fn from_bytes(bytes: [u8; 2]) -> Option<Self> {
        match u16::from_be_bytes(bytes) {
            0 => None,
            raw => Some(Self(raw)),
        }
    }

    /// The two bytes as they go.
    pub const fn bytes(self) -> [u8; 2] {
        self.0.to_be_bytes()
    }

    /// The letter: P powertrain, C chassis, B body, U network.
    pub const fn letter(self) -> char {
        match self.0 & 0xC000 {
            0x0000 => 'P',
            0x4000 => 'C',
            0x8000 => 'B',
            _ => 'U',
        }
    }

    /// Whether the maker of the car gave this code its meaning: first
    /// digit 1, for powertrain also 3 up to 33FF, for the others also 2.
    pub fn is_maker_specific(self) -> bool {
        let digit = (self.0 & 0x3000) >> 12;
        match (self.letter(), digit) {
            (_, 0) => false,
            (_, 1) => true,
            ('P', 2) => false,
            ('C' | 'B' | 'U', 2) => true,
            ('P', 3) => self.0 & 0x0FFF < 0x0400,
            _ => false,
        }
    }
}

impl fmt::Display for TroubleCode {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{}{:04X}", self.letter(), self.0 & 0x3FFF)
    }
}

impl FromStr for TroubleCode {
    type Err = DecodeError;

    fn from_str(text: &str) -> Result<Self, DecodeError> {
        let flaw = || DecodeError::NotACode { text: text.to_owned() };
        let mut characters = text.chars();
        let letter = match characters.next().map(|letter| letter.to_ascii_uppercase()) {
            Some('P') => 0x0000,
            Some('C') => 0x4000,
            Some('B') => 0x8000,
            Some('U') => 0xC000,
            _ => return Err(flaw()),
        };
        let digits = characters.as_str();
        // `from_str_radix` also takes a sign, which no code has.
        if digits.len() != 4 || !digits.bytes().all(|digit| digit.is_ascii_hexdigit()) {
            return Err(flaw());
        }
        let number = u16::from_str_radix(digits, 16).map_err(|_| flaw())?;
        if number > 0x3FFF || (letter | number) == 0 {
            return Err(flaw());
        }
        Ok(Self(letter | number))
    }
}

impl TryFrom<String> for TroubleCode {
    type Error = DecodeError;

    fn try_from(text: String) -> Result<Self, DecodeError> {
        text.parse()
    }
}

impl From<TroubleCode> for String {
    fn from(code: TroubleCode) -> Self {
        code.to_string()
    }
}

/// The codes in an answer to service 03, 07 or 0A: what follows the service byte. On CAN a count
/// comes first, so the length is odd; other protocols send pairs and fill up with 00 00, so it is
/// even. A code that stands twice is given once.
pub fn decode_codes(service: u8, content: &[u8]) -> Result<Vec<TroubleCode>, DecodeError> {
    let Some((first, rest)) = content.split_first() else {
        return Err(DecodeError::TooShort { service, needed: 1, found: 0 });
    };
    let (stated, pairs) =
        if rest.len() % 2 == 0 { (Some(usize::from(*first)), rest) } else { (None, content) };
    let mut found = 0_usize;
    let mut ended = false;
    let mut codes = Vec::new();
    for pair in pairs.chunks_exact(2) {
        let [high, low] = pair else { continue };
        match TroubleCode::from_bytes([*high, *low]) {
            // 00 00 fills up the end; a code after it means that bytes were lost or shifted.
            Some(_) if ended => {
                return Err(DecodeError::CountMismatch {
                    service,
                    stated: found,
                    found: found.saturating_add(1),
                });
            }
            Some(code) => {
                found = found.saturating_add(1);
                if !codes.contains(&code) {
                    codes.push(code);
                }
            }
            None => ended = true,
        }
    }
    match stated {
        Some(stated) if stated != found => {
            Err(DecodeError::CountMismatch { service, stated, found })
        }
        _ => Ok(codes),
    }
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::{TroubleCode, decode_codes};
    use crate::vehicle::{DecodeError, hex_bytes};

    fn names(content: &[u8]) -> Result<Vec<String>, DecodeError> {
        Ok(decode_codes(0x03, content)?.iter().map(ToString::to_string).collect())
    }

    /// Rows of `fixtures/bytes/trouble_codes.csv`: SAE J2012's rule worked by hand.
    #[test]
    fn codes_are_written_as_the_standard_encodes_them() {
        let rows = include_str!("../../fixtures/bytes/trouble_codes.csv");
        let mut held = 0;
        for row in rows.lines().skip(1) {
            let (bytes, code) = row.split_once(',').unwrap();
            let bytes: [u8; 2] = hex_bytes(bytes).try_into().unwrap();
            let decoded = TroubleCode::from_bytes(bytes).unwrap();
            assert_eq!(decoded.to_string(), code);
            assert_eq!(code.parse(), Ok(decoded));
            assert_eq!(code.to_lowercase().parse(), Ok(decoded));
            assert_eq!(decoded.bytes(), bytes);
            held += 1;
        }
        assert!(held >= 12);
    }

    #[test]
    fn every_code_survives_its_text() {
        assert_eq!(TroubleCode::from_bytes([0, 0]), None);
        for raw in 1..=u16::MAX {
            let code = TroubleCode::from_bytes(raw.to_be_bytes()).unwrap();
            assert_eq!(code.to_string().parse(), Ok(code));
        }
    }

    #[test]
    fn other_text_is_no_code() {
        for text in ["", "P", "P044", "P04422", "P0000", "X0442", "P4442", "P04G2", "P+442", "Pé42"]
        {
            assert!(text.parse::<TroubleCode>().is_err(), "{text}");
        }
    }

    /// SAE J2012: P0 and P2 standard, P1 maker, P3000 to P33FF maker, P3400 up standard.
    #[test]
    fn makers_own_ranges_are_told_apart() {
        let own = |text: &str| text.parse::<TroubleCode>().unwrap().is_maker_specific();
        for code in ["P1442", "P3000", "P33FF", "U1000", "B1234", "C1200", "C2123"] {
            assert!(own(code), "{code}");
        }
        for code in ["P0442", "P2418", "P3400", "P3FFF", "U0100", "C0123", "B0001"] {
            assert!(!own(code), "{code}");
        }
    }

    #[test]
    fn a_count_comes_first_on_can() {
        assert_eq!(names(&[0x00]), Ok(vec![]));
        assert_eq!(
            names(&[0x02, 0x04, 0x42, 0x04, 0x96]),
            Ok(vec!["P0442".into(), "P0496".into()])
        );
        assert_eq!(names(&[0x01, 0x04, 0x42, 0x00, 0x00]), Ok(vec!["P0442".into()]));
    }

    #[test]
    fn pairs_are_filled_up_elsewhere() {
        assert_eq!(names(&[0x04, 0x42, 0x00, 0x00, 0x00, 0x00]), Ok(vec!["P0442".into()]));
        assert_eq!(names(&[0x00; 6]), Ok(vec![]));
    }

    #[test]
    fn counts_that_do_not_match_are_errors() {
        for content in [
            [0x03, 0x04, 0x42, 0x04, 0x96].as_slice(),
            &[0x01, 0x04, 0x42, 0x04, 0x96],
            &[0x02, 0x04, 0x42, 0x00, 0x00],
            &[0x01],
            &[0x02, 0x00, 0x00, 0x04, 0x42],
            &[0x00, 0x00, 0x04, 0x42],
        ] {
            assert!(
                matches!(names(content), Err(DecodeError::CountMismatch { .. })),
                "{content:?}"
            );
        }
        assert!(matches!(names(&[]), Err(DecodeError::TooShort { .. })));
    }

    #[test]
    fn a_code_that_stands_twice_is_given_once() {
        assert_eq!(names(&[0x02, 0x04, 0x42, 0x04, 0x42]), Ok(vec!["P0442".into()]));
    }

    #[test]
    fn random_answers_never_panic_and_give_only_bytes_that_were_there() {
        let mut random = ChaCha8Rng::seed_from_u64(0x03);
        for _ in 0..50_000 {
            let content: Vec<u8> = (0..random.random_range(0..14))
                .map(|_| if random.random() { random.random() } else { random.random_range(0..7) })
                .collect();
            let codes = decode_codes(0x03, &content).unwrap_or_default();
            assert!(codes.len() <= content.len() / 2);
            for code in codes {
                assert!(content.windows(2).any(|pair| pair == code.bytes()));
            }
        }
    }
}
