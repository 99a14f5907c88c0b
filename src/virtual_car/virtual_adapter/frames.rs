/// A payload as CAN frames of eight bytes, unused places filled with `filler`
/// (ISO 15765-2: single, or first and consecutive).
pub(super) fn segment(payload: &[u8], filler: u8) -> Vec<[u8; 8]> {
    let padded = |start: &[u8]| {
        let mut frame = [filler; 8];
        for (place, byte) in frame.iter_mut().zip(start) {
            *place = *byte;
        }
        frame
    };
    if payload.len() <= 7 {
        return vec![padded(&[&[payload.len() as u8], payload].concat())];
    }
    let (first, rest) = payload.split_at(6);
    let length = payload.len() as u16 & 0x0FFF;
    let [high, low] = length.to_be_bytes();
    let mut frames = vec![padded(&[&[0x10 | high, low], first].concat())];
    for (index, part) in rest.chunks(7).enumerate() {
        let number = (index + 1) as u8 & 0x0F;
        frames.push(padded(&[&[0x20 | number], part].concat()));
    }
    frames
}

/// How the adapter was told to write frames down.
#[derive(Clone, Copy, Debug)]
pub(super) struct Layout {
    pub(super) headers: bool,
    pub(super) spaces: bool,
    /// Takes the framing bytes off where headers are off.
    pub(super) formatted: bool,
}

/// A frame as the adapter prints it, without line end. `index` counts the frames of one answer,
/// `length` is the whole answer's. A first frame without its header becomes two lines: the length,
/// then the numbered bytes.
pub(super) fn written(
    frame: &[u8; 8],
    identifier: u32,
    index: usize,
    length: usize,
    layout: Layout,
) -> Vec<String> {
    let bytes = |bytes: &[u8]| -> String {
        let gap = if layout.spaces { " " } else { "" };
        bytes.iter().map(|byte| format!("{byte:02X}{gap}")).collect()
    };
    if layout.headers {
        return vec![format!("{}{}", written_identifier(identifier, layout.spaces), bytes(frame))];
    }
    if !layout.formatted {
        return vec![bytes(frame)];
    }
    let gap = if layout.spaces { " " } else { "" };
    let (head, tail) = frame.split_at(1);
    match (length, index, head) {
        (..=7, _, _) => vec![bytes(tail.get(..length).unwrap_or(tail))],
        (_, 0, _) => {
            let data = tail.get(1..).unwrap_or_default();
            vec![format!("{length:03X}"), format!("0:{gap}{}", bytes(data))]
        }
        (_, _, [number, ..]) => vec![format!("{:X}:{gap}{}", number & 0x0F, bytes(tail))],
        (_, _, []) => Vec::new(),
    }
}

fn written_identifier(identifier: u32, spaces: bool) -> String {
    match (identifier > 0x7FF, spaces) {
        (false, true) => format!("{identifier:03X} "),
        (false, false) => format!("{identifier:03X}"),
        (true, false) => format!("{identifier:08X}"),
        (true, true) => {
            identifier.to_be_bytes().iter().map(|byte| format!("{byte:02X} ")).collect()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{Layout, segment, written};

    /// The answer to the request for the identification number, segmented by hand by the rules of
    /// ISO 15765-2.
    #[test]
    fn identification_number_takes_three_frames() {
        let mut payload = vec![0x49, 0x02, 0x01];
        payload.extend(b"9ZZAB12C0R1000001");
        let frames = segment(&payload, 0x00);
        assert_eq!(
            frames,
            [
                [0x10, 0x14, 0x49, 0x02, 0x01, 0x39, 0x5A, 0x5A],
                [0x21, 0x41, 0x42, 0x31, 0x32, 0x43, 0x30, 0x52],
                [0x22, 0x31, 0x30, 0x30, 0x30, 0x30, 0x30, 0x31],
            ]
        );
        let plain = Layout { headers: false, spaces: false, formatted: true };
        let lines: Vec<String> = frames
            .iter()
            .enumerate()
            .flat_map(|(index, frame)| written(frame, 0x7E8, index, payload.len(), plain))
            .collect();
        assert_eq!(lines, ["014", "0:490201395A5A", "1:41423132433052", "2:31303030303031"]);
    }

    #[test]
    fn short_answers_are_written_with_and_without_header() {
        let [frame] = segment(&[0x41, 0x0C, 0x0B, 0x2C], 0x00)[..] else { unreachable!("one") };
        let write = |identifier, headers, spaces, formatted| {
            written(&frame, identifier, 0, 4, Layout { headers, spaces, formatted }).concat()
        };
        assert_eq!(write(0x7E8, false, true, true), "41 0C 0B 2C ");
        assert_eq!(write(0x7E8, true, true, true), "7E8 04 41 0C 0B 2C 00 00 00 ");
        assert_eq!(write(0x18DA_F110, true, false, true), "18DAF11004410C0B2C000000");
        assert_eq!(write(0x18DA_F110, true, true, true), "18 DA F1 10 04 41 0C 0B 2C 00 00 00 ");
        assert_eq!(write(0x7E8, false, false, false), "04410C0B2C000000");
    }
}
