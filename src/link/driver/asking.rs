use std::time::Duration;

use super::super::adapter::command::Command;
use super::super::adapter::{Found, Protocol};
use super::super::connection::{Patience, RawAnswer};
use super::super::interpretation::{Sorted, failure_of, hear, sort};
use super::super::isotp::assembler::Message;
use super::super::scheduler::{CountMeans, Request, Target};
use super::super::{Answer, LinkError, UnitId};
use super::Link;
use crate::units::Instant;

/// Attempts at a request that only reads.
const ATTEMPTS: u32 = 5;

/// Attempts while the line is doubtful and two equal answers are needed.
const DOUBTFUL_ATTEMPTS: u32 = 30;

/// ISO 15765-4: after "response pending" a unit may take up to five seconds.
const PENDING_LIMIT: Duration = Duration::from_secs(5);

/// Between attempts while a unit is busy.
const PENDING_PAUSE: Duration = Duration::from_millis(200);

/// One exchange with the car, understood.
pub(super) struct Asked {
    pub(super) sorted: Sorted,
    pub(super) raw: RawAnswer,
    /// Whether the adapter said or showed something before the first data.
    late_start: bool,
}

impl Asked {
    /// Positive answers with the middle and half the length of the time in which their unit must
    /// have composed them: between the request's sending and the arrival of the first byte; the
    /// prompt's arrival where other text came first, or for the units after the first.
    pub(super) fn timed(self) -> Vec<(Message, Instant, Duration)> {
        let (sent, first, prompt) = (self.raw.sent, self.raw.first_byte, self.raw.prompt);
        let late_start = self.late_start;
        let timed = self.sorted.positive.into_iter().enumerate().map(|(place, message)| {
            let end = if place == 0 && !late_start { first } else { prompt };
            let half = Duration::from_secs_f64(end.saturating_since(sent).as_secs_f64() / 2.0);
            (message, sent + half, half)
        });
        timed.collect()
    }
}

impl Link {
    /// Asks the car. Returns the positive answers of the units asked, in the order of arrival;
    /// never an empty list.
    ///
    /// A request that only reads is repeated when bytes are lost or a unit asks for time; one that
    /// changes something is sent once.
    ///
    /// # Errors
    /// [`LinkError::NoData`] if no unit answers, [`LinkError::Refused`] if units only refuse,
    /// [`LinkError::NotAllowed`], [`LinkError::ConsentNeeded`] or [`LinkError::ConsentSpent`] if
    /// the request may not leave, and whatever went wrong on the way.
    pub fn request(&mut self, request: &Request) -> Result<Vec<Answer>, LinkError> {
        if !request.only_reads() {
            self.settle()?;
            self.address(request.target())?;
            let asked = self.ask(request, None, self.request_patience());
            // An adapter repeats its latest command at a carriage return that comes alone, as a
            // changed byte may: the next exchange starts with a harmless command.
            self.unsettled |= self.proofreads;
            return finish(request, asked?).map(answers);
        }
        let give_up = self.now() + PENDING_LIMIT;
        let mut last = LinkError::Damaged;
        let mut earlier: Option<Result<Content, LinkError>> = None;
        let mut attempts = 0_u32;
        loop {
            attempts = attempts.saturating_add(1);
            let limit = if self.trust.is_doubtful() { DOUBTFUL_ATTEMPTS } else { ATTEMPTS };
            if attempts > limit {
                return Err(last);
            }
            let result = self.attempt(request);
            match &result {
                Err(LinkError::StillPending { .. }) if self.now() < give_up => {
                    // Waiting for a busy unit is no failed attempt.
                    attempts = attempts.saturating_sub(1);
                    self.idle_until(self.now() + PENDING_PAUSE)?;
                    continue;
                }
                Err(error) if worth_repeating(error) => {
                    last = error.clone();
                    continue;
                }
                _ => {}
            }
            if !self.trust.is_doubtful() {
                return result.map(answers);
            }
            let content = result.as_ref().map(|timed| content(timed)).map_err(Clone::clone);
            if earlier.as_ref() == Some(&content) {
                return result.map(answers);
            }
            earlier = Some(content);
            last = LinkError::Damaged;
        }
    }

    fn attempt(
        &mut self,
        request: &Request,
    ) -> Result<Vec<(Message, Instant, Duration)>, LinkError> {
        self.settle()?;
        self.address(request.target())?;
        let asked = self.ask(request, None, self.request_patience())?;
        let timed = finish(request, asked)?;
        self.trust.handle_clean_exchange();
        Ok(timed)
    }

    /// How long to wait for the car's answer.
    pub(super) fn request_patience(&self) -> Patience {
        let wait = self.latency.patience(self.trust.is_doubtful());
        Patience { in_all: wait, after_a_byte: wait }
    }

