use std::fmt::Write as _;

use super::super::LinkError;
use super::super::scheduler::Request;

/// What can be said to an adapter in the Hayes-type AT dialect common to OBD adapters (common
/// practice, no source). Settings are a closed list, so that no free text can reach an adapter.
#[derive(Clone, Copy, Debug)]
pub(in crate::link) enum Command<'a> {
    /// Start again with default settings.
    Reset,
    /// Say who you are.
    Identify,
    /// Do not repeat what is received.
    ///
    /// With its T lost it reads `AE0`: service AE, one answer. So it is sent only where bytes
    /// arrive whole or not at all.
    EchoOff,
    /// Letters that no command has. They make the adapter drop the line that it holds, whatever
    /// that is, and say that it did not understand. No change of a single byte makes digits of it,
    /// and each of its bits differs from those of a carriage return.
    Nonsense,
    /// End lines with a line feed too.
    LineFeeds(bool),
    /// Separate bytes by spaces.
    Spaces(bool),
    /// Show identifiers and framing bytes.
    Headers(bool),
    /// Fit the wait for an answer to the car.
    AdaptiveTiming,
    /// Use this protocol number; 0 looks for one.
    Protocol(u8),
    /// Say the number of the protocol in use.
    DescribeProtocol,
    /// Say the supply voltage.
    Voltage,
    /// Send with this identifier: three digits, or the lower six of a 29-bit one.
    Header {
        /// The identifier.
        id: u32,
        /// Hexadecimal digits to write.
        digits: usize,
    },
    /// Show answers with this identifier only.
    ReceiveOnly {
        /// The identifier.
        id: u32,
        /// Hexadecimal digits to write.
        digits: usize,
    },
    /// Show every answer again.
    ReceiveAll,
    /// Ask the car. The adapter stops waiting after `answers` answers.
    Ask {
        /// What to ask.
        request: &'a Request,
        /// How many answers to wait for, 1 to 15; `None` waits until the adapter's time is up.
        answers: Option<u8>,
    },
}

/// Bytes that may be sent. Only [`Command::encode`] makes them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::link) struct Encoded(Vec<u8>);

impl Encoded {
    /// The bytes, with the carriage return that ends every command.
    pub(in crate::link) fn bytes(&self) -> &[u8] {
        &self.0
    }

    /// The bytes as an adapter echoes them, without the end.
    pub(in crate::link) fn echo(&self) -> &[u8] {
        self.0.strip_suffix(b"\r").unwrap_or(&self.0)
    }

    /// The carriage return, which makes the adapter execute what it has received.
    pub(in crate::link) fn end(&self) -> &[u8] {
        self.0.get(self.echo().len()..).unwrap_or_default()
    }
}

impl Command<'_> {
    /// The one place where bytes for an adapter are made.
    pub(in crate::link) fn encode(&self) -> Result<Encoded, LinkError> {
        let mut text = match self {
            Self::Reset => String::from("ATZ"),
            Self::Identify => String::from("ATI"),
            Self::EchoOff => String::from("ATE0"),
            Self::Nonsense => String::from("rrrr"),
            Self::LineFeeds(on) => format!("ATL{}", u8::from(*on)),
            Self::Spaces(on) => format!("ATS{}", u8::from(*on)),
            Self::Headers(on) => format!("ATH{}", u8::from(*on)),
            Self::AdaptiveTiming => String::from("ATAT1"),
            Self::Protocol(number) => format!("ATSP{number:X}"),
            Self::DescribeProtocol => String::from("ATDPN"),
            Self::Voltage => String::from("ATRV"),
            Self::Header { id, digits } => format!("ATSH{id:0digits$X}"),
            Self::ReceiveOnly { id, digits } => format!("ATCRA{id:0digits$X}"),
            Self::ReceiveAll => String::from("ATAR"),
            Self::Ask { request, answers } => {
                let mut text = String::with_capacity(16);
                for byte in request.released()? {
                    // Writing to a String cannot fail.
                    let _ = write!(text, "{byte:02X}");
                }
                if let Some(answers) = answers {
                    let _ = write!(text, "{:X}", (*answers).clamp(1, 15));
                }
                text
            }
        };
        text.push('\r');
        Ok(Encoded(text.into_bytes()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn commands_end_with_a_carriage_return() {
        let request = Request::new(0x01, &[0x0C]);
        let cases: [(Command<'_>, &str); 8] = [
            (Command::Reset, "ATZ\r"),
            (Command::EchoOff, "ATE0\r"),
            (Command::Headers(true), "ATH1\r"),
            (Command::Protocol(0), "ATSP0\r"),
            (Command::Header { id: 0x7E0, digits: 3 }, "ATSH7E0\r"),
            (Command::ReceiveOnly { id: 0x18DA_F110, digits: 8 }, "ATCRA18DAF110\r"),
            (Command::Ask { request: &request, answers: None }, "010C\r"),
            (Command::Ask { request: &request, answers: Some(1) }, "010C1\r"),
        ];
        for (command, expected) in cases {
            assert_eq!(command.encode().unwrap().bytes(), expected.as_bytes());
        }
    }

    #[test]
    fn a_request_that_may_not_leave_makes_no_bytes() {
        let request = Request::new(0x2E, &[0xF1, 0x90]);
        let encoded = Command::Ask { request: &request, answers: None }.encode();
        assert_eq!(encoded, Err(LinkError::NotAllowed { service: 0x2E }));
    }
}
