use std::time::Duration;

use rand::{RngExt as _, SeedableRng as _};
use rand_chacha::ChaCha8Rng;

use super::Transport;
use crate::link::LinkError;
use crate::units::Instant;

/// What goes wrong, how often.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Faults {
    /// Share of bytes that are lost, 0 to 1.
    pub lost: f64,
    /// Share of bytes that become another byte, 0 to 1.
    pub changed: f64,
    /// Longest extra delay of a piece that arrives; drawn anew for each.
    pub delay: Duration,
    /// Time between breaks of the connection; `None` never breaks it.
    pub breaks_every: Option<Duration>,
}

/// Spoils what passes through any transport, alike for alike seeds.
pub struct Faulty<T> {
    inner: T,
    faults: Faults,
    chance: ChaCha8Rng,
    breaks_at: Option<Instant>,
    is_broken: bool,
    breaks: u64,
}

impl<T: Transport> Faulty<T> {
    /// Wraps a transport.
    pub fn new(inner: T, faults: Faults, seed: u64) -> Self {
        let breaks_at = faults.breaks_every.map(|every| inner.now() + every);
        let chance = ChaCha8Rng::seed_from_u64(seed);
        Self { inner, faults, chance, breaks_at, is_broken: false, breaks: 0 }
    }

    /// How often the connection broke.
    pub fn breaks(&self) -> u64 {
        self.breaks
    }

    fn spoil(&mut self, bytes: &[u8]) -> Vec<u8> {
        let mut spoilt = Vec::with_capacity(bytes.len());
        for byte in bytes {
            let fate: f64 = self.chance.random();
            if fate < self.faults.lost {
                continue;
            }
            let changes = fate < self.faults.lost + self.faults.changed;
            let flipped: u8 = if changes { self.chance.random_range(1..=u8::MAX) } else { 0 };
            spoilt.push(byte ^ flipped);
        }
        spoilt
    }

    fn check(&mut self) -> Result<(), LinkError> {
        let now = self.inner.now();
        if let (Some(at), Some(every)) = (self.breaks_at, self.faults.breaks_every)
            && now >= at
        {
            self.is_broken = true;
            self.breaks = self.breaks.saturating_add(1);
            self.breaks_at = Some(now + every);
        }
        if self.is_broken { Err(LinkError::Lost) } else { Ok(()) }
    }
}

impl<T: Transport> Transport for Faulty<T> {
    fn now(&self) -> Instant {
        self.inner.now()
    }

    fn write(&mut self, bytes: &[u8]) -> Result<(), LinkError> {
        self.check()?;
        let spoilt = self.spoil(bytes);
        self.inner.write(&spoilt)
    }

    fn read(&mut self, into: &mut Vec<u8>, deadline: Instant) -> Result<usize, LinkError> {
        self.check()?;
        let mut arrived = Vec::new();
        if self.inner.read(&mut arrived, deadline)? == 0 {
            return Ok(0);
        }
        if !self.faults.delay.is_zero() {
            let share: f64 = self.chance.random();
            let until = self.inner.now() + self.faults.delay.mul_f64(share);
            // Time passes by reading; what arrives meanwhile comes with it.
            while self.inner.now() < until {
                self.inner.read(&mut arrived, until)?;
            }
        }
        let spoilt = self.spoil(&arrived);
        into.extend_from_slice(&spoilt);
        // Where everything was lost, nothing has arrived and the wait goes on.
        if spoilt.is_empty() { self.read(into, deadline) } else { Ok(spoilt.len()) }
    }

    fn reconnect(&mut self, deadline: Instant) -> Result<(), LinkError> {
        self.inner.reconnect(deadline)?;
        self.is_broken = false;
        Ok(())
    }

    fn is_checked(&self) -> bool {
        self.inner.is_checked() && self.faults.lost == 0.0 && self.faults.changed == 0.0
    }
}
