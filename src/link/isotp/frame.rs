/// A frame's meaning by its first byte or two (ISO 15765-2; the table is confirmed by the Linux
/// kernel's documentation of ISO-TP sockets).
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::link) enum Frame<'a> {
    /// A whole message of 1 to 7 bytes.
    Single(&'a [u8]),
    /// The start of a longer message.
    First {
        /// Bytes of the whole message.
        length: usize,
        /// The first of them.
        data: &'a [u8],
    },
    /// A later part.
    Consecutive {
        /// Counts 1 to 15, then from 0.
        index: u8,
        /// As many bytes as fit; padding follows the message's end.
        data: &'a [u8],
    },
    /// Sent by who receives; the adapter's own business.
    FlowControl,
}

impl<'a> Frame<'a> {
    /// Reads the data bytes of a CAN frame; `None` if they are no frame of ISO 15765-2.
    pub(in crate::link) fn parse(bytes: &'a [u8]) -> Option<Self> {
        if bytes.len() > 8 {
            return None;
        }
        let (first, rest) = bytes.split_first()?;
        let low = first & 0x0F;
        match first >> 4 {
            0 => {
                let length = usize::from(low);
                // Either padded to eight bytes (ISO 15765-4) or cut at its end; any other length
                // means that digits were lost.
                let whole = bytes.len() == 8 || rest.len() == length;
                ((1..=7).contains(&length) && whole)
                    .then(|| rest.get(..length).map(Self::Single))?
            }
            1 => {
                let (second, data) = rest.split_first()?;
                let length = usize::from(low) << 8 | usize::from(*second);
                // Shorter messages travel in a single frame; a first frame is always full.
                (length >= 8 && data.len() == 6).then_some(Self::First { length, data })
            }
            2 => (!rest.is_empty()).then_some(Self::Consecutive { index: low, data: rest }),
            3 => (low <= 2 && rest.len() >= 2).then_some(Self::FlowControl),
            _ => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Frame forms of ISO 15765-2.
    #[test]
    fn forms_of_the_standard() {
        assert_eq!(
            Frame::parse(&[0x03, 0x41, 0x0D, 0x32, 0x55, 0x55, 0x55, 0x55]),
            Some(Frame::Single(&[0x41, 0x0D, 0x32]))
        );
        assert_eq!(
            Frame::parse(&[0x10, 0x14, 0x49, 0x02, 0x01, 0x39, 0x5A, 0x5A]),
            Some(Frame::First { length: 0x14, data: &[0x49, 0x02, 0x01, 0x39, 0x5A, 0x5A] })
        );
        assert_eq!(
            Frame::parse(&[0x21, 0x41, 0x42]),
            Some(Frame::Consecutive { index: 1, data: &[0x41, 0x42] })
        );
        assert_eq!(Frame::parse(&[0x30, 0x00, 0x00]), Some(Frame::FlowControl));
    }

    #[test]
    fn what_the_standard_excludes_is_no_frame() {
        let wrong: [&[u8]; 9] = [
            &[],
            &[0x00, 0x41],
            &[0x08, 1, 2, 3, 4, 5, 6, 7],
            // Announces four bytes, shows five of seven: digits were lost.
            &[0x04, 0x41, 0x0C, 0x1A, 0xF8, 0x55],
            &[0x04, 0x41, 0x0C, 0x1A],
            &[0x10, 0x07, 1, 2, 3, 4, 5, 6],
            &[0x10, 0x14, 1, 2, 3, 4, 5],
            &[0x33, 0x00, 0x00],
            &[0x40, 0x00],
        ];
        for bytes in wrong {
            assert_eq!(Frame::parse(bytes), None, "{bytes:02X?}");
        }
    }
}
