use super::super::LinkError;
use super::super::error::BusTrouble;

/// What an adapter says in words.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::link) enum Notice {
    /// The setting was taken.
    Ok,
    /// The command was not understood.
    Unknown,
    /// A protocol is being looked for, or a bus started.
    Searching,
    /// Something failed.
    Failure(Failure),
}

/// What an adapter's words say went wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::link) enum Failure {
    NoData,
    UnableToConnect,
    Stopped,
    BufferFull,
    Bus(BusTrouble),
    LowVoltage,
    AdapterFault,
}

impl From<Failure> for LinkError {
    fn from(failure: Failure) -> Self {
        match failure {
            Failure::NoData => Self::NoData,
            Failure::UnableToConnect => Self::UnableToConnect,
            Failure::Stopped => Self::Stopped,
            Failure::BufferFull => Self::BufferFull,
            Failure::Bus(trouble) => Self::Bus(trouble),
            Failure::LowVoltage => Self::LowVoltage,
            Failure::AdapterFault => Self::AdapterFault,
        }
    }
}

/// One line of an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::link) enum Line {
    /// Hexadecimal digits only, spaces removed.
    Digits(String),
    /// A numbered line, as adapters without headers show long answers: `1:41…`.
    Numbered(u8, String),
    /// Words that the dialect knows.
    Notice(Notice),
    /// Anything else: a name, a voltage, an echo, or damage.
    Text(String),
}

/// An answer's lines, in order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(in crate::link) struct Reply {
    pub(in crate::link) lines: Vec<Line>,
    /// Whether the command came back before the answer.
    pub(in crate::link) echoed: bool,
}

/// The dialect's words without spaces (common practice, no source).
const NOTICES: [(&str, Notice); 19] = [
    ("OK", Notice::Ok),
    ("?", Notice::Unknown),
    ("SEARCHING", Notice::Searching),
    ("BUSINIT:OK", Notice::Searching),
    ("NODATA", Notice::Failure(Failure::NoData)),
    ("UNABLETOCONNECT", Notice::Failure(Failure::UnableToConnect)),
    ("STOPPED", Notice::Failure(Failure::Stopped)),
    ("BUFFERFULL", Notice::Failure(Failure::BufferFull)),
    ("CANERROR", Notice::Failure(Failure::Bus(BusTrouble::Can))),
    ("BUSERROR", Notice::Failure(Failure::Bus(BusTrouble::Level))),
    ("BUSBUSY", Notice::Failure(Failure::Bus(BusTrouble::Busy))),
    ("FBERROR", Notice::Failure(Failure::Bus(BusTrouble::Feedback))),
    ("DATAERROR", Notice::Failure(Failure::Bus(BusTrouble::Data))),
    ("<DATAERROR", Notice::Failure(Failure::Bus(BusTrouble::Data))),
    ("<RXERROR", Notice::Failure(Failure::Bus(BusTrouble::Can))),
    ("BUSINIT:ERROR", Notice::Failure(Failure::Bus(BusTrouble::Initialisation))),
    ("LVRESET", Notice::Failure(Failure::LowVoltage)),
    ("LPALERT", Notice::Failure(Failure::LowVoltage)),
    ("!LPALERT", Notice::Failure(Failure::LowVoltage)),
];

impl Reply {
    /// Reads the text before a prompt. `echo` is the command as an adapter repeats it.
    pub(in crate::link) fn parse(text: &[u8], echo: &[u8]) -> Self {
        let mut reply = Self::default();
        for raw in text.split(|byte| matches!(byte, b'\r' | b'\n')) {
            // Nearly every line is data, and no words of the dialect are digits only.
            if let Some(digits) = digits_of(raw) {
                reply.push_or_note_echo(digits, echo);
                continue;
            }
            let compact: String = raw
                .iter()
                .filter(|byte| !matches!(byte, b' ' | b'\t'))
                .map(|byte| char::from(*byte))
                .collect();
            if compact.is_empty() {
                continue;
            }
            if reply.lines.is_empty() && !reply.echoed && compact.as_bytes() == echo {
                reply.echoed = true;
                continue;
            }
            reply.push_line(&compact, raw);
        }
        reply
    }

