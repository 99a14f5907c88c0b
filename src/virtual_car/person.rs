use std::collections::VecDeque;
use std::time::Duration;

use super::chance::Chance;
use crate::units::Instant;

/// What the person can be asked to do at the car.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Act {
    /// Turns the key on, engine off.
    KeyOn,
    /// Turns the key off.
    KeyOff,
    /// Starts the engine.
    StartEngine,
    /// Stops the engine, key on.
    StopEngine,
    /// Pulls the purge valve's connector.
    UnplugPurge,
    /// Puts it back.
    PlugPurge,
    /// Opens the throttle for a moment, in Park.
    OpenThrottle,
    /// Lets go.
    ReleaseThrottle,
    /// Takes the fuel cap off.
    OpenCap,
    /// Puts it on.
    CloseCap,
    /// Closes the vent by hand.
    SealVent,
    /// Opens it again.
    OpenVent,
    /// Fills the tank; stops the engine for it if need be.
    Refuel,
    /// Replaces the faulty part with a sound one; stops the engine for it if need be.
    ReplacePart,
    /// Drives off.
    Drive,
    /// Stops and puts it in Park.
    Park,
}

/// How a person goes about it.
#[derive(Clone, Debug)]
pub(super) struct Habits {
    /// Shortest and longest time from hearing to doing, s.
    pub(super) reaction: (f64, f64),
    /// Smallest and largest throttle opening, share of wide open.
    pub(super) opening: (f64, f64),
    /// Shortest and longest time that they hold it before they let go by themselves, s.
    pub(super) hold: (f64, f64),
    /// Seconds from closed to open.
    pub(super) foot: (f64, f64),
    /// Shortest and longest time from doing to saying so, s.
    pub(super) word: (f64, f64),
}

/// Something that happens to the car because of the person.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Deed {
    /// An act takes effect.
    Done(Act),
    /// The foot moves: the throttle's new goal (0 to 1) and the seconds it takes.
    Foot { goal: f64, seconds: f64 },
}

/// The person beside the car: hears instructions, does them in order, one at a time, with human
/// reaction times, and says afterwards what was done.
#[derive(Clone, Debug)]
pub(super) struct Person {
    habits: Habits,
    chance: Chance,
    /// What is still to happen, in order of time.
    agenda: VecDeque<(Instant, Deed)>,
    /// When the last instruction will have been done.
    busy_until: Instant,
    /// When the foot will leave the throttle, if it is on it.
    holds_until: Option<Instant>,
    /// What was done, when it happened and when the person says so.
    done: Vec<(Instant, Act)>,
    words: VecDeque<(Instant, Act)>,
}

impl Person {
    pub(super) fn new(habits: Habits, chance: Chance) -> Self {
        Self {
            habits,
            chance,
            agenda: VecDeque::new(),
            busy_until: Instant::ZERO,
            holds_until: None,
            done: Vec::new(),
            words: VecDeque::new(),
        }
    }

    /// Hears an instruction at `now`.
    pub(super) fn hear(&mut self, act: Act, now: Instant) {
        let (quick, slow) = self.habits.reaction;
        let reaction = self.chance.scale_between(quick, slow);
        let at = self.busy_until.max(now) + seconds(reaction + effort(act));
        self.busy_until = at;
        match act {
            Act::OpenThrottle => {
                let (small, large) = self.habits.opening;
                let (short, long) = self.habits.hold;
                let (fast, lazy) = self.habits.foot;
                let goal = self.chance.between(small, large);
                let foot = self.chance.between(fast, lazy);
                let hold = self.chance.between(short, long);
                let release = at + seconds(hold);
                self.agenda.push_back((at, Deed::Foot { goal, seconds: foot }));
                self.agenda.push_back((at, Deed::Done(act)));
                self.agenda.push_back((release, Deed::Foot { goal: 0.0, seconds: foot }));
                self.agenda.push_back((release, Deed::Done(Act::ReleaseThrottle)));
                self.holds_until = Some(release);
                self.busy_until = at + seconds(0.2);
            }
            Act::ReleaseThrottle => self.let_go(at, now),
            _ => self.agenda.push_back((at, Deed::Done(act))),
        }
    }

    /// Lets go when told, unless the foot is off the throttle by then.
    fn let_go(&mut self, at: Instant, now: Instant) {
        match self.holds_until {
            Some(release) if release > at => {
                for (time, deed) in &mut self.agenda {
                    let lets_go = matches!(
                        deed,
                        Deed::Foot { goal: 0.0, .. } | Deed::Done(Act::ReleaseThrottle)
                    );
                    if *time == release && lets_go {
                        *time = at;
                    }
                }
                self.holds_until = Some(at);
            }
            // They let go before they were told; that is already said or will be.
            Some(_) => self.busy_until = self.busy_until.min(now),
            None => self.agenda.push_back((at, Deed::Done(Act::ReleaseThrottle))),
        }
    }

