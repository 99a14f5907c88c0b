use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// What is random about a car, in one seeded source per purpose, so that the same seed always
/// gives the same car and one more draw in one place shifts nothing in another.
#[derive(Clone, Debug)]
pub(super) struct Chance(ChaCha8Rng);

/// What a source is for. Sources of one seed are independent of each other.
#[derive(Clone, Copy, Debug)]
pub(super) enum Purpose {
    Parameters = 1,
    Fault = 2,
    Engine = 3,
    TankSensor = 4,
    Control = 5,
    Person = 6,
    Adapter = 7,
    Surroundings = 8,
    SecondFault = 9,
    Manual = 10,
}

impl Chance {
    pub(super) fn new(seed: u64, purpose: Purpose) -> Self {
        let mut source = ChaCha8Rng::seed_from_u64(seed);
        source.set_stream(purpose as u64);
        Self(source)
    }

    /// Evenly between two values.
    pub(super) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.0.random::<f64>()
    }

    /// Evenly on a logarithmic scale between two positive values.
    pub(super) fn scale_between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.0.random::<f64>())
    }

    /// From the normal distribution with mean 0 and deviation 1.
    pub(super) fn normal(&mut self) -> f64 {
        self.0.sample(StandardNormal)
    }

    /// True with this probability.
    pub(super) fn happens(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    /// -1 or 1.
    pub(super) fn sign(&mut self) -> f64 {
        if self.happens(0.5) { 1.0 } else { -1.0 }
    }

    /// A whole number below `end`; `end` is at least 1.
    pub(super) fn below(&mut self, end: usize) -> usize {
        self.0.random_range(0..end.max(1))
    }

    /// One of several, by weight. `None` only for an empty table.
    pub(super) fn pick<T: Copy>(&mut self, table: &[(f64, T)]) -> Option<T> {
        let total: f64 = table.iter().map(|(weight, _)| weight).sum();
        let mut left = self.between(0.0, total);
        for (weight, value) in table {
            left -= weight;
            if left <= 0.0 {
                return Some(*value);
            }
        }
        table.last().map(|(_, value)| *value)
    }
}

/// A value that wanders around zero and forgets (Ornstein-Uhlenbeck process).
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Wander {
    /// Standard deviation in the long run.
    pub(super) deviation: f64,
    /// Seconds over which it forgets.
    pub(super) memory: f64,
    value: f64,
}

impl Wander {
    pub(super) fn new(deviation: f64, memory: f64) -> Self {
        Self { deviation, memory, value: 0.0 }
    }

    /// Moves on by `seconds` and returns the new value. Exact for any step.
    pub(super) fn step(&mut self, seconds: f64, chance: &mut Chance) -> f64 {
        let kept = (-seconds / self.memory).exp();
        self.value = self.value * kept
            + self.deviation * (1.0 - kept * kept).max(0.0).sqrt() * chance.normal();
        self.value
    }

    pub(super) fn value(&self) -> f64 {
        self.value
    }
}
