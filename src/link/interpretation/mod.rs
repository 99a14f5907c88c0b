//! From an adapter's lines to messages of units, and from messages to answers.

use super::adapter::Protocol;
use super::adapter::reply::{LONGEST_LINE, Line, Notice, Reply, bytes_of};
use super::isotp::assembler::{Assembler, Message, Step};
use super::scheduler::Request;
use super::{LinkError, UnitId, legacy_frame};

/// How lines are to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Framing {
    pub(super) protocol: Protocol,
    /// Whether lines carry identifiers and framing bytes.
    pub(super) headers: bool,
}

/// What an answer's lines hold.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Heard {
    pub(super) messages: Vec<Message>,
    /// Lines that hold data.
    pub(super) lines: usize,
    /// A line could not be read, or did not fit the others.
    pub(super) damaged: bool,
    /// A long answer lacks its end.
    pub(super) incomplete: bool,
}

/// Puts lines together. Good messages are kept beside damaged lines.
pub(super) fn hear(reply: &Reply, framing: Framing, assembler: &mut Assembler) -> Heard {
    let mut heard = Heard::default();
    for line in &reply.lines {
        match line {
            Line::Digits(digits) if framing.headers => {
                heard.lines = heard.lines.saturating_add(1);
                match message_of(digits, framing.protocol, assembler) {
                    Some(Some(message)) => heard.messages.push(message),
                    Some(None) => {}
                    None => heard.damaged = true,
                }
            }
            Line::Digits(_) | Line::Numbered(..) if !framing.headers => {
                heard.lines = heard.lines.saturating_add(1);
            }
            Line::Notice(Notice::Ok | Notice::Unknown) | Line::Text(_) => heard.damaged = true,
            Line::Digits(_) | Line::Numbered(..) => heard.damaged = true,
            Line::Notice(_) => {}
        }
    }
    if !framing.headers {
        hear_without_headers(reply, &mut heard);
    }
    heard.incomplete |= assembler.finish();
    if !framing.protocol.is_can() {
        let (joined, broken) = legacy_frame::join(std::mem::take(&mut heard.messages));
        heard.messages = joined;
        heard.incomplete |= broken;
    }
    heard
}

/// One line with headers: `None` is damage, `Some(None)` a part of a longer message.
fn message_of(
    digits: &str,
    protocol: Protocol,
    assembler: &mut Assembler,
) -> Option<Option<Message>> {
    let mut buffer = [0; LONGEST_LINE];
    // ISO 15765-4: answers carry 7E8 to 7EF, or 18DAF1 and the unit's address.
    let (id_digits, answers) = match protocol {
        Protocol::Can11 => (3, 0x7E8..=0x7EF),
        Protocol::Can29 => (8, 0x18DA_F100..=0x18DA_F1FF),
        _ => return legacy_frame::parse(protocol, bytes_of(digits, &mut buffer)?).map(Some),
    };
    let (id, data) = digits.split_at_checked(id_digits)?;
    let id = u32::from_str_radix(id, 16).ok().filter(|id| answers.contains(id))?;
    match assembler.handle_frame(UnitId(id), bytes_of(data, &mut buffer)?) {
        Step::Whole(message) => Some(Some(message)),
        Step::More => Some(None),
        Step::Broken => None,
    }
}

/// Without headers, a short answer is a line of its payload; a long one is its length in three
/// digits and numbered lines of six, then seven bytes. Units cannot be told apart, and two long
/// answers at a time cannot be separated.
fn hear_without_headers(reply: &Reply, heard: &mut Heard) {
    let mut long: Option<(usize, u8, Vec<u8>)> = None;
    let mut buffer = [0; LONGEST_LINE];
    for line in &reply.lines {
        match line {
            Line::Digits(digits) if digits.len() == 3 && long.is_none() => {
                match usize::from_str_radix(digits, 16) {
                    Ok(length) if length >= 8 => long = Some((length, 0, Vec::new())),
                    _ => heard.damaged = true,
                }
            }
            Line::Digits(digits) => match bytes_of(digits, &mut buffer) {
                Some(payload) if payload.len() <= 7 => {
                    heard
                        .messages
                        .push(Message { unit: UnitId::UNTOLD, payload: payload.to_vec() });
                }
                _ => heard.damaged = true,
            },
            Line::Numbered(number, digits) => {
                let part = bytes_of(digits, &mut buffer);
                let (Some((length, next, mut payload)), Some(part)) = (long.take(), part) else {
                    heard.damaged = true;
                    continue;
                };
                let full = if next == 0 { 6 } else { 7 };
                let missing = length.saturating_sub(payload.len());
                if *number != next & 0x0F || !(part.len() == full || part.len() == missing) {
                    heard.damaged = true;
                    continue;
                }
                payload.extend(part.iter().take(missing));
                if payload.len() == length {
                    heard.messages.push(Message { unit: UnitId::UNTOLD, payload });
                } else {
                    // Lines count up to F and start again from 0.
                    let following = if next == 15 { 16 } else { next.wrapping_add(1) };
                    let following = if following > 31 { 16 } else { following };
                    long = Some((length, following, payload));
                }
            }
            _ => {}
        }
    }
    heard.incomplete |= long.is_some();
}

/// Answers to one request, sorted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Sorted {
    /// Units that answered, with payloads that fit the request.
    pub(super) positive: Vec<Message>,
    /// Units that refused, with the reason.
    pub(super) refused: Vec<(UnitId, u8)>,
    /// Units that asked for more time and then gave no answer.
    pub(super) pending: Vec<UnitId>,
    /// Whether anything did not fit the request.
    pub(super) strange: bool,
}

/// ISO 14229-1: the unit needs more time and will answer later.
const PENDING: u8 = 0x78;

/// Sorts messages by what they say to a request.
pub(super) fn sort(request: &Request, messages: Vec<Message>) -> Sorted {
    let mut sorted = Sorted::default();
    let service = request.service();
    for message in messages {
        match message.payload.as_slice() {
            [0x7F, asked, PENDING] if *asked == service => sorted.pending.push(message.unit),
            [0x7F, asked, reason] if *asked == service => {
                sorted.refused.push((message.unit, *reason));
            }
            [answer, rest @ ..] if *answer == service | 0x40 && fits(request, rest) => {
                sorted.positive.push(message);
            }
            _ => sorted.strange = true,
        }
    }
    sorted.pending.retain(|unit| {
        !sorted.positive.iter().any(|it| it.unit == *unit)
            && !sorted.refused.iter().any(|(it, _)| it == unit)
    });
    sorted
}

/// Whether an answer repeats what was asked (SAE J1979: parameter, item or test; ISO 14229-1: the
/// two bytes of the identifier).
fn fits(request: &Request, rest: &[u8]) -> bool {
    match (request.service(), request.data()) {
        (0x01, asked) => rest.first().is_some_and(|first| asked.contains(first)),
        (0x22, [high, low, ..]) => rest.starts_with(&[*high, *low]),
        (0x02 | 0x05 | 0x06 | 0x08 | 0x09, [asked, ..]) => rest.first() == Some(asked),
        _ => true,
    }
}

/// What a reply without any data means.
pub(super) fn failure_of(reply: &Reply) -> LinkError {
    if let Some(failure) = reply.failure() {
        return failure.into();
    }
    if reply.says(Notice::Unknown) {
        return LinkError::UnknownCommand;
    }
    if reply.lines.iter().all(|line| *line == Line::Notice(Notice::Searching)) {
        return LinkError::EmptyAnswer;
    }
    LinkError::Damaged
}

#[cfg(test)]
mod tests;
