use std::collections::VecDeque;
use std::fmt::Write as _;

use super::LinkError;
use crate::units::Instant;

/// Which way bytes went.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// To the adapter.
    Sent,
    /// From the adapter.
    Received,
    /// The connection broke here; no bytes.
    Lost,
    /// The connection came back here; no bytes.
    Back,
}

/// Bytes at a time.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// When, on the transport's clock.
    pub at: Instant,
    /// Which way.
    pub direction: Direction,
    /// The bytes.
    pub bytes: Vec<u8>,
}

/// Everything that went to and came from an adapter, up to a limit: beyond it the oldest entries
/// make room.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Transcript {
    entries: VecDeque<Entry>,
    limit: usize,
    /// Bytes of all entries together.
    held: usize,
    forgotten: u64,
}

/// Bytes that a transcript keeps at most; the latest entry always stays.
const MOST_BYTES: usize = 1 << 20;

impl Default for Transcript {
    fn default() -> Self {
        // The latest minutes: about five at forty exchanges a second, within 3 MB. A phone that
        // polls for hours keeps no more.
        Self::with_limit(24_000)
    }
}

impl Transcript {
    /// An empty transcript that keeps this many entries.
    pub fn with_limit(limit: usize) -> Self {
        Self { entries: VecDeque::new(), limit, held: 0, forgotten: 0 }
    }

    /// The entries, oldest first.
    pub fn entries(&self) -> impl ExactSizeIterator<Item = &Entry> {
        self.entries.iter()
    }

    /// How many of the oldest entries have made room.
    pub fn forgotten(&self) -> u64 {
        self.forgotten
    }

    /// Adds an entry.
    pub fn push(&mut self, at: Instant, direction: Direction, bytes: &[u8]) {
        self.held = self.held.saturating_add(bytes.len());
        while self.entries.len() >= self.limit || self.held > MOST_BYTES {
            let Some(oldest) = self.entries.pop_front() else { break };
            self.held = self.held.saturating_sub(oldest.bytes.len());
            self.forgotten = self.forgotten.saturating_add(1);
        }
        self.entries.push_back(Entry { at, direction, bytes: bytes.to_vec() });
    }

    /// As text: one entry a line, `microseconds > text` for sent, `<` for received, `!` for lost,
    /// `+` for back. Bytes that are not printable are written `\xHH`, a backslash `\\`.
    pub fn to_text(&self) -> String {
        let mut text = String::new();
        for entry in &self.entries {
            let mark = match entry.direction {
                Direction::Sent => '>',
                Direction::Received => '<',
                Direction::Lost => '!',
                Direction::Back => '+',
            };
            // Writing to a String cannot fail.
            let _ = write!(text, "{} {mark} ", entry.at.micros());
            for byte in &entry.bytes {
                match byte {
                    b'\\' => text.push_str("\\\\"),
                    b'\r' => text.push_str("\\r"),
                    b'\n' => text.push_str("\\n"),
                    0x20..=0x7E => text.push(char::from(*byte)),
                    _ => {
                        let _ = write!(text, "\\x{byte:02X}");
                    }
                }
            }
            text.push('\n');
        }
        text
    }

    /// Reads what [`Transcript::to_text`] writes. Empty lines and lines that start with `#` are
    /// remarks.
    ///
    /// # Errors
    /// [`LinkError::TranscriptLine`] names the first line that cannot be read.
    pub fn from_text(text: &str) -> Result<Self, LinkError> {
        let mut transcript = Self::default();
        for (number, line) in text.lines().enumerate() {
            if line.trim().is_empty() || line.starts_with('#') {
                continue;
            }
            let line_number = number.saturating_add(1);
            let (at, direction, bytes) =
                parse_line(line).ok_or(LinkError::TranscriptLine { line: line_number })?;
            transcript.push(at, direction, &bytes);
        }
        Ok(transcript)
    }
}

fn parse_line(line: &str) -> Option<(Instant, Direction, Vec<u8>)> {
    let (micros, rest) = line.split_once(' ')?;
    let at = Instant::from_micros(micros.parse().ok()?);
    let (mark, quoted) = rest.split_once(' ').unwrap_or((rest, ""));
    let direction = match mark {
        ">" => Direction::Sent,
        "<" => Direction::Received,
        "!" => Direction::Lost,
        "+" => Direction::Back,
        _ => return None,
    };
    Some((at, direction, unquote(quoted)?))
}

fn unquote(text: &str) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut letters = text.bytes();
    while let Some(letter) = letters.next() {
        match letter {
            b'\\' => bytes.push(match letters.next()? {
                b'\\' => b'\\',
                b'r' => b'\r',
                b'n' => b'\n',
                b'x' => {
                    let (high, low) = (letters.next()?, letters.next()?);
                    let digits = [high, low];
                    u8::from_str_radix(std::str::from_utf8(&digits).ok()?, 16).ok()?
                }
                _ => return None,
            }),
            0x20..=0x7E => bytes.push(letter),
            _ => return None,
        }
    }
    Some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_byte_survives_as_text() {
        let every: Vec<u8> = (0..=u8::MAX).collect();
        let mut transcript = Transcript::default();
        transcript.push(Instant::from_micros(-5), Direction::Sent, b"010C\r");
        transcript.push(Instant::from_micros(12), Direction::Received, &every);
        transcript.push(Instant::from_micros(13), Direction::Lost, b"");
        transcript.push(Instant::from_micros(14), Direction::Back, b"");
        let text = transcript.to_text();
        assert!(text.starts_with("-5 > 010C\\r\n12 < \\x00"));
        assert_eq!(Transcript::from_text(&text), Ok(transcript));
    }

    #[test]
    fn a_line_that_cannot_be_read_is_named() {
        for line in ["x > 1", "1 ? 1", "1 > \\q", "1 > \\x4", "1 > ü", "1"] {
            let text = format!("# remark\n\n{line}\n");
            let expected = Err(LinkError::TranscriptLine { line: 3 });
            assert_eq!(Transcript::from_text(&text), expected, "{line}");
        }
    }

    #[test]
    fn long_entries_make_room_too() {
        let mut transcript = Transcript::default();
        for _ in 0..5 {
            transcript.push(Instant::ZERO, Direction::Received, &[b'0'; MOST_BYTES / 2]);
        }
        assert_eq!((transcript.entries().len(), transcript.forgotten()), (2, 3));
    }

    #[test]
    fn the_oldest_entries_make_room() {
        let mut transcript = Transcript::with_limit(2);
        for number in 0..5_u8 {
            transcript.push(Instant::ZERO, Direction::Received, &[number]);
        }
        let kept: Vec<&[u8]> = transcript.entries().map(|it| it.bytes.as_slice()).collect();
        assert_eq!(kept, [&[3][..], &[4][..]]);
        assert_eq!(transcript.forgotten(), 3);
    }
}