    /// One exchange with the car. Any damage makes it fail.
    pub(super) fn ask(
        &mut self,
        request: &Request,
        answers: Option<u8>,
        patience: Patience,
    ) -> Result<Asked, LinkError> {
        let (reply, raw) = self.exchange(&Command::Ask { request, answers }, patience)?;
        let heard = hear(&reply, self.framing(), &mut self.assembler);
        let late_start = reply.echoed || reply.lines.len() != heard.lines;
        if heard.lines == 0 {
            let failure = failure_of(&reply);
            if failure == LinkError::Damaged {
                self.trust.handle_damage();
            }
            if matches!(failure, LinkError::Stopped | LinkError::UnknownCommand) {
                self.unsettled = true;
            }
            return Err(failure);
        }
        let mut sorted = sort(request, heard.messages);
        if heard.damaged || sorted.strange || raw.trailing {
            self.trust.handle_damage();
            return Err(LinkError::Damaged);
        }
        if heard.incomplete {
            // An adapter that counts lines may have stopped inside an answer.
            if answers.is_none() || self.count_means != CountMeans::Unknown {
                self.trust.handle_damage();
            }
            return Err(LinkError::Incomplete);
        }
        // Data and then a failure: what came may not be all.
        if let Some(failure) = reply.failure() {
            return Err(failure.into());
        }
        if let Target::Unit(unit) = request.target()
            && self.headers
        {
            sorted.positive.retain(|message| message.unit == unit);
            sorted.refused.retain(|(it, _)| *it == unit);
            sorted.pending.retain(|it| *it == unit);
        }
        Ok(Asked { sorted, raw, late_start })
    }

    /// Makes the adapter talk to one unit, or to all. Where it cannot, or the bus has no such
    /// addresses, all are asked and the others' answers left out.
    pub(super) fn address(&mut self, target: Target) -> Result<(), LinkError> {
        let known = self.profile.capabilities.addressing;
        if target == self.addressed || known == Found::No {
            return Ok(());
        }
        let Some((header, receive)) = self.addresses(target) else {
            return Ok(());
        };
        let mut found = self.try_setting(&header)?;
        if found == Found::Yes {
            found = self.try_setting(&receive)?;
        }
        if found == Found::Yes {
            self.addressed = target;
        } else {
            // Half a setting would hide answers: back to all, as far as the adapter can.
            if let Some((header, receive)) = self.addresses(Target::All) {
                self.try_setting(&header)?;
                self.try_setting(&receive)?;
            }
            self.addressed = Target::All;
        }
        self.profile.capabilities.addressing = found;
        Ok(())
    }

    /// ISO 15765-4: 7E0 to 7E7 reach the units that answer with 7E8 to 7EF, 7DF all; 18DAxxF1
    /// reaches who answers with 18DAF1xx, 18DB33F1 all.
    fn addresses(&self, target: Target) -> Option<(Command<'static>, Command<'static>)> {
        let protocol = self.profile.protocol?;
        match (protocol, target) {
            (Protocol::Can11, Target::All) => {
                Some((Command::Header { id: 0x7DF, digits: 3 }, Command::ReceiveAll))
            }
            (Protocol::Can29, Target::All) => {
                Some((Command::Header { id: 0xDB_33F1, digits: 6 }, Command::ReceiveAll))
            }
            (Protocol::Can11, Target::Unit(UnitId(id @ 0x7E8..=0x7EF))) => Some((
                Command::Header { id: id.saturating_sub(8), digits: 3 },
                Command::ReceiveOnly { id, digits: 3 },
            )),
            (Protocol::Can29, Target::Unit(UnitId(id @ 0x18DA_F100..=0x18DA_F1FF))) => Some((
                Command::Header { id: 0xDA_00F1 | (id & 0xFF) << 8, digits: 6 },
                Command::ReceiveOnly { id, digits: 8 },
            )),
            _ => None,
        }
    }
}

/// Turns the sorted answers into the result: positive ones, or why there are none.
fn finish(request: &Request, asked: Asked) -> Result<Vec<(Message, Instant, Duration)>, LinkError> {
    let service = request.service();
    if let Some(unit) = asked.sorted.pending.first() {
        return Err(LinkError::StillPending { unit: *unit, service });
    }
    if asked.sorted.positive.is_empty() {
        return Err(match asked.sorted.refused.first() {
            Some((unit, reason)) => LinkError::Refused { unit: *unit, service, reason: *reason },
            None => LinkError::NoData,
        });
    }
    Ok(asked.timed())
}

fn answers(timed: Vec<(Message, Instant, Duration)>) -> Vec<Answer> {
    let answer = |(message, at, uncertainty): (Message, Instant, Duration)| Answer {
        unit: message.unit,
        payload: message.payload,
        at,
        uncertainty,
    };
    timed.into_iter().map(answer).collect()
}

/// What units said, without the times.
type Content = Vec<(UnitId, Vec<u8>)>;

fn content(timed: &[(Message, Instant, Duration)]) -> Content {
    timed.iter().map(|(message, ..)| (message.unit, message.payload.clone())).collect()
}

/// Failures that asking again may mend.
fn worth_repeating(error: &LinkError) -> bool {
    matches!(
        error,
        LinkError::Silent { .. }
            | LinkError::Damaged
            | LinkError::Incomplete
            | LinkError::Stopped
            | LinkError::EmptyAnswer
            | LinkError::BufferFull
            | LinkError::UnknownCommand
            | LinkError::Bus(_)
    )
}
