mod external_scaling;
mod field;
mod rows;

#[cfg(test)]
mod tests;

pub use external_scaling::ExternalScaling;
pub(super) use field::big_endian;
pub use field::{Field, Measured};
pub use rows::PARAMETERS;

use super::DecodeError;

/// One parameter of service 01, and thereby of service 02, as a row of facts.
#[derive(Clone, Copy, Debug)]
pub struct Parameter {
    /// Its number.
    pub id: u8,
    /// Lengths in bytes that its data may have, the usual one first. Trims are one byte longer on
    /// engines with a third and fourth bank.
    pub lengths: &'static [usize],
    /// What the data hold.
    pub content: Content,
}

impl Parameter {
    /// Usual length of the data in bytes.
    pub fn length(&self) -> usize {
        self.lengths.first().copied().unwrap_or(0)
    }

    /// The numbers among the contents; empty for bit maps and codes.
    pub fn fields(&self) -> &'static [Field] {
        match self.content {
            Content::Numbers(fields) => fields,
            Content::SupportList | Content::Readiness | Content::TroubleCode => &[],
        }
    }

    fn check_length(&self, service: u8, found: usize) -> Result<(), DecodeError> {
        if self.lengths.contains(&found) {
            return Ok(());
        }
        let shortest = self.lengths.iter().copied().min().unwrap_or(0);
        let longest = self.lengths.iter().copied().max().unwrap_or(0);
        Err(if found < shortest {
            DecodeError::TooShort { service, needed: shortest, found }
        } else {
            DecodeError::TooLong { service, expected: longest, found }
        })
    }
}

/// What a parameter's data hold.
#[derive(Clone, Copy, Debug)]
pub enum Content {
    /// Numbers, each by its own fixed rule.
    Numbers(&'static [Field]),
    /// Which of the next 32 parameters exist: [`SupportedParameters`](super::SupportedParameters).
    SupportList,
    /// Monitor status: [`Readiness`](super::Readiness).
    Readiness,
    /// One trouble code: [`TroubleCode`](super::TroubleCode).
    TroubleCode,
}

/// One parameter out of an answer.
#[derive(Clone, Debug, PartialEq)]
pub struct ParameterReading {
    /// The parameter.
    pub parameter: u8,
    /// Its data as they came, for parameters that hold bits or codes.
    pub data: Vec<u8>,
    /// The numbers in it.
    pub measured: Vec<Measured>,
}

/// The row of a parameter.
pub fn parameter(id: u8) -> Option<&'static Parameter> {
    PARAMETERS.binary_search_by_key(&id, |row| row.id).ok().and_then(|place| PARAMETERS.get(place))
}

/// The numbers in one parameter's data (without the parameter's own number).
pub fn decode_parameter(id: u8, data: &[u8]) -> Result<Vec<Measured>, DecodeError> {
    let row = parameter(id).ok_or(DecodeError::UnknownParameter { parameter: id })?;
    row.check_length(CURRENT_DATA, data.len())?;
    Ok(row.fields().iter().filter_map(|field| field.decode(data)).collect())
}

/// Every parameter of a service 01 answer: what follows the byte 41, which is parameter, data,
/// parameter, data, … in any order. The table's lengths say where one ends and the next begins.
pub fn decode_parameters(content: &[u8]) -> Result<Vec<ParameterReading>, DecodeError> {
    read_cut(CURRENT_DATA, cut(CURRENT_DATA, content, 0, None)?, 0)
}

/// Like [`decode_parameters`], but an answer that was not asked for is an error, which also
/// settles most answers that could be cut in two ways.
pub fn decode_asked(content: &[u8], asked: &[u8]) -> Result<Vec<ParameterReading>, DecodeError> {
    read_cut(CURRENT_DATA, cut(CURRENT_DATA, content, 0, Some(asked))?, 0)
}

