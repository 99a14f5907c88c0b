//! The one place of this layer that drives a transport: it hands bytes and times to the connection
//! and waits in the transport's `read`.

use std::time::Duration;

use super::adapter::command::{Command, Encoded};
use super::adapter::reply::{Notice, Reply};
use super::adapter::{Capabilities, Protocol};
use super::connection::{Connection, Outcome, Patience, Proof, RawAnswer};
use super::interpretation::Framing;
use super::isotp::assembler::Assembler;
use super::scheduler::latency::Latency;
use super::scheduler::{CountMeans, Target};
use super::transport::Transcribing;
use super::trust::Trust;
use super::{LinkError, Transcript, Transport};
use crate::units::Instant;

mod asking;
mod polling;
mod proofreading;
mod setting_up;

/// What was found out about the adapter.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct AdapterProfile {
    /// What it says when asked who it is.
    pub identity: Option<String>,
    /// Supply voltage at the diagnostic connector in volts, measured while setting up.
    pub supply_volts: Option<f64>,
    /// The protocol in use.
    pub protocol: Option<Protocol>,
    /// The dialect's number of that protocol, if the adapter says it.
    pub protocol_number: Option<u8>,
    /// What it was found to be able to do.
    pub capabilities: Capabilities,
}

/// A link to a car through an adapter.
pub struct Link {
    transport: Transcribing<Box<dyn Transport>>,
    connection: Connection,
    assembler: Assembler,
    profile: AdapterProfile,
    headers: bool,
    latency: Latency,
    trust: Trust,
    addressed: Target,
    count_means: CountMeans,
    /// Exchanges in a row that failed on the way.
    troubles: u32,
    /// Whether the last exchange of the rotation went without any answer.
    silent: bool,
    /// Whether late bytes of an earlier exchange may still be under way.
    unsettled: bool,
    /// Whether an answer stopped before its prompt, and whether anything came of it later.
    cut_off: bool,
    late: bool,
    /// Whether the adapter repeated a command, as it does after a restart.
    restarted: bool,
    /// Whether commands are executed only after the adapter has repeated them.
    proofreads: bool,
    /// Whether the adapter repeats a command only once it has been sent off.
    echoes_late: bool,
    /// How long the adapter takes to repeat a command.
    echo_latency: Latency,
    /// Whether the adapter was told to repeat nothing, and has not restarted since.
    quiet: bool,
    inbox: Vec<u8>,
}

/// Quiet that tells that nothing more is under way.
const QUIET: Duration = Duration::from_millis(60);

/// Answers to earlier exchanges that may come before the one that is waited for.
const LATE_ANSWERS: usize = 4;

/// Longest time to listen for quiet.
const LONGEST_DRAIN: Duration = Duration::from_millis(600);

impl Link {
    /// The time on the transport's clock.
    pub fn now(&self) -> Instant {
        self.transport.now()
    }

    /// What was found out about the adapter.
    pub fn profile(&self) -> &AdapterProfile {
        &self.profile
    }

    /// Typical duration of an exchange, once some have been made.
    pub fn latency(&self) -> Option<Duration> {
        self.latency.typical()
    }

    /// Everything that went over this link.
    pub fn transcript(&self) -> &Transcript {
        self.transport.transcript()
    }

    /// Whether bytes were seen damaged lately, so that values pass only when received twice.
    pub fn is_doubtful(&self) -> bool {
        self.trust.is_doubtful()
    }

    /// Whether nothing came back from the last exchange of a rotation: neither the car nor the
    /// adapter answered.
    pub fn is_silent(&self) -> bool {
        self.silent
    }

    fn framing(&self) -> Framing {
        let protocol = self.profile.protocol.unwrap_or(Protocol::Can11);
        Framing { protocol, headers: self.headers }
    }

    /// Sends one command and reads up to the prompt.
    fn exchange(
        &mut self,
        command: &Command<'_>,
        patience: Patience,
    ) -> Result<(Reply, RawAnswer), LinkError> {
        let encoded = command.encode()?;
        let answer = self.drive(command, &encoded, patience)?;
        if answer.trailing {
            // Bytes that nobody asked for: an answer of an earlier exchange came late.
            self.trust.handle_damage();
            self.unsettled = true;
        }
        self.latency.handle_exchange(answer.prompt.saturating_since(answer.sent));
        let reply = Reply::parse(&answer.text, encoded.echo());
        if reply.echoed {
            (self.quiet, self.restarted) = (false, true);
        }
        Ok((reply, answer))
    }

