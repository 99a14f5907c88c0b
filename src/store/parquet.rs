//! The Apache Parquet file format, as far as plain tables need it: required columns of 64-bit
//! integers, 64-bit floats and texts, uncompressed, texts by dictionary with run lengths.
//!
//! Written from memory of the format's specification (parquet.thrift, Encodings.md) and of Thrift's
//! compact protocol. Every table of `tests/plain_tables.rs` was read back whole by pyarrow 26.0.1; set
//! `STILLTANK_TEST_TABLES` to a folder to keep the files and do so again.

use std::collections::BTreeMap;
use std::io::{self, Write};

/// The values of one column of a row group.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Values {
    Whole(Vec<i64>),
    Real(Vec<f64>),
    Text(Vec<String>),
}

impl Values {
    fn len(&self) -> usize {
        match self {
            Self::Whole(values) => values.len(),
            Self::Real(values) => values.len(),
            Self::Text(values) => values.len(),
        }
    }

    /// Physical type: INT64, DOUBLE, BYTE_ARRAY.
    fn physical(&self) -> i64 {
        match self {
            Self::Whole(_) => 2,
            Self::Real(_) => 5,
            Self::Text(_) => 6,
        }
    }
}

/// Writes a table, row group by row group.
pub(super) struct ParquetWriter<W: Write> {
    to: W,
    at: i64,
    names: Vec<&'static str>,
    types: Vec<i64>,
    rows: i64,
    groups: Vec<Group>,
}

struct Group {
    rows: i64,
    columns: Vec<Chunk>,
}

struct Chunk {
    count: i64,
    dictionary_at: Option<i64>,
    data_at: i64,
    length: i64,
}

const MAGIC: &[u8] = b"PAR1";
const PLAIN: i64 = 0;
const RUN_LENGTH: i64 = 3;
const BY_DICTIONARY: i64 = 8;

impl<W: Write> ParquetWriter<W> {
    /// Begins a table; `like` gives the kind of each column.
    pub(super) fn new(mut to: W, names: Vec<&'static str>, like: &[Values]) -> io::Result<Self> {
        to.write_all(MAGIC)?;
        let types = like.iter().map(Values::physical).collect();
        Ok(Self { to, at: MAGIC.len() as i64, names, types, rows: 0, groups: Vec::new() })
    }

    /// Writes rows, column by column.
    pub(super) fn write_group(&mut self, columns: &[Values]) -> io::Result<()> {
        let rows = columns.first().map_or(0, Values::len) as i64;
        if rows == 0 {
            return Ok(());
        }
        let mut chunks = Vec::with_capacity(columns.len());
        for values in columns {
            chunks.push(self.write_chunk(values)?);
        }
        self.rows += rows;
        self.groups.push(Group { rows, columns: chunks });
        Ok(())
    }

    /// Writes what makes the file readable.
    pub(super) fn finish(mut self) -> io::Result<W> {
        let footer = self.footer();
        self.to.write_all(&footer)?;
        self.to.write_all(&(footer.len() as u32).to_le_bytes())?;
        self.to.write_all(MAGIC)?;
        self.to.flush()?;
        Ok(self.to)
    }

    fn write_chunk(&mut self, values: &Values) -> io::Result<Chunk> {
        let start = self.at;
        let count = values.len() as i64;
        let mut dictionary_at = None;
        let (page, encoding) = match values {
            Values::Whole(values) => {
                (values.iter().flat_map(|value| value.to_le_bytes()).collect(), PLAIN)
            }
            Values::Real(values) => {
                (values.iter().flat_map(|value| value.to_le_bytes()).collect(), PLAIN)
            }
            Values::Text(values) => {
                let (dictionary, entries, places) = by_dictionary(values);
                dictionary_at = Some(self.at);
                let mut header = Thrift::default();
                header.page(2, dictionary.len());
                header.structure(7, |it| {
                    it.whole(1, entries as i64, I32);
                    it.whole(2, PLAIN, I32);
                });
                header.stop();
                self.put(&header.bytes)?;
                self.put(&dictionary)?;
                (places, BY_DICTIONARY)
            }
        };
        let data_at = self.at;
        let mut header = Thrift::default();
        header.page(0, page.len());
        header.structure(5, |it| {
            it.whole(1, count, I32);
            it.whole(2, encoding, I32);
            it.whole(3, RUN_LENGTH, I32);
            it.whole(4, RUN_LENGTH, I32);
        });
        header.stop();
        self.put(&header.bytes)?;
        self.put(&page)?;
        Ok(Chunk { count, dictionary_at, data_at, length: self.at - start })
    }

    fn put(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.at += bytes.len() as i64;
        self.to.write_all(bytes)
    }

