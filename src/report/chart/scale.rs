/// A linear scale from values to points with round ticks.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Scale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
    /// Labelled values.
    pub(super) ticks: Vec<f64>,
    /// Distance of the labelled values.
    pub(super) step: f64,
}

impl Scale {
    /// A scale that holds `low` to `high` between the points `from` and `to`, widened to whole
    /// fifths of a step, with about `wanted` labelled values.
    pub(super) fn holding(low: f64, high: f64, from: f64, to: f64, wanted: f64) -> Self {
        let (low, high) = if high > low { (low, high) } else { (low - 1.0, low + 1.0) };
        let step = round_step((high - low) / wanted);
        let fine = step / 5.0;
        let (low, high) = ((low / fine).floor() * fine, (high / fine).ceil() * fine);
        Self::exactly(low, high, from, to, step)
    }

    /// A scale from `low` to `high` exactly.
    pub(super) fn exactly(low: f64, high: f64, from: f64, to: f64, step: f64) -> Self {
        let first = (low / step - 1e-9).ceil() as i64;
        let last = (high / step + 1e-9).floor() as i64;
        let ticks = (first..=last).take(64).map(|place| place as f64 * step).collect();
        Self { low, high, from, to, ticks, step }
    }

    /// The point of a value, held to the scale's ends.
    pub(super) fn at(&self, value: f64) -> f64 {
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        self.from + share * (self.to - self.from)
    }

    /// Lowest and highest value.
    pub(super) fn ends(&self) -> (f64, f64) {
        (self.low, self.high)
    }

    /// Unlabelled values between the labelled ones, a fifth of a step apart.
    pub(super) fn fine_ticks(&self) -> impl Iterator<Item = f64> + '_ {
        let fine = self.step / 5.0;
        let first = (self.low / fine - 1e-9).ceil() as i64;
        let last = (self.high / fine + 1e-9).floor() as i64;
        (first..=last).take(400).map(move |place| place as f64 * fine)
    }

    /// Decimals that tell the labelled values apart.
    pub(super) fn decimals(&self) -> usize {
        (-self.step.log10().floor()).clamp(0.0, 6.0) as usize
    }
}

/// The nearest larger of 1, 2 and 5 times a power of ten.
pub(super) fn round_step(about: f64) -> f64 {
    if !(about.is_finite() && about > 0.0) {
        return 1.0;
    }
    let power = 10f64.powf(about.log10().floor());
    let lead = about / power;
    let round = if lead <= 1.0 {
        1.0
    } else if lead <= 2.0 {
        2.0
    } else if lead <= 5.0 {
        5.0
    } else {
        10.0
    };
    round * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_on_the_scale() {
        let scale = Scale::holding(-223.0, 17.0, 0.0, 100.0, 5.0);
        assert_eq!(scale.ticks, vec![-200.0, -150.0, -100.0, -50.0, 0.0]);
        let (low, high) = scale.ends();
        assert!(low <= -223.0 && high >= 17.0);
        let small = Scale::holding(-0.013, 0.004, 0.0, 100.0, 4.0);
        assert_eq!(small.ticks.len(), 3);
        assert_eq!(small.decimals(), 3);
    }

    #[test]
    fn values_beyond_the_ends_are_held_to_them() {
        let scale = Scale::exactly(0.0, 10.0, 50.0, 150.0, 5.0);
        assert_eq!(scale.at(-5.0), 50.0);
        assert_eq!(scale.at(5.0), 100.0);
        assert_eq!(scale.at(99.0), 150.0);
    }
}
