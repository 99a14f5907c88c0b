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
    /// Whether late bytes of an earlier exchange may still be under way.
    unsettled: bool,
    /// Whether the adapter repeated a command, as it does after a restart.
    restarted: bool,
    /// Whether commands are executed only after the adapter has repeated them.
    proofreads: bool,
    /// How long the adapter takes to repeat a command.
    echo_latency: Latency,
    /// Whether the adapter was told to repeat nothing, and has not restarted since.
    quiet: bool,
    inbox: Vec<u8>,
}

/// Quiet that tells that nothing more is under way.
const QUIET: Duration = Duration::from_millis(60);

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
        for _ in 0..3 {
            self.drain()?;
            let proven = if self.proofreads {
                self.drop_line()?
            } else {
                let command = if self.quiet { Command::LineFeeds(false) } else { Command::EchoOff };
                match self.exchange(&command, self.command_patience()) {
                    Ok((reply, _)) if reply.says(Notice::Ok) => {
                        self.quiet |= matches!(command, Command::EchoOff);
                        true
                    }
                    // An adapter may lack this one; that it says so proves as much.
                    Ok((reply, _)) => self.quiet && reply.says(Notice::Unknown),
                    Err(LinkError::Silent { .. }) => false,
                    Err(error) => return Err(error),
                }
            };
            if proven {
                self.unsettled = false;
                return Ok(());
            }
        }
        Err(self.silent_since(begun))
    }

    fn drain(&mut self) -> Result<(), LinkError> {
        let give_up = self.transport.now() + LONGEST_DRAIN;
        loop {
            let quiet = self.transport.now() + QUIET;
            if !self.idle_until(quiet.min(give_up))? || self.transport.now() >= give_up {
                return Ok(());
            }
        }
    }
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