    /// The next deed that is due at `now`, with its time.
    pub(super) fn poll_deed(&mut self, now: Instant) -> Option<(Instant, Deed)> {
        // Several foot movements may have been moved past each other: the earliest is due first.
        let (index, _) =
            self.agenda.iter().enumerate().min_by_key(|(index, (at, _))| (*at, *index))?;
        let due = self.agenda.get(index).is_some_and(|(at, _)| *at <= now);
        if !due {
            return None;
        }
        let (at, deed) = self.agenda.remove(index)?;
        if let Deed::Done(act) = deed {
            let (quick, slow) = self.habits.word;
            let word = at + seconds(self.chance.between(quick, slow));
            self.done.push((at, act));
            self.words.push_back((word, act));
            if act == Act::ReleaseThrottle {
                self.holds_until = None;
            }
        }
        Some((at, deed))
    }

    /// What the person has said since the last call, with the time of saying.
    pub(super) fn words(&mut self, now: Instant) -> Vec<(Instant, Act)> {
        let mut said = Vec::new();
        while self.words.front().is_some_and(|(at, _)| *at <= now) {
            said.extend(self.words.pop_front());
        }
        said
    }

    /// Everything that was done, with the time at which it happened.
    pub(super) fn done(&self) -> &[(Instant, Act)] {
        &self.done
    }
}

/// Seconds that an act takes by itself, beside the reaction.
fn effort(act: Act) -> f64 {
    match act {
        Act::Refuel => 30.0,
        Act::ReplacePart => 20.0,
        Act::SealVent | Act::OpenVent => 2.0,
        Act::OpenCap | Act::CloseCap => 1.0,
        _ => 0.0,
    }
}

/// A length of time from seconds; negative counts as zero.
pub(super) fn seconds(value: f64) -> Duration {
    Duration::from_micros((value.max(0.0) * 1e6) as u64)
}

#[cfg(test)]
mod tests {
    use super::{Act, Deed, Habits, Person};
    use crate::units::Instant;
    use crate::virtual_car::chance::{Chance, Purpose};

    fn person(hold: (f64, f64)) -> Person {
        let habits = Habits {
            reaction: (0.8, 3.0),
            opening: (0.6, 1.0),
            hold,
            foot: (0.15, 0.4),
            word: (0.2, 0.8),
        };
        Person::new(habits, Chance::new(5, Purpose::Person))
    }

    fn deeds(person: &mut Person, until: f64) -> Vec<(f64, Deed)> {
        let mut found = Vec::new();
        for tick in 0..(until * 100.0) as i64 {
            let now = Instant::from_micros(tick * 10_000);
            while let Some((at, deed)) = person.poll_deed(now) {
                found.push((at.seconds(), deed));
            }
        }
        found
    }

    #[test]
    fn instructions_are_done_in_order_after_a_reaction() {
        let mut person = person((1.0, 2.0));
        person.hear(Act::StartEngine, Instant::ZERO);
        person.hear(Act::UnplugPurge, Instant::ZERO);
        let found = deeds(&mut person, 10.0);
        assert_eq!(
            found.iter().map(|(_, deed)| *deed).collect::<Vec<_>>(),
            [Deed::Done(Act::StartEngine), Deed::Done(Act::UnplugPurge)]
        );
        let [(first, _), (second, _)] = found[..] else { unreachable!("two deeds") };
        assert!((0.8..=3.0).contains(&first) && (0.8..=3.0).contains(&(second - first)));
        let said = person.words(Instant::from_seconds(20.0));
        assert_eq!(said.len(), 2);
        assert!(said[0].0.seconds() > first);
        assert!(person.words(Instant::from_seconds(20.0)).is_empty());
    }

    #[test]
    fn throttle_is_released_when_told_or_when_the_person_has_had_enough() {
        for (hold, told_at) in [((50.0, 60.0), 5.0), ((1.0, 1.5), 8.0)] {
            let mut person = person(hold);
            person.hear(Act::OpenThrottle, Instant::ZERO);
            let mut found = deeds(&mut person, 5.0);
            person.hear(Act::ReleaseThrottle, Instant::from_seconds(told_at));
            found.extend(deeds(&mut person, 20.0));
            let releases = found.iter().filter(|(_, d)| *d == Deed::Done(Act::ReleaseThrottle));
            let times: Vec<f64> = releases.map(|(at, _)| *at).collect();
            if hold.0 > 10.0 {
                assert_eq!(times.len(), 1);
                assert!((5.8..=8.0).contains(&times[0]), "{times:?}");
            } else {
                // Told again later, they say so again; the foot is off since the first time.
                assert!(times[0] < 5.0, "{times:?}");
            }
        }
    }
}