    fn footer(&self) -> Vec<u8> {
        let mut file = Thrift::default();
        file.whole(1, 1, I32);
        file.list(2, STRUCT, self.names.len() + 1);
        file.element(|it| {
            it.text(4, "schema");
            it.whole(5, self.names.len() as i64, I32);
        });
        for (name, kind) in self.names.iter().zip(&self.types) {
            file.element(|it| {
                it.whole(1, *kind, I32);
                // Required.
                it.whole(3, 0, I32);
                it.text(4, name);
                if *kind == 6 {
                    // UTF-8.
                    it.whole(6, 0, I32);
                }
            });
        }
        file.whole(3, self.rows, I64);
        file.list(4, STRUCT, self.groups.len());
        for group in &self.groups {
            file.element(|it| {
                it.list(1, STRUCT, group.columns.len());
                for ((name, kind), chunk) in self.names.iter().zip(&self.types).zip(&group.columns)
                {
                    it.element(|it| {
                        it.whole(2, chunk.dictionary_at.unwrap_or(chunk.data_at), I64);
                        it.structure(3, |it| it.column(name, *kind, chunk));
                    });
                }
                it.whole(2, group.columns.iter().map(|chunk| chunk.length).sum(), I64);
                it.whole(3, group.rows, I64);
            });
        }
        file.text(6, concat!("stilltank version ", env!("CARGO_PKG_VERSION")));
        file.stop();
        file.bytes
    }
}

/// The distinct texts, how many there are, and where each value stands among them.
fn by_dictionary(values: &[String]) -> (Vec<u8>, usize, Vec<u8>) {
    let mut known: BTreeMap<&str, usize> = BTreeMap::new();
    let mut dictionary = Vec::new();
    let mut runs: Vec<(usize, u64)> = Vec::new();
    for value in values {
        let next = known.len();
        let place = *known.entry(value).or_insert_with(|| {
            dictionary.extend_from_slice(&(value.len() as u32).to_le_bytes());
            dictionary.extend_from_slice(value.as_bytes());
            next
        });
        match runs.last_mut() {
            Some((last, length)) if *last == place => *length += 1,
            _ => runs.push((place, 1)),
        }
    }
    let bits = usize::BITS - known.len().saturating_sub(1).leading_zeros();
    let width = bits.div_ceil(8) as usize;
    let mut places = vec![bits as u8];
    for (place, length) in runs {
        variable(&mut places, length << 1);
        places.extend_from_slice(place.to_le_bytes().get(..width).unwrap_or_default());
    }
    (dictionary, known.len(), places)
}

const I32: u8 = 5;
const I64: u8 = 6;
const BINARY: u8 = 8;
const LIST: u8 = 9;
const STRUCT: u8 = 12;

/// Thrift's compact protocol, writing.
#[derive(Default)]
struct Thrift {
    bytes: Vec<u8>,
    last: i16,
}

impl Thrift {
    fn field(&mut self, id: i16, kind: u8) {
        // All the format's fields lie within 15 of the one before.
        self.bytes.push((((id - self.last) as u8) << 4) | kind);
        self.last = id;
    }

    fn whole(&mut self, id: i16, value: i64, kind: u8) {
        self.field(id, kind);
        self.zigzag(value);
    }

    fn zigzag(&mut self, value: i64) {
        variable(&mut self.bytes, ((value << 1) ^ (value >> 63)) as u64);
    }

    fn text(&mut self, id: i16, text: &str) {
        self.field(id, BINARY);
        self.bare_text(text);
    }

    fn bare_text(&mut self, text: &str) {
        variable(&mut self.bytes, text.len() as u64);
        self.bytes.extend_from_slice(text.as_bytes());
    }

    fn list(&mut self, id: i16, kind: u8, length: usize) {
        self.field(id, LIST);
        if length < 15 {
            self.bytes.push(((length as u8) << 4) | kind);
        } else {
            self.bytes.push(0xF0 | kind);
            variable(&mut self.bytes, length as u64);
        }
    }

    fn structure(&mut self, id: i16, inside: impl FnOnce(&mut Self)) {
        self.field(id, STRUCT);
        self.element(inside);
    }

    fn element(&mut self, inside: impl FnOnce(&mut Self)) {
        let outside = std::mem::take(&mut self.last);
        inside(self);
        self.stop();
        self.last = outside;
    }

    fn stop(&mut self) {
        self.bytes.push(0);
    }

    /// The first fields of a page header.
    fn page(&mut self, kind: i64, length: usize) {
        self.whole(1, kind, I32);
        self.whole(2, length as i64, I32);
        self.whole(3, length as i64, I32);
    }

    fn column(&mut self, name: &str, kind: i64, chunk: &Chunk) {
        self.whole(1, kind, I32);
        let encodings: &[i64] = match chunk.dictionary_at {
            Some(_) => &[PLAIN, RUN_LENGTH, BY_DICTIONARY],
            None => &[PLAIN, RUN_LENGTH],
        };
        self.list(2, I32, encodings.len());
        encodings.iter().for_each(|encoding| self.zigzag(*encoding));
        self.list(3, BINARY, 1);
        self.bare_text(name);
        // Uncompressed.
        self.whole(4, 0, I32);
        self.whole(5, chunk.count, I64);
        self.whole(6, chunk.length, I64);
        self.whole(7, chunk.length, I64);
        self.whole(9, chunk.data_at, I64);
        if let Some(at) = chunk.dictionary_at {
            self.whole(11, at, I64);
        }
    }
}

/// Seven bits a byte, the lowest first.
fn variable(bytes: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        bytes.push(value as u8 | 0x80);
        value >>= 7;
    }
    bytes.push(value as u8);
}
