use std::time::Duration;

use super::super::scheduler::{Batch, CountMeans, MOST_TOGETHER, Reading, Rotation};
use super::super::{Found, LinkError};
use super::Link;

/// Exchanges in a row that may fail before the adapter is set up again.
pub(super) const PATIENT_TROUBLES: u32 = 10;

/// Failures in a row on a doubtful line after which each exchange asks for one thing only.
pub(super) const SHORT_EXCHANGES: u32 = 3;

/// Longest wait inside one call, so that the caller can see to other things.
const LONGEST_WAIT: Duration = Duration::from_millis(100);

impl Link {
    /// Makes the rotation's next exchange and returns its readings. The list is empty when nothing
    /// was due for a tenth of a second, when the car left the request unanswered, or when the
    /// answer was damaged and will be asked for again.
    ///
    /// # Errors
    /// [`LinkError::Lost`] and [`LinkError::Silent`] when the link needs [`Link::reconnect`];
    /// [`LinkError::NoData`] while the car answers nothing of the rotation (ignition off); what
    /// the adapter says about the bus.
    pub fn poll(&mut self, rotation: &mut Rotation) -> Result<Vec<Reading>, LinkError> {
        let now = self.now();
        let Some(batch) = rotation.next_batch(now, self.most_together()) else {
            let longest = now + LONGEST_WAIT;
            let due = rotation.next_due().map_or(longest, |due| due.min(longest));
            if self.idle_until(due)? {
                self.unsettled = true;
            }
            return Ok(Vec::new());
        };
        if self.troubles >= PATIENT_TROUBLES {
            self.set_up_again()?;
        }
        let result = self.poll_batch(rotation, &batch);
        if result.is_ok() {
            self.troubles = 0;
        }
        self.silent = matches!(result, Err(LinkError::Silent { .. }));
        let now = self.now();
        match result {
            Err(LinkError::NoData | LinkError::Refused { .. }) if !self.trust.is_doubtful() => {
                self.troubles = 0;
                rotation.handle_refusal(&batch, now);
                if rotation.is_unanswered() { Err(LinkError::NoData) } else { Ok(Vec::new()) }
            }
            Err(
                LinkError::NoData
                | LinkError::Refused { .. }
                | LinkError::Silent { .. }
                | LinkError::Damaged
                | LinkError::Incomplete
                | LinkError::Stopped
                | LinkError::EmptyAnswer
                | LinkError::UnknownCommand
                | LinkError::StillPending { .. },
            ) => {
                self.troubles = self.troubles.saturating_add(1);
                rotation.handle_damage();
                Ok(Vec::new())
            }
            Err(LinkError::BufferFull | LinkError::Bus(_)) if self.troubles < PATIENT_TROUBLES => {
                self.troubles = self.troubles.saturating_add(1);
                rotation.handle_refusal(&batch, now);
                Ok(Vec::new())
            }
            other => other,
        }
    }

    /// How many parameters may share a request: one on older buses, fewer with every failure on a
    /// doubtful line, because short exchanges are more likely to get through.
    fn most_together(&self) -> usize {
        match self.profile.protocol {
            Some(protocol) if !protocol.is_can() => 1,
            _ if self.trust.is_doubtful() => MOST_TOGETHER >> self.troubles.min(SHORT_EXCHANGES),
            _ => MOST_TOGETHER,
        }
    }

    fn poll_batch(
        &mut self,
        rotation: &mut Rotation,
        batch: &Batch,
    ) -> Result<Vec<Reading>, LinkError> {
        self.settle()?;
        self.address(batch.target)?;
        let request = rotation.request(batch);
        let expected = rotation.expected(batch, self.count_means);
        let asked = match self.ask(&request, expected, self.request_patience()) {
            Ok(asked) => asked,
            Err(error) => {
                self.learn_count(&error, expected);
                return Err(error);
            }
        };
        if let (Some(unit), true) = (asked.sorted.pending.first(), asked.sorted.positive.is_empty())
        {
            return Err(LinkError::StillPending { unit: *unit, service: request.service() });
        }
        if let (Some((unit, reason)), true) =
            (asked.sorted.refused.first(), asked.sorted.positive.is_empty())
        {
            let (unit, reason) = (*unit, *reason);
            return Err(LinkError::Refused { unit, service: request.service(), reason });
        }
        if expected.is_some() {
            self.profile.capabilities.answer_count = Found::Yes;
            let long = asked.sorted.positive.iter().any(|message| message.payload.len() > 7);
            if long && self.count_means == CountMeans::Unknown {
                self.count_means = CountMeans::Messages;
            }
        }
        let now = self.now();
        let doubtful = self.trust.is_doubtful();
        let (readings, unreadable) = rotation.handle_answers(batch, &asked.timed(), doubtful, now);
        if unreadable {
            self.trust.handle_damage();
            return Err(LinkError::Damaged);
        }
        self.trust.handle_clean_exchange();
        Ok(readings)
    }

    /// An adapter that counts lines stops inside a long answer; one that does not know the digit
    /// takes the request for half a byte too long.
    fn learn_count(&mut self, error: &LinkError, expected: Option<u8>) {
        let proven = self.profile.capabilities.answer_count == Found::Yes;
        match (error, self.count_means) {
            _ if expected.is_none() => {}
            (LinkError::Incomplete, CountMeans::Unknown) => self.count_means = CountMeans::Lines,
            (LinkError::UnknownCommand, _) if !proven => {
                self.count_means = CountMeans::Nothing;
                self.profile.capabilities.answer_count = Found::No;
            }
            _ => {}
        }
    }
}
