//! What keeps a damaged request from becoming another one.
//!
//! In the dialect the digits of a request are its whole meaning: nothing checks them on the way to
//! the adapter. One byte lost or changed makes `0104` (read the load) a `04` (erase the codes),
//! `0902` an `0802` (drive a component), `22…` a `2E…` (write data), and a byte that turns into a
//! carriage return sends off what stands before it. No form of writing a request helps: the digit
//! that tells 03 from 04 has no second place in it. So where bytes are not checked by what carries
//! them, and wherever damage was ever seen, the echo stays on and a command is proofread: its text
//! goes off first, and the carriage return only after the adapter has repeated it letter for
//! letter. Else the line is dropped with [`Command::Nonsense`] and written anew.
//!
//! What a carriage return out of a changed byte sends off is the beginning of a permitted request,
//! thus the same service. What remains takes two damages that fit each other: a digit changed on
//! the way there and changed back on the way here, or a wrong line and then the first byte of
//! [`Command::Nonsense`] changed into a carriage return. On a line that was seen to damage bytes
//! the two digits of the service are therefore proofread before the others go off, so that a lost
//! digit leaves no whole service behind. With every hundredth byte lost and every hundredth
//! changed into any other, about one exchange in ten million then remains.
//!
//! `ATZ` and [`Command::Nonsense`] go off whole: whichever of their bytes is lost or changed, a
//! letter is left that is no digit, so that they never reach the car.
//!
//! The price is the way there and back once more for each command, twice on a line in doubt.

use std::time::Duration;

use super::super::LinkError;
use super::super::adapter::Found;
use super::super::adapter::command::{Command, Encoded};
use super::super::adapter::reply::{Line, Notice, Reply};
use super::super::connection::{Outcome, Patience, Proof, RawAnswer};
use super::super::scheduler::Target;
use super::{Link, drive};
use crate::units::Instant;

/// Attempts to get one command repeated without a fault.
const PROOFS: u32 = 12;

/// Attempts without a single letter repeated after which an adapter that never repeated any in time
/// counts as one that repeats nothing.
const UNREPEATED: u32 = 3;

/// Digits that say which service a request is for.
const SERVICE_DIGITS: usize = 2;

/// Attempts to have a line dropped.
const DROPS: u32 = 4;

impl Link {
    /// Has a command executed: whole, or after proofreading.
    pub(super) fn drive(
        &mut self,
        command: &Command<'_>,
        encoded: &Encoded,
        patience: Patience,
    ) -> Result<RawAnswer, LinkError> {
        let whole = !self.proofreads || matches!(command, Command::Reset | Command::Nonsense);
        let begun = self.now();
        let mut unrepeated = 0_u32;
        for _ in 0..PROOFS {
            if !whole && self.profile.capabilities.echo == Found::No && self.trust.damaged() > 0 {
                // It repeats nothing, and what is sent cannot be relied on.
                return Err(LinkError::Damaged);
            }
            let echo = !whole && self.profile.capabilities.echo != Found::No;
            let careful = self.trust.is_doubtful() && matches!(command, Command::Ask { .. });
            let head = if careful { SERVICE_DIGITS } else { 0 };
            let proof = echo.then(|| Proof { wait: self.echo_latency.echo_patience(), head });
            let encoded = encoded.clone();
            match drive(&mut self.connection, &mut self.transport, encoded, patience, proof)? {
                Outcome::Answered(answer) => {
                    if let Some(took) = answer.echo_took {
                        self.echo_latency.handle_exchange(took);
                    }
                    return Ok(answer);
                }
                Outcome::Silent { heard, waited } => {
                    self.unsettled = true;
                    // Where bytes are checked on the way, the rest may be held up.
                    if heard && self.proofreads {
                        self.trust.handle_damage();
                    }
                    (self.cut_off, self.late) = (heard && !self.proofreads, false);
                    return Err(silent(waited));
                }
                Outcome::Overflowed => {
                    self.unsettled = true;
                    return Err(LinkError::NotAnAdapter);
                }
                Outcome::Misheard { heard } => {
                    self.unsettled = true;
                    if heard {
                        self.trust.handle_damage();
                    }
                    if !self.drop_line()? {
                        return Err(self.silent_since(begun));
                    }
                    unrepeated = if heard { 0 } else { unrepeated.saturating_add(1) };
                    if unrepeated >= UNREPEATED && self.echo_latency.typical().is_none() {
                        // It repeats a line with its end, when there is nothing left to decide.
                        self.echoes_late = true;
                        self.profile.capabilities.echo = Found::No;
                    }
                }
            }
        }
        Err(self.silent_since(begun))
    }

    pub(super) fn silent_since(&self, begun: Instant) -> LinkError {
        silent(self.now().saturating_since(begun))
    }

    /// Makes the adapter drop the line that it holds. Its answer, "not understood", also proves
    /// that question and answer belong together again. Returns whether that came.
    pub(super) fn drop_line(&mut self) -> Result<bool, LinkError> {
        let encoded = Command::Nonsense.encode()?;
        // It costs the adapter no more than to repeat something.
        let wait = self.echo_latency.echo_patience();
        let patience = Patience { in_all: wait, after_a_byte: wait };
        for attempt in 0..DROPS {
            if attempt > 0 {
                self.drain()?;
            }
            let encoded = encoded.clone();
            match drive(&mut self.connection, &mut self.transport, encoded, patience, None)? {
                Outcome::Answered(answer) => {
                    let reply = Reply::parse(&answer.text, b"");
                    if reply.lines.last() == Some(&Line::Notice(Notice::Unknown))
                        && !answer.trailing
                    {
                        self.note_echo(answer.text.contains(&b'r'));
                        self.unsettled = false;
                        return Ok(true);
                    }
                }
                Outcome::Overflowed => return Err(LinkError::NotAnAdapter),
                Outcome::Silent { .. } | Outcome::Misheard { .. } => {}
            }
        }
        Ok(false)
    }

    fn note_echo(&mut self, repeated: bool) {
        let echo = &mut self.profile.capabilities.echo;
        *echo = match (repeated, *echo) {
            _ if self.echoes_late => Found::No,
            (true, _) => Found::Yes,
            (false, Found::Unknown) => Found::No,
            // An echo that stays away once was lost.
            (false, found) => found,
        };
    }

    /// What carries the bytes was said to check them, and yet they were damaged: from now on
    /// commands are proofread. A restart turns the echo on; to ask for it would take a command
    /// that a lost byte makes a request of.
    pub(super) fn begin_proofreading(&mut self) -> Result<(), LinkError> {
        self.proofreads = true;
        self.restart()?;
        self.addressed = Target::All;
        self.configure()?;
        if let Some(number) = self.profile.protocol_number {
            self.try_setting(&Command::Protocol(number))?;
        }
        Ok(())
    }
}

fn silent(waited: Duration) -> LinkError {
    LinkError::Silent { waited_ms: u64::try_from(waited.as_millis()).unwrap_or(u64::MAX) }
}