    fn push_or_note_echo(&mut self, digits: String, echo: &[u8]) {
        if self.lines.is_empty() && !self.echoed && digits.as_bytes() == echo {
            self.echoed = true;
        } else {
            self.lines.push(Line::Digits(digits));
        }
    }

    fn push_line(&mut self, compact: &str, raw: &[u8]) {
        // Dots show that time passes; the answer may follow them on the same line.
        let undotted: String = compact.chars().filter(|letter| *letter != '.').collect();
        if let Some((_, notice)) = NOTICES.iter().find(|(words, _)| *words == undotted) {
            self.lines.push(Line::Notice(*notice));
            return;
        }
        for (prefix, _) in NOTICES.iter().filter(|(_, notice)| *notice == Notice::Searching) {
            if let Some(rest) = undotted.strip_prefix(prefix) {
                self.lines.push(Line::Notice(Notice::Searching));
                self.push_line(rest, rest.as_bytes());
                return;
            }
        }
        if let Some(flagged) = ["<DATAERROR", "<RXERROR"].iter().find(|it| compact.ends_with(**it))
        {
            self.push_line(flagged, flagged.as_bytes());
            return;
        }
        if is_error_number(compact) {
            self.lines.push(Line::Notice(Notice::Failure(Failure::AdapterFault)));
            return;
        }
        if is_digits(compact) {
            self.lines.push(Line::Digits(compact.to_owned()));
            return;
        }
        if let Some((number, digits)) = compact.split_once(':')
            && let (1, Ok(number)) = (number.len(), u8::from_str_radix(number, 16))
            && is_digits(digits)
        {
            self.lines.push(Line::Numbered(number, digits.to_owned()));
            return;
        }
        self.lines.push(Line::Text(String::from_utf8_lossy(raw).trim().to_owned()));
    }

    /// The first failure in words.
    pub(in crate::link) fn failure(&self) -> Option<Failure> {
        self.lines.iter().find_map(|line| match line {
            Line::Notice(Notice::Failure(failure)) => Some(*failure),
            _ => None,
        })
    }

    /// Whether a line is exactly this notice.
    pub(in crate::link) fn says(&self, notice: Notice) -> bool {
        self.lines.contains(&Line::Notice(notice))
    }

    /// The lines of digits.
    pub(in crate::link) fn digits(&self) -> impl Iterator<Item = &str> {
        self.lines.iter().filter_map(|line| match line {
            Line::Digits(digits) => Some(digits.as_str()),
            _ => None,
        })
    }

    /// The first line of other text.
    pub(in crate::link) fn text(&self) -> Option<&str> {
        self.lines.iter().find_map(|line| match line {
            Line::Text(text) => Some(text.as_str()),
            _ => None,
        })
    }
}

fn is_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'A'..=b'F'))
}

fn is_error_number(text: &str) -> bool {
    matches!(text.strip_prefix("ERR"), Some(number) if number.len() == 2 && is_digits(number))
}

/// The digits of a line without its blanks; `None` if there are none, or anything else.
fn digits_of(raw: &[u8]) -> Option<String> {
    if !raw.iter().all(|byte| matches!(byte, b'0'..=b'9' | b'A'..=b'F' | b' ' | b'\t')) {
        return None;
    }
    let mut digits = String::from_utf8(raw.to_vec()).ok()?;
    if raw.iter().any(|byte| matches!(byte, b' ' | b'\t')) {
        digits.retain(|letter| !matches!(letter, ' ' | '\t'));
    }
    (!digits.is_empty()).then_some(digits)
}

/// Bytes of the longest line that carries one frame: eleven before CAN, eight on it.
pub(in crate::link) const LONGEST_LINE: usize = 11;