/// Every parameter of a service 02 answer: what follows the byte 42, which is parameter, frame,
/// data, … The first data byte of each reading is the frame number.
pub(super) fn decode_frame_parameters(
    content: &[u8],
) -> Result<Vec<(u8, ParameterReading)>, DecodeError> {
    let pieces = cut(FREEZE_FRAME, content, 1, None)?;
    let frames: Vec<u8> = pieces.iter().filter_map(|(_, data)| data.first().copied()).collect();
    Ok(frames.into_iter().zip(read_cut(FREEZE_FRAME, pieces, 1)?).collect())
}

const CURRENT_DATA: u8 = 0x01;
const FREEZE_FRAME: u8 = 0x02;

type Piece<'a> = (&'static Parameter, &'a [u8]);

fn read_cut(
    service: u8,
    pieces: Vec<Piece<'_>>,
    prefix: usize,
) -> Result<Vec<ParameterReading>, DecodeError> {
    pieces
        .into_iter()
        .map(|(row, piece)| {
            let data = piece.get(prefix..).unwrap_or(&[]);
            row.check_length(service, data.len())?;
            Ok(ParameterReading {
                parameter: row.id,
                data: data.to_vec(),
                measured: row.fields().iter().filter_map(|field| field.decode(data)).collect(),
            })
        })
        .collect()
}

/// Cuts an answer into parameters, each with `prefix` bytes before its data. There must be exactly
/// one way to do so without a parameter standing twice.
fn cut<'a>(
    service: u8,
    content: &'a [u8],
    prefix: usize,
    asked: Option<&[u8]>,
) -> Result<Vec<Piece<'a>>, DecodeError> {
    if content.is_empty() {
        return Err(DecodeError::TooShort { service, needed: 1, found: 0 });
    }
    let mut search = Search { service, prefix, asked, found: Vec::new(), flaw: None };
    search.extend(content, &mut Vec::new());
    let mut ways = search.found.into_iter();
    match (ways.next(), ways.next()) {
        (Some(only), None) => Ok(only),
        (Some(_), Some(_)) => Err(DecodeError::Ambiguous),
        (None, _) => Err(search.flaw.unwrap_or(DecodeError::Ambiguous)),
    }
}

struct Search<'a, 'b> {
    service: u8,
    prefix: usize,
    asked: Option<&'b [u8]>,
    found: Vec<Vec<Piece<'a>>>,
    /// What stopped the first way that was tried, the one with the usual lengths.
    flaw: Option<DecodeError>,
}

impl<'a> Search<'a, '_> {
    /// Depth is bounded by the number of rows, as none may repeat; branches by the eight rows
    /// that have two lengths.
    fn extend(&mut self, rest: &'a [u8], taken: &mut Vec<Piece<'a>>) {
        if self.found.len() > 1 {
            return;
        }
        let Some((id, after)) = rest.split_first() else {
            self.found.push(taken.clone());
            return;
        };
        let row = match self.admit(*id, taken) {
            Ok(row) => row,
            Err(flaw) => return self.note(flaw),
        };
        for length in row.lengths {
            let needed = length.saturating_add(self.prefix);
            match after.split_at_checked(needed) {
                Some((piece, next)) => {
                    taken.push((row, piece));
                    self.extend(next, taken);
                    taken.pop();
                }
                None => self.note(DecodeError::TooShort {
                    service: self.service,
                    needed,
                    found: after.len(),
                }),
            }
        }
    }

    fn admit(&self, id: u8, taken: &[Piece<'a>]) -> Result<&'static Parameter, DecodeError> {
        if taken.iter().any(|(row, _)| row.id == id) {
            return Err(DecodeError::Repeated { parameter: id });
        }
        if self.asked.is_some_and(|asked| !asked.contains(&id)) {
            return Err(DecodeError::NotAsked { parameter: id });
        }
        parameter(id).ok_or(DecodeError::UnknownParameter { parameter: id })
    }

    fn note(&mut self, flaw: DecodeError) {
        self.flaw.get_or_insert(flaw);
    }
}
