use std::fmt;

use serde::{Deserialize, Serialize};

use super::{item, long_answer};
use crate::vehicle::DecodeError;

/// Name of the software in a control unit, as the maker writes it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct CalibrationId(pub String);

/// Checksum over that software. Written as eight hexadecimal digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct VerificationNumber(pub u32);

impl fmt::Display for VerificationNumber {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "{:08X}", self.0)
    }
}

const CALIBRATION_ID_BYTES: usize = 16;
const VERIFICATION_NUMBER_BYTES: usize = 4;
const UNIT_NAME_BYTES: usize = 20;

/// The calibration identifications of one control unit: service 09 item 04, sixteen characters
/// each. Entries without text are left out.
pub fn decode_calibration_ids(contents: &[&[u8]]) -> Result<Vec<CalibrationId>, DecodeError> {
    let answer = long_answer::join(item::CALIBRATION_IDS, contents)?;
    let mut ids = Vec::new();
    for bytes in long_answer::items(&answer, CALIBRATION_ID_BYTES)? {
        let text = long_answer::text(bytes)?;
        if !text.is_empty() {
            ids.push(CalibrationId(text));
        }
    }
    Ok(ids)
}

/// The calibration verification numbers of one control unit: service 09 item 06, four bytes each,
/// in the order of its calibration identifications.
pub fn decode_verification_numbers(
    contents: &[&[u8]],
) -> Result<Vec<VerificationNumber>, DecodeError> {
    let answer = long_answer::join(item::VERIFICATION_NUMBERS, contents)?;
    let items = long_answer::items(&answer, VERIFICATION_NUMBER_BYTES)?;
    Ok(items
        .into_iter()
        .filter_map(|bytes| bytes.try_into().ok())
        .map(|bytes| VerificationNumber(u32::from_be_bytes(bytes)))
        .collect())
}

/// The name of a control unit: service 09 item 0A, twenty characters of which zeros are filling.
pub fn decode_unit_name(contents: &[&[u8]]) -> Result<String, DecodeError> {
    let answer = long_answer::join(item::UNIT_NAME, contents)?;
    let items = long_answer::items(&answer, UNIT_NAME_BYTES)?;
    let [bytes] = items.as_slice() else {
        return Err(DecodeError::CountMismatch { service: 0x09, stated: 1, found: items.len() });
    };
    let name = long_answer::text(bytes)?;
    if name.is_empty() { Err(DecodeError::Blank) } else { Ok(collapse_spaces(&name)) }
}

/// Short and long name are set apart by zeros, of which there may be many.
fn collapse_spaces(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}
