use std::io::{self, Read};

/// A source whose lines all end with a line feed, whatever they ended with, so that lines are
/// counted as an editor counts them.
pub(super) struct LineFeeds<R> {
    source: R,
    after_return: bool,
}

impl<R: Read> LineFeeds<R> {
    pub(super) const fn new(source: R) -> Self {
        Self { source, after_return: false }
    }
}

impl<R: Read> Read for LineFeeds<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            let found = self.source.read(buffer)?;
            if found == 0 {
                return Ok(0);
            }
            let mut kept = 0;
            for place in 0..found {
                let byte = buffer[place];
                if byte == b'\n' && self.after_return {
                    self.after_return = false;
                    continue;
                }
                self.after_return = byte == b'\r';
                buffer[kept] = if byte == b'\r' { b'\n' } else { byte };
                kept += 1;
            }
            // Nothing kept is not the end of the source.
            if kept > 0 {
                return Ok(kept);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::io::Read;

    use super::LineFeeds;

    /// Gives one byte at a time, so that a pair is always torn apart.
    struct Drop<'a>(&'a [u8]);

    impl Read for Drop<'_> {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            let Some((first, rest)) = self.0.split_first() else { return Ok(0) };
            buffer[0] = *first;
            self.0 = rest;
            Ok(1)
        }
    }

    #[test]
    fn every_kind_of_line_end_becomes_one_line_feed() {
        let text = b"a\r\nb\nc\rd\r\r\n\n\re";
        let mut whole = String::new();
        LineFeeds::new(text.as_slice()).read_to_string(&mut whole).unwrap();
        assert_eq!(whole, "a\nb\nc\nd\n\n\n\ne");
        let mut torn = String::new();
        LineFeeds::new(Drop(text)).read_to_string(&mut torn).unwrap();
        assert_eq!(torn, whole);
    }
}
