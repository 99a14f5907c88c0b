use super::visit::Sample;
use crate::recording::{ActionAt, CodeAt, Recording};
use crate::units::Instant;
use crate::vehicle::Signal;

/// A recording played back from its start: its samples come when their time has come on whatever
/// clock it is told.
#[derive(Debug)]
pub(super) struct Player {
    recording: Recording,
    samples: Vec<Sample>,
    next_sample: usize,
    next_action: usize,
    position: Instant,
}

impl Player {
    /// Starts before the first entry.
    pub(super) fn new(recording: Recording) -> Self {
        let mut samples: Vec<Sample> = recording
            .signals()
            .flat_map(|(signal, series)| series.iter().map(move |(at, value)| (signal, at, value)))
            .collect();
        samples.sort_by_key(|(signal, at, _)| (*at, *signal));
        let position = recording.span().map_or(Instant::ZERO, |(first, _)| first);
        Self { recording, samples, next_sample: 0, next_action: 0, position }
    }

    /// Where the play-back stands.
    pub(super) fn now(&self) -> Instant {
        self.position
    }

    /// Whether everything was played.
    pub(super) fn is_over(&self) -> bool {
        self.next_sample >= self.samples.len() && self.next_action >= self.recording.actions().len()
    }

    /// The signals in it.
    pub(super) fn signals(&self) -> Vec<Signal> {
        self.recording.signals().map(|(signal, _)| signal).collect()
    }

    /// The trouble codes in it.
    pub(super) fn codes(&self) -> &[CodeAt] {
        self.recording.codes()
    }

    /// Plays on to `until`: the samples and actions up to it.
    pub(super) fn play(&mut self, until: Instant) -> (Vec<Sample>, Vec<ActionAt>) {
        self.position = self.position.max(until);
        let rest = self.samples.get(self.next_sample..).unwrap_or_default();
        let samples: Vec<Sample> =
            rest.iter().take_while(|(_, at, _)| *at <= until).copied().collect();
        self.next_sample += samples.len();
        let rest = self.recording.actions().get(self.next_action..).unwrap_or_default();
        let actions: Vec<ActionAt> = rest.iter().take_while(|it| it.at <= until).copied().collect();
        self.next_action += actions.len();
        (samples, actions)
    }
}

#[cfg(test)]
mod tests {
    use super::Player;
    use crate::recording::{Action, Recording};
    use crate::units::Instant;
    use crate::vehicle::Signal;

    #[test]
    fn everything_is_played_once_and_in_order() {
        let at = Instant::from_seconds;
        let mut recording = Recording::default();
        for second in 0..4 {
            recording.push(Signal::TankPressure, at(f64::from(second)), f64::from(second));
            recording.push(Signal::EngineSpeed, at(f64::from(second) + 0.5), 700.0);
        }
        recording.push_action(at(1.2), Action::EngineStarted);
        let mut player = Player::new(recording);
        let (first, no_action) = player.play(at(1.0));
        assert_eq!(first.len(), 3);
        assert!(no_action.is_empty());
        let (second, actions) = player.play(at(10.0));
        assert_eq!((second.len(), actions.len()), (5, 1));
        assert!(second.is_sorted_by_key(|(_, at, _)| *at));
        assert!(player.is_over());
    }
}
