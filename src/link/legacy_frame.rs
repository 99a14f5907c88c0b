//! Lines of the buses before CAN: three header bytes, up to seven data bytes, one check byte.

use super::UnitId;
use super::adapter::Protocol;
use super::isotp::assembler::Message;

/// Reads a line with header and check byte; `None` if its length, header or check byte is wrong.
///
/// ISO 9141-2 and SAE J1850: priority, target, source, data, check. ISO 14230-4: format with the
/// length in its lower six bits, target, source, data, check.
pub(in crate::link) fn parse(protocol: Protocol, bytes: &[u8]) -> Option<Message> {
    let (check, covered) = bytes.split_last()?;
    let [first, target, source, payload @ ..] = covered else {
        return None;
    };
    let right = match protocol {
        Protocol::Iso9141 => *first == 0x48 && *target == 0x6B && sum(covered) == *check,
        Protocol::Iso14230 => {
            let length = usize::from(first & 0x3F);
            *target == 0xF1
                && first & 0xC0 == 0x80
                && length == payload.len()
                && sum(covered) == *check
        }
        Protocol::J1850 => {
            matches!(first, 0x41 | 0x48) && *target == 0x6B && crc(covered) == *check
        }
        Protocol::Can11 | Protocol::Can29 => false,
    };
    (right && (1..=7).contains(&payload.len()))
        .then(|| Message { unit: UnitId(u32::from(*source)), payload: payload.to_vec() })
}

/// ISO 9141-2, ISO 14230-2: the sum of all bytes before it, modulo 256.
fn sum(bytes: &[u8]) -> u8 {
    bytes.iter().fold(0, |sum, byte| sum.wrapping_add(*byte))
}

/// SAE J1850: polynomial 1D, start FF, result inverted.
fn crc(bytes: &[u8]) -> u8 {
    let remainder = bytes.iter().fold(0xFF_u8, |crc, byte| {
        (0..8).fold(crc ^ byte, |crc, _| if crc & 0x80 == 0 { crc << 1 } else { crc << 1 ^ 0x1D })
    });
    !remainder
}

/// Joins the lines of a long answer. SAE J1979 splits it into messages that repeat the service and
/// the item and count from 1: `49 02 01 00 00 00 39`, `49 02 02 5A 5A 41 42` …
///
/// The joined payload has the form that it has on CAN: service, item, number of items, data.
/// Messages with a gap in the count are left out as a whole.
pub(in crate::link) fn join(messages: Vec<Message>) -> (Vec<Message>, bool) {
    let mut joined: Vec<Message> = Vec::new();
    let mut broken = false;
    let mut started: Vec<(UnitId, u8, u8)> = Vec::new();
    for message in messages {
        let [service @ 0x49, item, count, data @ ..] = message.payload.as_slice() else {
            joined.push(message);
            continue;
        };
        // Even items carry data; odd ones only say how many messages the data takes.
        if data.len() != 4 || item % 2 == 1 {
            joined.push(message);
            continue;
        }
        let place = started.iter_mut().find(|(unit, it, _)| *unit == message.unit && it == item);
        let whole = joined
            .iter_mut()
            .find(|it| it.unit == message.unit && it.payload.starts_with(&[*service, *item]));
        match (place, whole, *count) {
            (None, None, 1) => {
                started.push((message.unit, *item, 1));
                joined.push(message);
            }
            (Some((_, _, last)), Some(whole), count) if count == last.saturating_add(1) => {
                *last = count;
                whole.payload.extend_from_slice(data);
            }
            _ => broken = true,
        }
    }
    if broken {
        joined.retain(|message| {
            !started.iter().any(|(unit, item, _)| {
                message.unit == *unit && message.payload.get(1) == Some(item)
            })
        });
    }
    for message in &mut joined {
        let is_started = started
            .iter()
            .any(|(unit, item, _)| message.unit == *unit && message.payload.get(1) == Some(item));
        if is_started && message.payload.get(1) == Some(&0x02) {
            // The first message pads the 17 characters to 20 with NUL at the front.
            let text: Vec<u8> =
                message.payload.iter().skip(3).copied().skip_while(|byte| *byte == 0).collect();
            message.payload.truncate(3);
            message.payload.extend(text);
        }
    }
    (joined, broken)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The check value of this CRC (polynomial 1D, start FF, inverted) over the nine characters
    /// 123456789, as catalogues of CRCs list it for SAE J1850 (from memory).
    #[test]
    fn crc_has_the_published_check_value() {
        assert_eq!(crc(b"123456789"), 0x4B);
    }

    #[test]
    fn check_bytes_are_checked() {
        let mut iso = vec![0x48, 0x6B, 0x10, 0x41, 0x0C, 0x1A, 0xF8];
        iso.push(sum(&iso));
        let message = parse(Protocol::Iso9141, &iso).unwrap();
        assert_eq!(message.unit, UnitId(0x10));
        assert_eq!(message.payload, vec![0x41, 0x0C, 0x1A, 0xF8]);
        let mut keyword = vec![0x84, 0xF1, 0x10, 0x41, 0x0C, 0x1A, 0xF8];
        keyword.push(sum(&keyword));
        assert!(parse(Protocol::Iso14230, &keyword).is_some());
        let mut pulse = vec![0x48, 0x6B, 0x10, 0x41, 0x0C, 0x1A, 0xF8];
        pulse.push(crc(&pulse));
        assert!(parse(Protocol::J1850, &pulse).is_some());
        for (protocol, line) in
            [(Protocol::Iso9141, &iso), (Protocol::Iso14230, &keyword), (Protocol::J1850, &pulse)]
        {
            for position in 0..line.len() {
                for change in 1..=u8::MAX {
                    let mut damaged = line.clone();
                    *damaged.get_mut(position).unwrap() ^= change;
                    assert_eq!(parse(protocol, &damaged), None, "{protocol:?} {damaged:02X?}");
                }
            }
        }
    }

    fn parts(texts: &[[u8; 7]]) -> Vec<Message> {
        texts.iter().map(|it| Message { unit: UnitId(0x10), payload: it.to_vec() }).collect()
    }

    #[test]
    fn identification_in_five_messages_reads_as_on_can() {
        let lines = [
            [0x49, 0x02, 1, 0, 0, 0, b'9'],
            [0x49, 0x02, 2, b'Z', b'Z', b'A', b'B'],
            [0x49, 0x02, 3, b'1', b'2', b'C', b'0'],
            [0x49, 0x02, 4, b'R', b'1', b'0', b'0'],
            [0x49, 0x02, 5, b'0', b'0', b'0', b'1'],
        ];
        let (joined, broken) = join(parts(&lines));
        assert!(!broken);
        let payload = [&[0x49, 0x02, 0x01][..], b"9ZZAB12C0R1000001"].concat();
        assert_eq!(joined, vec![Message { unit: UnitId(0x10), payload }]);

        let (joined, broken) = join(parts(&[lines[0], lines[1], lines[3], lines[4]]));
        assert!(broken);
        assert_eq!(joined, vec![]);
    }
}
