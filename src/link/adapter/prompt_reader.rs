/// More than any answer: 4,095 bytes of ISO 15765-2 are below 12,000 characters a unit.
const LARGEST: usize = 64 * 1024;

/// Collects what an adapter says until its prompt.
#[derive(Clone, Debug, Default)]
pub(in crate::link) struct PromptReader {
    text: Vec<u8>,
    overflowed: bool,
}

impl PromptReader {
    /// Takes bytes. Returns the text before the prompt once that has come; bytes after the prompt
    /// belong to nothing that was asked and are given as the second part.
    pub(in crate::link) fn handle_bytes(&mut self, bytes: &[u8]) -> Option<(Vec<u8>, Vec<u8>)> {
        let mut parts = bytes.splitn(2, |byte| *byte == b'>');
        // Adapters may send NUL bytes that mean nothing (common practice, no source).
        let before = parts.next().unwrap_or_default();
        for piece in before.split(|byte| *byte == 0) {
            let room = LARGEST.saturating_sub(self.text.len());
            self.overflowed |= piece.len() > room;
            self.text.extend_from_slice(piece.get(..room).unwrap_or(piece));
        }
        let after = parts.next()?.to_vec();
        self.overflowed = false;
        Some((std::mem::take(&mut self.text), after))
    }

    /// Whether more came without a prompt than any answer holds.
    pub(in crate::link) fn overflowed(&self) -> bool {
        self.overflowed
    }

    /// Forgets what has come so far.
    pub(in crate::link) fn clear(&mut self) {
        self.text.clear();
        self.overflowed = false;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_complete_at_the_prompt_however_it_is_cut() {
        let whole = b"41 0C 1A F8\r\r>";
        for cut in 0..whole.len() {
            let mut reader = PromptReader::default();
            let (head, tail) = whole.split_at(cut);
            assert_eq!(reader.handle_bytes(head), None);
            assert_eq!(reader.handle_bytes(tail), Some((b"41 0C 1A F8\r\r".to_vec(), vec![])));
        }
    }

    #[test]
    fn endless_noise_does_not_fill_memory() {
        let mut reader = PromptReader::default();
        for _ in 0..100 {
            assert_eq!(reader.handle_bytes(&[b'x'; 1024]), None);
        }
        assert!(reader.overflowed());
        assert_eq!(reader.text.len(), LARGEST);
    }
}