/// The bytes that digits stand for, written into `buffer`; `None` for an odd number of digits, or
/// more of them than a line carries.
pub(in crate::link) fn bytes_of<'a>(
    digits: &str,
    buffer: &'a mut [u8; LONGEST_LINE],
) -> Option<&'a [u8]> {
    let (pairs, rest) = digits.as_bytes().as_chunks::<2>();
    if !rest.is_empty() {
        return None;
    }
    let room = buffer.get_mut(..pairs.len())?;
    for (byte, [high, low]) in room.iter_mut().zip(pairs) {
        *byte = nibble(*high)? << 4 | nibble(*low)?;
    }
    Some(room)
}

fn nibble(digit: u8) -> Option<u8> {
    match digit {
        b'0'..=b'9' => Some(digit & 0x0F),
        b'A'..=b'F' => Some((digit & 0x0F).wrapping_add(9)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(text: &str) -> Vec<Line> {
        Reply::parse(text.as_bytes(), b"010C").lines
    }

    fn failure(failure: Failure) -> Vec<Line> {
        vec![Line::Notice(Notice::Failure(failure))]
    }

    #[test]
    fn words_of_the_dialect_are_told_apart() {
        assert_eq!(lines("NO DATA\r\r"), failure(Failure::NoData));
        assert_eq!(lines("010C\rSTOPPED\r\r"), failure(Failure::Stopped));
        assert_eq!(lines("BUFFER FULL\r\n"), failure(Failure::BufferFull));
        assert_eq!(lines("CAN ERROR\r"), failure(Failure::Bus(BusTrouble::Can)));
        assert_eq!(lines("LV RESET\r"), failure(Failure::LowVoltage));
        assert_eq!(lines("ERR94\r"), failure(Failure::AdapterFault));
        assert_eq!(lines("?\r"), vec![Line::Notice(Notice::Unknown)]);
        let start_failed = failure(Failure::Bus(BusTrouble::Initialisation));
        assert_eq!(lines("BUS INIT: ...ERROR\r"), start_failed);
        assert_eq!(
            lines("SEARCHING...\rUNABLE TO CONNECT\r"),
            vec![
                Line::Notice(Notice::Searching),
                Line::Notice(Notice::Failure(Failure::UnableToConnect))
            ]
        );
    }

    #[test]
    fn data_may_follow_the_search_on_one_line() {
        let expected =
            vec![Line::Notice(Notice::Searching), Line::Digits(String::from("7E8064100BE3EA813"))];
        assert_eq!(lines("SEARCHING...7E8 06 41 00 BE 3E A8 13\r"), expected);
        assert_eq!(lines("BUS INIT: ...OK7E8 06 41 00 BE 3E A8 13\r"), expected);
    }

    #[test]
    fn echo_is_taken_off_once_and_damage_stays_visible() {
        let reply = Reply::parse(b"010C\r7E8 04 41 0C 1A F8\r", b"010C");
        assert!(reply.echoed);
        assert_eq!(reply.lines, vec![Line::Digits(String::from("7E804410C1AF8"))]);
        assert_eq!(lines("NO D#TA\r"), vec![Line::Text(String::from("NO D#TA"))]);
        assert_eq!(lines("7e8 04 41\r"), vec![Line::Text(String::from("7e8 04 41"))]);
    }

    #[test]
    fn a_line_with_a_wrong_checksum_is_not_data() {
        let expected = failure(Failure::Bus(BusTrouble::Data));
        assert_eq!(lines("48 6B 10 41 0C 1A F8 00 <DATA ERROR\r"), expected);
    }

    #[test]
    fn bytes_need_whole_pairs() {
        let mut buffer = [0; LONGEST_LINE];
        assert_eq!(bytes_of("1AF8", &mut buffer), Some(&[0x1A, 0xF8][..]));
        assert_eq!(bytes_of("1AF", &mut buffer), None);
        assert_eq!(bytes_of("1a", &mut buffer), None);
        assert_eq!(bytes_of(&"00".repeat(LONGEST_LINE + 1), &mut buffer), None);
    }
}
