use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::{item, long_answer};
use crate::vehicle::DecodeError;

/// A vehicle identification number: 17 characters, digits and letters without I, O and Q
/// (ISO 3779).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct Vin([u8; 17]);

/// Part of the world that a number's first character was given to (ISO 3780, from memory).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Region {
    /// A to H.
    Africa,
    /// J to R.
    Asia,
    /// S to Z.
    Europe,
    /// 1 to 5.
    NorthAmerica,
    /// 6 and 7.
    Oceania,
    /// 8, 9 and 0.
    SouthAmerica,
}

impl Vin {
    /// The 17 characters.
    pub fn text(&self) -> String {
        self.0.iter().copied().map(char::from).collect()
    }

    /// The check character that the other sixteen call for at the ninth place: 49 CFR 565.15.
    pub fn check_character(&self) -> char {
        let sum: u32 = self
            .0
            .iter()
            .zip(WEIGHTS)
            .map(|(character, weight)| u32::from(value_of(*character)).wrapping_mul(weight))
            .fold(0, u32::wrapping_add);
        match sum.wrapping_rem(11) {
            10 => 'X',
            digit => char::from_digit(digit, 10).unwrap_or('X'),
        }
    }

    /// Whether the ninth character is the one that the others call for. Numbers from outside
    /// North America need not have a check character, so a mismatch there proves nothing.
    pub fn check_character_matches(&self) -> bool {
        let [.., ninth, _, _, _, _, _, _, _, _] = self.0;
        char::from(ninth) == self.check_character()
    }

    /// Whether the number is wrong: its region asks for a check character and it does not match.
    pub fn is_mistyped(&self) -> bool {
        self.region() == Region::NorthAmerica && !self.check_character_matches()
    }

    /// Part of the world the number was given out in.
    pub fn region(&self) -> Region {
        let [first, ..] = self.0;
        match first {
            b'A'..=b'H' => Region::Africa,
            b'J'..=b'R' => Region::Asia,
            b'S'..=b'Z' => Region::Europe,
            b'1'..=b'5' => Region::NorthAmerica,
            b'6' | b'7' => Region::Oceania,
            _ => Region::SouthAmerica,
        }
    }

    /// Model year of a passenger car by 49 CFR 565.15: the tenth character counts through thirty
    /// years, and a letter at the seventh place says that they are those from 2010. `None`
    /// outside North America, where the tenth character means what the maker likes.
    pub fn model_year(&self) -> Option<u16> {
        if self.region() != Region::NorthAmerica {
            return None;
        }
        let [.., seventh, _, _, tenth, _, _, _, _, _, _, _] = self.0;
        let place = YEAR_CHARACTERS.iter().position(|character| *character == tenth)?;
        let first = if seventh.is_ascii_digit() { 1980_u16 } else { 2010 };
        first.checked_add(u16::try_from(place).ok()?)
    }

    fn from_characters(bytes: &[u8]) -> Result<Self, DecodeError> {
        let mut characters: [u8; 17] =
            bytes.try_into().map_err(|_| DecodeError::VinLength { found: bytes.len() })?;
        characters.make_ascii_uppercase();
        match characters.iter().find(|byte| !allowed(**byte)) {
            Some(byte) => Err(DecodeError::VinCharacter { character: char::from(*byte) }),
            None => Ok(Self(characters)),
        }
    }
}

/// The number in the answers of one control unit to service 09 item 02: what follows the service
/// byte of each. Zeros in front fill it up.
pub fn decode_vin(contents: &[&[u8]]) -> Result<Vin, DecodeError> {
    let answer = long_answer::join(item::VIN, contents)?;
    if let Some(stated) = answer.count.filter(|count| *count != 1) {
        return Err(DecodeError::CountMismatch {
            service: 0x09,
            stated: usize::from(stated),
            found: 1,
        });
    }
    let bytes = answer.bytes.as_slice();
    if !bytes.is_empty() && bytes.iter().all(|byte| matches!(byte, 0x00 | 0xFF | b' ')) {
        return Err(DecodeError::Blank);
    }
    let start = bytes.iter().position(|byte| *byte != 0x00).unwrap_or(0);
    Vin::from_characters(bytes.get(start..).unwrap_or(&[]))
}

impl fmt::Display for Vin {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(&self.text())
    }
}

impl FromStr for Vin {
    type Err = DecodeError;

    /// Small letters and spaces around are forgiven, as a person types them.
    fn from_str(text: &str) -> Result<Self, DecodeError> {
        let text = text.trim();
        if let Some(character) = text.chars().find(|character| !character.is_ascii()) {
            return Err(DecodeError::VinCharacter { character });
        }
        Self::from_characters(text.as_bytes())
    }
}

impl TryFrom<String> for Vin {
    type Error = DecodeError;

    fn try_from(text: String) -> Result<Self, DecodeError> {
        text.parse()
    }
}

impl From<Vin> for String {
    fn from(vin: Vin) -> Self {
        vin.text()
    }
}

/// 49 CFR 565.15 Table IV: the weight of each place; the check character's own is zero.
const WEIGHTS: [u32; 17] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];

/// Thirty years of model year characters, from 1980 (A) to 2009 (9) and again from 2010.
const YEAR_CHARACTERS: &[u8; 30] = b"ABCDEFGHJKLMNPRSTVWXY123456789";

fn allowed(character: u8) -> bool {
    character.is_ascii_digit()
        || (character.is_ascii_uppercase() && !matches!(character, b'I' | b'O' | b'Q'))
}

/// 49 CFR 565.15 Table III: A to H are 1 to 8, J to N 1 to 5, P 7, R 9, S to Z 2 to 9.
fn value_of(character: u8) -> u8 {
    let counted = |first: u8, value: u8| character.wrapping_sub(first).wrapping_add(value);
    match character {
        b'0'..=b'9' => counted(b'0', 0),
        b'A'..=b'H' => counted(b'A', 1),
        b'J'..=b'N' => counted(b'J', 1),
        b'P' => 7,
        b'R' => 9,
        b'S'..=b'Z' => counted(b'S', 2),
        _ => 0,
    }
}
