use std::time::Duration;

use super::adapter::command::Encoded;
use super::adapter::prompt_reader::PromptReader;
use crate::units::Instant;

/// How long to wait for an adapter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Patience {
    /// From the sending to the prompt, if nothing comes.
    pub(super) in_all: Duration,
    /// From the latest byte to the prompt; lengthens the wait while bytes come.
    pub(super) after_a_byte: Duration,
}

/// What a connection has to tell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    /// The adapter answered and gave its prompt.
    Answered(RawAnswer),
    /// No prompt came in time.
    Silent {
        /// How long was waited.
        waited: Duration,
        /// Whether anything at all came.
        heard: bool,
    },
    /// More came than any answer holds.
    Overflowed,
}

/// An answer's text and the times around it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct RawAnswer {
    /// Text before the prompt.
    pub(super) text: Vec<u8>,
    /// When the command was handed to the transport.
    pub(super) sent: Instant,
    /// When the first byte came.
    pub(super) first_byte: Instant,
    /// When the prompt came.
    pub(super) prompt: Instant,
    /// Whether bytes came after the prompt, which nobody asked for.
    pub(super) trailing: bool,
}

/// One exchange after the other with an adapter, without input or output of its own: bytes and
/// times go in through `handle_*`, bytes to send, deadlines and outcomes come out through `poll_*`.
#[derive(Debug, Default)]
pub(super) struct Connection {
    reader: PromptReader,
    state: State,
    outgoing: Option<Encoded>,
    outcome: Option<Outcome>,
}

#[derive(Debug, Default)]
enum State {
    #[default]
    Idle,
    Waiting {
        sent: Instant,
        first_byte: Option<Instant>,
        deadline: Instant,
        after_a_byte: Duration,
    },
}

impl Connection {
    /// Starts an exchange. What an earlier one left behind is forgotten.
    pub(super) fn handle_command(&mut self, command: Encoded, patience: Patience, now: Instant) {
        self.reader.clear();
        self.outcome = None;
        self.outgoing = Some(command);
        self.state = State::Waiting {
            sent: now,
            first_byte: None,
            deadline: now + patience.in_all,
            after_a_byte: patience.after_a_byte,
        };
    }

    /// Takes bytes from the adapter. Bytes that nobody waits for are dropped.
    pub(super) fn handle_bytes(&mut self, bytes: &[u8], now: Instant) {
        let State::Waiting { sent, first_byte, deadline, after_a_byte } = &mut self.state else {
            return;
        };
        if bytes.is_empty() {
            return;
        }
        let first = *first_byte.get_or_insert(now);
        *deadline = (*deadline).max(now + *after_a_byte);
        let sent = *sent;
        if let Some((text, after)) = self.reader.handle_bytes(bytes) {
            let trailing = !after.is_empty();
            let answer = RawAnswer { text, sent, first_byte: first, prompt: now, trailing };
            self.end(Outcome::Answered(answer));
        } else if self.reader.overflowed() {
            self.end(Outcome::Overflowed);
        }
    }

    /// Takes the time.
    pub(super) fn handle_time(&mut self, now: Instant) {
        if let State::Waiting { sent, first_byte, deadline, .. } = &self.state
            && now >= *deadline
        {
            let waited = now.saturating_since(*sent);
            let heard = first_byte.is_some();
            self.end(Outcome::Silent { waited, heard });
        }
    }

    fn end(&mut self, outcome: Outcome) {
        self.state = State::Idle;
        self.outcome = Some(outcome);
    }

    /// What is to be sent now.
    pub(super) fn poll_transmit(&mut self) -> Option<Encoded> {
        self.outgoing.take()
    }

    /// Until when to wait for bytes.
    pub(super) fn poll_deadline(&self) -> Option<Instant> {
        match &self.state {
            State::Waiting { deadline, .. } => Some(*deadline),
            State::Idle => None,
        }
    }

    /// How the exchange ended, once it has.
    pub(super) fn poll_outcome(&mut self) -> Option<Outcome> {
        self.outcome.take()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::link::adapter::command::Command;

    const PATIENCE: Patience =
        Patience { in_all: Duration::from_secs(1), after_a_byte: Duration::from_millis(500) };

    fn started() -> Connection {
        let mut connection = Connection::default();
        connection.handle_command(Command::Identify.encode().unwrap(), PATIENCE, Instant::ZERO);
        assert_eq!(connection.poll_transmit().unwrap().bytes(), b"ATI\r");
        connection
    }

    #[test]
    fn an_answer_carries_the_times_around_it() {
        let mut connection = started();
        let at = Instant::from_seconds;
        connection.handle_bytes(b"NA", at(0.1));
        connection.handle_bytes(b"ME\r\r>", at(0.2));
        let expected = RawAnswer {
            text: b"NAME\r\r".to_vec(),
            sent: Instant::ZERO,
            first_byte: at(0.1),
            prompt: at(0.2),
            trailing: false,
        };
        assert_eq!(connection.poll_outcome(), Some(Outcome::Answered(expected)));
        assert_eq!(connection.poll_deadline(), None);
    }

    #[test]
    fn bytes_lengthen_the_wait_and_silence_ends_it() {
        let mut connection = started();
        connection.handle_bytes(b"SEARCHING...", Instant::from_seconds(0.9));
        connection.handle_time(Instant::from_seconds(1.2));
        assert_eq!(connection.poll_outcome(), None);
        connection.handle_time(Instant::from_seconds(1.4));
        let waited = Duration::from_millis(1400);
        assert_eq!(connection.poll_outcome(), Some(Outcome::Silent { waited, heard: true }));
    }

    #[test]
    fn late_bytes_of_an_earlier_exchange_are_dropped() {
        let mut connection = started();
        connection.handle_time(Instant::from_seconds(1.0));
        assert!(matches!(connection.poll_outcome(), Some(Outcome::Silent { heard: false, .. })));
        connection.handle_bytes(b"NAME\r\r>", Instant::from_seconds(1.1));
        assert_eq!(connection.poll_outcome(), None);
    }
}
