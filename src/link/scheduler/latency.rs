use std::time::Duration;

/// Shortest wait for a prompt: an adapter's own wait for a silent unit is 0.2 s by default
/// (common practice, no source), and wireless links add pauses.
const SHORTEST: f64 = 0.6;

/// Shortest and longest wait for the prompt after a command to the adapter itself, which it
/// answers from memory.
const COMMAND: (f64, f64) = (0.25, 1.0);

/// The same for its repeating of what it receives.
const ECHO: (f64, f64) = (0.1, 1.0);

/// Longest wait for a prompt in ordinary exchanges: the longest wait that an adapter can be set
/// to is 1.02 s (common practice, no source).
const LONGEST: f64 = 2.5;

/// How long exchanges take, smoothed as RFC 6298 does for retransmissions: the mean moves by an
/// eighth of each deviation, the deviation by a quarter, and the wait is mean plus four deviations.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(in crate::link) struct Latency {
    smoothed: Option<(f64, f64)>,
}

impl Latency {
    /// Takes one exchange's duration.
    pub(in crate::link) fn handle_exchange(&mut self, took: Duration) {
        let took = took.as_secs_f64();
        self.smoothed = Some(match self.smoothed {
            None => (took, took / 2.0),
            Some((mean, deviation)) => {
                let deviation = 0.75 * deviation + 0.25 * (mean - took).abs();
                (0.875 * mean + 0.125 * took, deviation)
            }
        });
    }

    /// Typical duration of an exchange.
    pub(in crate::link) fn typical(&self) -> Option<Duration> {
        self.smoothed.map(|(mean, _)| Duration::from_secs_f64(mean.max(0.0)))
    }

    /// How long to wait for the prompt after a request to the car. On a line that loses bytes a
    /// prompt is more likely lost than late, and too short a wait costs one repetition.
    pub(in crate::link) fn patience(&self, doubtful: bool) -> Duration {
        let shortest = if doubtful { COMMAND.0 } else { SHORTEST };
        self.wait_within(shortest, LONGEST)
    }

    /// How long to wait for the prompt after a command to the adapter.
    pub(in crate::link) fn command_patience(&self) -> Duration {
        let (shortest, longest) = COMMAND;
        self.wait_within(shortest, longest)
    }

    /// How long to wait until the adapter has repeated a command.
    pub(in crate::link) fn echo_patience(&self) -> Duration {
        let (shortest, longest) = ECHO;
        self.wait_within(shortest, longest)
    }

    fn wait_within(&self, shortest: f64, longest: f64) -> Duration {
        let wait = self.smoothed.map_or(longest, |(mean, deviation)| mean + 4.0 * deviation);
        Duration::from_secs_f64(wait.clamp(shortest, longest))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 6298 section 2 with alpha 1/8, beta 1/4: after 1.0 s and 2.0 s the mean is 1.125 s and
    /// the deviation 0.75 * 0.5 + 0.25 * 1.0 = 0.625 s.
    #[test]
    fn smoothing_is_that_of_rfc_6298() {
        let mut latency = Latency::default();
        assert_eq!(latency.patience(false), Duration::from_secs_f64(2.5));
        latency.handle_exchange(Duration::from_secs(1));
        latency.handle_exchange(Duration::from_secs(2));
        assert_eq!(latency.smoothed, Some((1.125, 0.625)));
    }

    #[test]
    fn a_steady_link_waits_little_longer_than_it_takes() {
        let mut latency = Latency::default();
        for _ in 0..200 {
            latency.handle_exchange(Duration::from_millis(800));
        }
        assert_eq!(latency.patience(false).as_millis(), 800);
        assert_eq!(latency.typical().map(|it| it.as_millis()), Some(800));
    }
}
