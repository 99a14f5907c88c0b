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
    /// What the adapter repeated is not what was sent. Nothing was executed, and the adapter holds
    /// a line that nobody meant.
    Misheard {
        /// Whether it repeated anything at all.
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
    /// When the end of the command was handed to the transport: nothing was executed before.
    pub(super) sent: Instant,
    /// When the first byte came that is more than the end of a line.
    pub(super) first_byte: Instant,
    /// When the prompt came.
    pub(super) prompt: Instant,
    /// Whether bytes came after the prompt, which nobody asked for.
    pub(super) trailing: bool,
    /// From the sending to the last repeated byte, where the command was proofread.
    pub(super) echo_took: Option<Duration>,
}

/// One exchange after the other with an adapter, without input or output of its own: bytes and
/// times go in through `handle_*`, bytes to send, deadlines and outcomes come out through `poll_*`.
///
/// A command goes off whole, or is proofread: its text goes off without the carriage return, the
/// adapter repeats what it received, and only when that is letter for letter what was sent, the
/// carriage return follows and makes the adapter execute it.
#[derive(Debug, Default)]
pub(super) struct Connection {
    reader: PromptReader,
    state: State,
    command: Option<Encoded>,
    outgoing: Option<Part>,
    outcome: Option<Outcome>,
}

/// How a command is proofread.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Proof {
    /// How long the adapter may take to repeat what it has received.
    pub(super) wait: Duration,
    /// Bytes that are proofread before the others go off; zero for all at once.
    pub(super) head: usize,
}

/// What of the command is to be sent: its text from one place up to another, or all.
#[derive(Clone, Copy, Debug)]
enum Part {
    Whole,
    Text(usize, usize),
    End,
}

#[derive(Debug, Default)]
enum State {
    #[default]
    Idle,
    Proofreading {
        sent: Instant,
        /// Bytes that came back as they were sent.
        repeated: usize,
        /// Bytes that went off.
        until: usize,
        deadline: Instant,
        wait: Duration,
        patience: Patience,
    },
    Waiting {
        sent: Instant,
        heard: bool,
        first_byte: Option<Instant>,
        deadline: Instant,
        after_a_byte: Duration,
        echo_took: Option<Duration>,
    },
}

impl Connection {
    /// Starts an exchange. What an earlier one left behind is forgotten.
    pub(super) fn handle_command(
        &mut self,
        command: Encoded,
        patience: Patience,
        proof: Option<Proof>,
        now: Instant,
    ) {
        self.reader.clear();
        self.outcome = None;
        let length = command.echo().len();
        self.command = Some(command);
        if let Some(Proof { wait, head }) = proof {
            let until = if head == 0 { length } else { head.min(length) };
            self.outgoing = Some(Part::Text(0, until));
            let deadline = now + wait;
            let (sent, repeated) = (now, 0);
            self.state = State::Proofreading { sent, repeated, until, deadline, wait, patience };
        } else {
            self.outgoing = Some(Part::Whole);
            self.start_waiting(patience, now, None);
        }
    }

    /// Waits for an answer to what was sent before. What came of it so far is forgotten.
    pub(super) fn handle_listening(&mut self, patience: Patience, now: Instant) {
        self.reader.clear();
        (self.command, self.outgoing, self.outcome) = (None, None, None);
        self.start_waiting(patience, now, None);
    }

    fn start_waiting(&mut self, patience: Patience, now: Instant, echo_took: Option<Duration>) {
        self.state = State::Waiting {
            sent: now,
            heard: false,
            first_byte: None,
            deadline: now + patience.in_all,
            after_a_byte: patience.after_a_byte,
            echo_took,
        };
    }

    /// Takes bytes from the adapter. Bytes that nobody waits for are dropped.
    pub(super) fn handle_bytes(&mut self, bytes: &[u8], now: Instant) {
        if bytes.is_empty() {
            return;
        }
        match self.state {
            State::Idle => {}
            State::Proofreading { .. } => self.handle_echo(bytes, now),
            State::Waiting { .. } => self.handle_answer(bytes, now),
        }
    }

    fn handle_echo(&mut self, bytes: &[u8], now: Instant) {
        let (
            State::Proofreading { sent, repeated, until, deadline, wait, patience },
            Some(command),
        ) = (&mut self.state, &self.command)
        else {
            return;
        };
        let text = command.echo();
        let due = text.get(*repeated..*until).unwrap_or_default();
        // Adapters may send NUL bytes that mean nothing (common practice, no source).
        let mut came = bytes.iter().filter(|byte| **byte != 0);
        let alike = due.iter().zip(&mut came).take_while(|(due, came)| due == came).count();
        let counted = bytes.iter().filter(|byte| **byte != 0).count();
        *repeated = repeated.saturating_add(alike);
        *deadline = (*deadline).max(now + *wait);
        if alike < counted {
            self.end(Outcome::Misheard { heard: true });
        } else if *repeated < *until {
            // More is under way.
        } else if *until < text.len() {
            self.outgoing = Some(Part::Text(*until, text.len()));
            (*sent, *until) = (now, text.len());
        } else {
            let (patience, took) = (*patience, now.saturating_since(*sent));
            self.outgoing = Some(Part::End);
            self.start_waiting(patience, now, Some(took));
        }
    }

