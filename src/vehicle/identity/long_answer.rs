use crate::vehicle::DecodeError;

const SERVICE: u8 = 0x09;

/// Bytes of an item that came in several numbered messages, as on protocols before CAN.
const PART_BYTES: usize = 4;

/// The content of a service 09 item, without the item's number.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct LongAnswer {
    /// The count that came with it. Messages of older protocols carry their own number instead,
    /// so there is none.
    pub(super) count: Option<u8>,
    /// The bytes after it.
    pub(super) bytes: Vec<u8>,
}

/// Joins the answers of one control unit to an item of service 09. `contents` are what follows the
/// service byte 49 of each. One answer is CAN's form: item, count, data. Several are the form of
/// older protocols: item, number of the message from 1, four bytes; they are put in order.
pub(super) fn join(item: u8, contents: &[&[u8]]) -> Result<LongAnswer, DecodeError> {
    match contents {
        [] => Err(DecodeError::TooShort { service: SERVICE, needed: 2, found: 0 }),
        [only] => {
            let (count, bytes) = split(item, only)?;
            Ok(LongAnswer { count: Some(count), bytes: bytes.to_vec() })
        }
        parts => join_parts(item, parts),
    }
}

fn join_parts(item: u8, contents: &[&[u8]]) -> Result<LongAnswer, DecodeError> {
    let mut parts = Vec::with_capacity(contents.len());
    for content in contents {
        let (number, bytes) = split(item, content)?;
        if bytes.len() < PART_BYTES {
            return Err(DecodeError::TooShort {
                service: SERVICE,
                needed: PART_BYTES,
                found: bytes.len(),
            });
        }
        if bytes.len() > PART_BYTES {
            return Err(DecodeError::TooLong {
                service: SERVICE,
                expected: PART_BYTES,
                found: bytes.len(),
            });
        }
        parts.push((number, bytes));
    }
    parts.sort_by_key(|(number, _)| *number);
    let mut joined = Vec::new();
    let mut due = 1_u8;
    for (number, bytes) in parts {
        if number < due {
            return Err(DecodeError::PartRepeated { service: SERVICE, number });
        }
        if number > due {
            return Err(DecodeError::PartMissing { service: SERVICE, number: due });
        }
        joined.extend_from_slice(bytes);
        due = due.saturating_add(1);
    }
    Ok(LongAnswer { count: None, bytes: joined })
}

fn split(item: u8, content: &[u8]) -> Result<(u8, &[u8]), DecodeError> {
    match content {
        [echo, count, bytes @ ..] if *echo == item => Ok((*count, bytes)),
        [echo, _, ..] => Err(DecodeError::WrongEcho { expected: item, found: *echo }),
        short => Err(DecodeError::TooShort { service: SERVICE, needed: 2, found: short.len() }),
    }
}

/// Cuts an answer into items of one size. The count, where there is one, must match.
pub(super) fn items(answer: &LongAnswer, size: usize) -> Result<Vec<&[u8]>, DecodeError> {
    let pieces = answer.bytes.chunks_exact(size);
    let found = pieces.len();
    let stated = answer.count.map_or(found, usize::from);
    if !pieces.remainder().is_empty() {
        return Err(DecodeError::TooShort {
            service: SERVICE,
            needed: found.saturating_add(1).saturating_mul(size),
            found: answer.bytes.len(),
        });
    }
    if stated != found {
        return Err(DecodeError::CountMismatch { service: SERVICE, stated, found });
    }
    Ok(pieces.collect())
}

/// Printable ASCII, without the zeros and spaces that fill it up.
pub(super) fn text(bytes: &[u8]) -> Result<String, DecodeError> {
    let mut text = String::with_capacity(bytes.len());
    for byte in bytes {
        match byte {
            0x00 => text.push(' '),
            0x20..=0x7E => text.push(char::from(*byte)),
            byte => return Err(DecodeError::NotText { byte: *byte }),
        }
    }
    Ok(text.trim().to_owned())
}
