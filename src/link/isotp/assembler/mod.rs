use std::collections::BTreeMap;

use super::super::UnitId;
use super::frame::Frame;

/// A whole message from one unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::link) struct Message {
    pub(in crate::link) unit: UnitId,
    pub(in crate::link) payload: Vec<u8>,
}

/// What a frame did.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::link) enum Step {
    /// The message goes on.
    More,
    /// The message is whole.
    Whole(Message),
    /// No frame, a wrong sequence number, or a part without a start: what the unit had sent so
    /// far is thrown away (ISO 15765-2: wrong sequence number ends the reception).
    Broken,
}

#[derive(Clone, Debug)]
struct Partial {
    length: usize,
    next_index: u8,
    payload: Vec<u8>,
}

/// Puts messages together, one for each unit, however their frames are interleaved.
#[derive(Clone, Debug, Default)]
pub(in crate::link) struct Assembler {
    partial: BTreeMap<UnitId, Partial>,
    /// Once a unit has padded a frame, it pads all (ISO 15765-4): a shorter one lost digits.
    pads: bool,
}

impl Assembler {
    /// Takes one frame's data bytes.
    pub(in crate::link) fn handle_frame(&mut self, unit: UnitId, bytes: &[u8]) -> Step {
        let Some(frame) = Frame::parse(bytes) else {
            self.partial.remove(&unit);
            return Step::Broken;
        };
        match frame {
            Frame::Single(data) => {
                self.partial.remove(&unit);
                let padded = bytes.len() > data.len().saturating_add(1);
                self.pads |= padded;
                if self.pads && bytes.len() != 8 {
                    return Step::Broken;
                }
                Step::Whole(Message { unit, payload: data.to_vec() })
            }
            // A first frame in the middle of a message starts a new one.
            Frame::First { length, data } => {
                let mut payload = Vec::with_capacity(length);
                payload.extend_from_slice(data);
                self.partial.insert(unit, Partial { length, next_index: 1, payload });
                Step::More
            }
            Frame::Consecutive { index, data } => self.handle_consecutive(unit, index, data),
            Frame::FlowControl => Step::More,
        }
    }

    fn handle_consecutive(&mut self, unit: UnitId, index: u8, data: &[u8]) -> Step {
        let Some(partial) = self.partial.get_mut(&unit) else {
            return Step::Broken;
        };
        let missing = partial.length.saturating_sub(partial.payload.len());
        let whole_frame = data.len() == 7;
        // Every frame but the last is full; the last is full, or cut at the message's end.
        let fits = whole_frame || (data.len() == missing && !self.pads);
        if index != partial.next_index || !fits {
            self.partial.remove(&unit);
            return Step::Broken;
        }
        partial.payload.extend_from_slice(data.get(..missing).unwrap_or(data));
        if partial.payload.len() < partial.length {
            partial.next_index = index.wrapping_add(1) & 0x0F;
            return Step::More;
        }
        self.pads |= whole_frame && missing < 7;
        match self.partial.remove(&unit) {
            Some(Partial { payload, .. }) => Step::Whole(Message { unit, payload }),
            None => Step::Broken,
        }
    }

    /// Ends an exchange: forgets unfinished messages and says whether there were any.
    pub(in crate::link) fn finish(&mut self) -> bool {
        let unfinished = !self.partial.is_empty();
        self.partial.clear();
        unfinished
    }
}

#[cfg(test)]
mod tests;
