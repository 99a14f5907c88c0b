use super::capability::{Capabilities, Found};
use super::command::Command;

/// What happens while a link is set up, for the person who waits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SetupStep {
    /// Looking whether an adapter answers.
    WakingAdapter,
    /// Telling it how to answer.
    Configuring,
    /// The adapter looks for the car's protocol; the first time can take half a minute.
    FindingProtocol,
    /// The car has answered.
    Connected,
}

/// One setting, and where to note whether the adapter knows it.
pub(in crate::link) struct Setting {
    pub(in crate::link) command: Command<'static>,
    pub(in crate::link) note: fn(&mut Capabilities, Found),
}

/// The settings that make answers short and complete. An adapter may lack any of them: the reader
/// copes with echoes, line feeds, spaces and missing headers.
pub(in crate::link) const SETTINGS: [Setting; 4] = [
    Setting { command: Command::LineFeeds(false), note: |_, _| {} },
    Setting {
        command: Command::Spaces(false),
        note: |capabilities, found| capabilities.spaces_off = found,
    },
    Setting {
        command: Command::Headers(true),
        note: |capabilities, found| capabilities.headers = found,
    },
    Setting {
        command: Command::AdaptiveTiming,
        note: |capabilities, found| capabilities.adaptive_timing = found,
    },
];

/// Volts from a line such as `12.4V`.
pub(in crate::link) fn voltage(text: &str) -> Option<f64> {
    let volts: f64 = text.trim().trim_end_matches(['V', 'v']).trim().parse().ok()?;
    (0.0..60.0).contains(&volts).then_some(volts)
}

/// The number from an answer to "describe protocol": `6`, or `A6` where it was found by looking.
pub(in crate::link) fn protocol_number(digits: &str) -> Option<u8> {
    let number = match digits.len() {
        1 => digits,
        2 => digits.strip_prefix('A')?,
        _ => return None,
    };
    u8::from_str_radix(number, 16).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn answers_about_the_adapter_are_read() {
        assert_eq!(voltage("12.4V"), Some(12.4));
        assert_eq!(voltage("0.0 V"), Some(0.0));
        assert_eq!(voltage("V"), None);
        assert_eq!(voltage("inf"), None);
        assert_eq!(protocol_number("A6"), Some(6));
        assert_eq!(protocol_number("7"), Some(7));
        assert_eq!(protocol_number("A"), Some(10));
        assert_eq!(protocol_number("16"), None);
    }
}
