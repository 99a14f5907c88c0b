use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::car::Car;
use super::engine::Running;
use super::person::Act;
use super::population::CarParameters;
use super::truth::Truth;
use crate::link::{LinkError, Transport, Unreachable};
use crate::units::Instant;

/// A clock from outside, for a car that lives at its pace.
pub trait Clock: Send + Sync {
    /// Time since some start; never goes back.
    fn now(&self) -> Instant;

    /// Lets this much time pass.
    fn wait(&self, time: Duration);
}

/// How fast the car's time passes.
#[derive(Clone)]
pub enum Pace {
    /// As the given clock's.
    RealTime(Arc<dyn Clock>),
    /// As fast as the processor allows: time passes only while somebody reads from the transport
    /// or calls [`Garage::advance`].
    Unbounded,
}

/// A shared handle over one virtual car, its adapter and the person beside it. Clones are handles
/// to the same car.
#[derive(Clone)]
pub struct Garage {
    car: Arc<Mutex<Car>>,
    trouble: Arc<Mutex<Trouble>>,
    clock: Option<(Arc<dyn Clock>, Instant)>,
}

/// What is the matter with the wire to the adapter, and until when.
#[derive(Clone, Copy, Debug, Default)]
struct Trouble {
    /// Out of reach: writing and reading fail.
    lost_until: Option<Instant>,
    /// Joined, but nothing passes.
    mute_until: Option<Instant>,
}

/// Longest time that a real-time reader waits at once, so that acts and other handles come
/// through.
const LONGEST_WAIT: Duration = Duration::from_millis(20);

impl Garage {
    /// A car of these parameters, key on and engine off (see [`CarParameters::parked`]), in which
    /// `seed` decides noise, reaction times and delays.
    pub fn new(parameters: CarParameters, seed: u64, pace: Pace) -> Self {
        let clock = match pace {
            Pace::RealTime(clock) => {
                let start = clock.now();
                Some((clock, start))
            }
            Pace::Unbounded => None,
        };
        Self {
            car: Arc::new(Mutex::new(Car::new(parameters, seed))),
            trouble: Arc::default(),
            clock,
        }
    }

    /// A wire to the car's adapter. One at a time makes sense, as with a real adapter.
    pub fn transport(&self) -> Box<dyn Transport> {
        Box::new(Wire { garage: self.clone() })
    }

    /// The car's time.
    pub fn now(&self) -> Instant {
        match &self.clock {
            Some((clock, start)) => {
                Instant::from_micros(clock.now().micros().saturating_sub(start.micros()))
            }
            None => self.car().now(),
        }
    }

    /// Lets the car's time pass up to `until` without reading from the adapter; what arrives
    /// meanwhile stays to be read. At a real clock's pace this only catches up with the clock.
    pub fn advance(&self, until: Instant) {
        let until = if self.clock.is_some() { until.min(self.now()) } else { until };
        self.car().advance(until);
    }

    /// Lets this much time pass: on the clock, or in the car that lives without one.
    pub fn wait(&self, time: Duration) {
        match &self.clock {
            Some((clock, _)) => clock.wait(time),
            None => self.advance(self.now() + time),
        }
    }

    /// Tells the person what to do. They do it after a human reaction time, one thing at a time.
    pub fn ask(&self, act: Act) {
        let now = self.now();
        let mut car = self.car();
        let now = now.max(car.now());
        car.person().hear(act, now);
    }

    /// Does something to the car at once, because it is said to be done. Nobody reports it.
    pub fn do_now(&self, act: Act) {
        let now = self.now();
        let mut car = self.car();
        car.advance(now);
        car.take_effect(act);
    }

    /// What the person says was done since the last call, with the time at which they said it:
    /// a moment after it happened. When it really happened stands in [`Truth::acts`].
    pub fn done_acts(&self) -> Vec<(Instant, Act)> {
        let now = self.now();
        let mut car = self.car();
        car.advance(now);
        car.person().words(now)
    }

    /// Puts the adapter out of reach for this long, as when its wireless link breaks.
    pub fn lose_adapter(&self, time: Duration) {
        self.trouble().lost_until = Some(self.now() + time);
    }

    /// Lets nothing pass for this long, in either direction, although the link seems to stand.
    pub fn mute_adapter(&self, time: Duration) {
        self.trouble().mute_until = Some(self.now() + time);
    }

    /// What is really the matter with the car.
    pub fn truth(&self) -> Truth {
        self.car().truth()
    }

    /// Whether the engine runs.
    pub fn engine_runs(&self) -> bool {
        matches!(self.car().engine_state(), Running::Runs { .. })
    }

    fn trouble(&self) -> MutexGuard<'_, Trouble> {
        self.trouble.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Until when the adapter is out of reach, if it is at `now`.
    fn lost_at(&self, now: Instant) -> Option<Instant> {
        self.trouble().lost_until.filter(|until| now < *until)
    }

    /// Until when nothing passes, if that holds at `now`.
    fn mute_at(&self, now: Instant) -> Option<Instant> {
        self.trouble().mute_until.filter(|until| now < *until)
    }

    fn car(&self) -> MutexGuard<'_, Car> {
        // A panic elsewhere leaves the car as it was between two steps.
        self.car.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The way to the adapter, as bytes.
struct Wire {
    garage: Garage,
}

impl Transport for Wire {
    fn now(&self) -> Instant {
        self.garage.now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        let now = self.garage.now();
        if self.garage.lost_at(now).is_some() {
            return Err(LinkError::Lost);
        }
        let mut car = self.garage.car();
        car.advance(now);
        if self.garage.mute_at(now).is_none() {
            car.adapter().receive(bytes, now);
        }
        Ok(())
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        loop {
            let now = self.garage.now();
            if self.garage.lost_at(now).is_some() {
                return Err(LinkError::Lost);
            }
            let mute = self.garage.mute_at(now).is_some();
            let mut car = self.garage.car();
            car.advance(now);
            let before = into.len();
            while let Some(bytes) = car.adapter().poll_output(now) {
                if !mute {
                    into.extend(bytes);
                }
            }
            if into.len() > before || now >= deadline {
                return Ok(into.len() - before);
            }
            let next = car.next_event().map_or(deadline, |at| at.min(deadline));
            match &self.garage.clock {
                None => car.advance(next),
                Some((clock, _)) => {
                    drop(car);
                    let wait = next.saturating_since(now).max(Duration::from_micros(200));
                    clock.wait(wait.min(LONGEST_WAIT));
                }
            }
        }
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        while let Some(until) = self.garage.lost_at(self.garage.now()) {
            let now = self.garage.now();
            if now >= deadline {
                return Err(LinkError::Unreachable(Unreachable::TimedOut));
            }
            let wait = until.min(deadline).saturating_since(now);
            self.garage.wait(wait.clamp(Duration::from_micros(200), LONGEST_WAIT));
        }
        Ok(())
    }

    fn is_checked(&self) -> bool {
        true
    }
}

#[cfg(test)]
mod tests;