    /// Drops what arrives until `deadline`. Returns whether anything did.
    fn idle_until(&mut self, deadline: Instant) -> Result<bool, LinkError> {
        let mut heard = false;
        while self.transport.now() < deadline {
            self.inbox.clear();
            heard |= self.transport.read(&mut self.inbox, deadline)? > 0;
        }
        Ok(heard)
    }

    /// After a failed exchange: listens until the line is quiet, then proves with a harmless
    /// command that question and answer belong together again.
    fn settle(&mut self) -> Result<(), LinkError> {
        if self.trust.is_doubtful() && !self.proofreads {
            self.begin_proofreading()?;
        }
        if !self.unsettled {
            return Ok(());
        }
        let begun = self.now();
        for round in 0..3 {
            self.late |= self.drain()?;
            let proven =
                if self.proofreads { self.drop_line()? } else { self.answers_harmless(round)? };
            if proven {
                // An answer that stopped and never went on was not held up: bytes of it are gone.
                if std::mem::take(&mut self.cut_off) && !self.late {
                    self.trust.handle_damage();
                }
                self.late = false;
                self.unsettled = false;
                return Ok(());
            }
        }
        Err(self.silent_since(begun))
    }

    /// Whether a harmless command is answered. Answers held up on the way, whose exchange was
    /// given up, may come before its own: what comes is heard out, and nothing is sent meanwhile.
    fn answers_harmless(&mut self, earlier: usize) -> Result<bool, LinkError> {
        let command = if self.quiet { Command::LineFeeds(false) } else { Command::EchoOff };
        let (encoded, patience) = (command.encode()?, self.command_patience());
        let mut unsent = Some(encoded.clone());
        for _ in 0..LATE_ANSWERS {
            let (connection, transport) = (&mut self.connection, &mut self.transport);
            let outcome = match unsent.take() {
                Some(encoded) => drive(connection, transport, encoded, patience, None)?,
                None => listen(connection, transport, patience)?,
            };
            let answer = match outcome {
                Outcome::Answered(answer) => answer,
                Outcome::Overflowed => return Err(LinkError::NotAnAdapter),
                Outcome::Silent { .. } | Outcome::Misheard { .. } => return Ok(false),
            };
            let reply = Reply::parse(&answer.text, encoded.echo());
            if reply.echoed {
                (self.quiet, self.restarted) = (false, true);
            }
            let taken = reply.says(Notice::Ok);
            // An adapter may lack this one; that it says so proves as much.
            if !answer.trailing && (taken || self.quiet && reply.says(Notice::Unknown)) {
                self.quiet |= taken && matches!(command, Command::EchoOff);
                // The answers to those that were sent before may still be under way.
                for _ in 0..earlier {
                    listen(&mut self.connection, &mut self.transport, patience)?;
                }
                return Ok(true);
            }
            self.late = true;
        }
        Ok(false)
    }

    /// Drops what is under way. Returns whether anything came.
    fn drain(&mut self) -> Result<bool, LinkError> {
        let give_up = self.transport.now() + LONGEST_DRAIN;
        let mut heard = false;
        loop {
            let quiet = self.transport.now() + QUIET;
            let more = self.idle_until(quiet.min(give_up))?;
            heard |= more;
            if !more || self.transport.now() >= give_up {
                return Ok(heard);
            }
        }
    }
}

/// Waits for an answer without asking for one.
fn listen(
    connection: &mut Connection,
    transport: &mut dyn Transport,
    patience: Patience,
) -> Result<Outcome, LinkError> {
    connection.handle_listening(patience, transport.now());
    finish(connection, transport)
}

/// Makes one exchange: hands the connection what the transport brings, and the transport what the
/// connection wants sent, until the connection says how it ended.
fn drive(
    connection: &mut Connection,
    transport: &mut dyn Transport,
    encoded: Encoded,
    patience: Patience,
    proof: Option<Proof>,
) -> Result<Outcome, LinkError> {
    connection.handle_command(encoded, patience, proof, transport.now());
    finish(connection, transport)
}

fn finish(
    connection: &mut Connection,
    transport: &mut dyn Transport,
) -> Result<Outcome, LinkError> {
    let mut arrived = Vec::new();
    loop {
        if let Some(bytes) = connection.poll_transmit() {
            transport.write(bytes)?;
        }
        if let Some(outcome) = connection.poll_outcome() {
            return Ok(outcome);
        }
        // A connection that waits has a deadline; without one there is nothing to wait for.
        let deadline = connection.poll_deadline().unwrap_or_else(|| transport.now());
        arrived.clear();
        let count = transport.read(&mut arrived, deadline)?;
        let now = transport.now();
        connection.handle_bytes(&arrived, now);
        if count == 0 {
            connection.handle_time(now);
        }
    }
}

#[cfg(test)]
mod tests;