    fn handle_answer(&mut self, bytes: &[u8], now: Instant) {
        let State::Waiting { sent, heard, first_byte, deadline, after_a_byte, echo_took } =
            &mut self.state
        else {
            return;
        };
        *heard = true;
        // The end of a line may be the repeated carriage return, which says nothing of the answer.
        if bytes.iter().any(|byte| !matches!(byte, 0 | b'\r' | b'\n' | b' ')) {
            first_byte.get_or_insert(now);
        }
        let first = first_byte.unwrap_or(now);
        *deadline = (*deadline).max(now + *after_a_byte);
        let (sent, echo_took) = (*sent, *echo_took);
        if let Some((text, after)) = self.reader.handle_bytes(bytes) {
            let trailing = !after.is_empty();
            let answer =
                RawAnswer { text, sent, first_byte: first, prompt: now, trailing, echo_took };
            self.end(Outcome::Answered(answer));
        } else if self.reader.overflowed() {
            self.end(Outcome::Overflowed);
        }
    }

    /// Takes the time.
    pub(super) fn handle_time(&mut self, now: Instant) {
        match self.state {
            State::Proofreading { repeated, deadline, .. } if now >= deadline => {
                self.end(Outcome::Misheard { heard: repeated > 0 });
            }
            State::Waiting { sent, heard, deadline, .. } if now >= deadline => {
                self.end(Outcome::Silent { waited: now.saturating_since(sent), heard });
            }
            _ => {}
        }
    }

    fn end(&mut self, outcome: Outcome) {
        self.state = State::Idle;
        self.outcome = Some(outcome);
    }

    /// What is to be sent now.
    pub(super) fn poll_transmit(&mut self) -> Option<&[u8]> {
        let part = self.outgoing.take()?;
        let command = self.command.as_ref()?;
        Some(match part {
            Part::Whole => command.bytes(),
            Part::Text(from, until) => command.echo().get(from..until)?,
            Part::End => command.end(),
        })
    }

    /// Until when to wait for bytes.
    pub(super) fn poll_deadline(&self) -> Option<Instant> {
        match self.state {
            State::Proofreading { deadline, .. } | State::Waiting { deadline, .. } => {
                Some(deadline)
            }
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
        connection.handle_command(
            Command::Identify.encode().unwrap(),
            PATIENCE,
            None,
            Instant::ZERO,
        );
        assert_eq!(connection.poll_transmit(), Some(&b"ATI\r"[..]));
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
            echo_took: None,
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

    fn proofread() -> Connection {
        let mut connection = Connection::default();
        let proof = Proof { wait: Duration::from_millis(300), head: 0 };
        let encoded = Command::Identify.encode().unwrap();
        connection.handle_command(encoded, PATIENCE, Some(proof), Instant::ZERO);
        assert_eq!(connection.poll_transmit(), Some(&b"ATI"[..]));
        connection
    }

    #[test]
    fn the_carriage_return_follows_the_right_echo_only() {
        let mut connection = proofread();
        let at = Instant::from_seconds;
        connection.handle_bytes(b"A\0T", at(0.1));
        assert_eq!(connection.poll_transmit(), None);
        connection.handle_bytes(b"I", at(0.2));
        assert_eq!(connection.poll_transmit(), Some(&b"\r"[..]));
        connection.handle_bytes(b"\r", at(0.25));
        connection.handle_bytes(b"NAME\r\r>", at(0.3));
        let expected = RawAnswer {
            text: b"\rNAME\r\r".to_vec(),
            sent: at(0.2),
            first_byte: at(0.3),
            prompt: at(0.3),
            trailing: false,
            echo_took: Some(Duration::from_millis(200)),
        };
        assert_eq!(connection.poll_outcome(), Some(Outcome::Answered(expected)));

        for wrong in ["AI", "ATJ", "ATI\r", "ATIX", ">", "OK\r\r>"] {
            let mut connection = proofread();
            connection.handle_bytes(wrong.as_bytes(), at(0.1));
            assert_eq!(connection.poll_transmit(), None, "{wrong:?}");
            let misheard = Some(Outcome::Misheard { heard: true });
            assert_eq!(connection.poll_outcome(), misheard, "{wrong:?}");
        }
    }

    #[test]
    fn the_head_is_proofread_before_the_others_go_off() {
        let mut connection = Connection::default();
        let encoded = Command::DescribeProtocol.encode().unwrap();
        let proof = Proof { wait: Duration::from_millis(300), head: 2 };
        connection.handle_command(encoded, PATIENCE, Some(proof), Instant::ZERO);
        assert_eq!(connection.poll_transmit(), Some(&b"AT"[..]));
        connection.handle_bytes(b"A", Instant::ZERO);
        assert_eq!(connection.poll_transmit(), None);
        connection.handle_bytes(b"T", Instant::ZERO);
        assert_eq!(connection.poll_transmit(), Some(&b"DPN"[..]));
        connection.handle_bytes(b"DPN", Instant::ZERO);
        assert_eq!(connection.poll_transmit(), Some(&b"\r"[..]));
    }

    #[test]
    fn an_echo_that_stays_away_ends_the_exchange() {
        let mut connection = proofread();
        connection.handle_time(Instant::from_seconds(0.3));
        assert_eq!(connection.poll_transmit(), None);
        assert_eq!(connection.poll_outcome(), Some(Outcome::Misheard { heard: false }));
    }
}
