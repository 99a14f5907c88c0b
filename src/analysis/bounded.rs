/// A number with the bounds that hold it at the stated confidence (95 % unless said otherwise).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounded {
    /// The best single value.
    pub value: f64,
    /// Lower bound; `-inf` (or 0 for a quantity that cannot be negative) where the data give none.
    pub low: f64,
    /// Upper bound; `+inf` where the data give none.
    pub high: f64,
}

impl Bounded {
    /// Symmetric bounds at `half_width` to either side.
    pub fn symmetric(value: f64, half_width: f64) -> Self {
        Self { value, low: value - half_width, high: value + half_width }
    }

    /// Half the distance between the bounds.
    pub fn half_width(&self) -> f64 {
        (self.high - self.low) / 2.0
    }

    /// Whether the bounds hold `truth`.
    pub fn contains(&self, truth: f64) -> bool {
        self.low <= truth && truth <= self.high
    }
}
