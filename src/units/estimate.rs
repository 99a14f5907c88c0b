use serde::{Deserialize, Deserializer, Serialize};

/// A number with the bounds that hold it with 95 % probability.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The best single value.
    pub value: f64,
    /// Lower 95 % bound; `-inf` where the data give none, which JSON holds as null.
    #[serde(deserialize_with = "lower_bound")]
    pub low: f64,
    /// Upper 95 % bound; `+inf` where the data give none, which JSON holds as null.
    #[serde(deserialize_with = "upper_bound")]
    pub high: f64,
}

impl Estimate {
    /// From a value and its standard error, normal bounds.
    pub fn from_standard_error(value: f64, standard_error: f64) -> Self {
        let half = 1.959_963_984_540_054 * standard_error;
        Self { value, low: value - half, high: value + half }
    }

    /// With bounds at this factor of the value either way.
    pub fn within_factor(value: f64, factor: f64) -> Self {
        Self { value, low: value / factor, high: value * factor }
    }

    /// The standard error of the logarithm that these bounds, of one sign, correspond to.
    pub fn log_standard_error(&self) -> f64 {
        (self.high / self.low).ln().abs() / (2.0 * 1.96)
    }

    /// With bounds this much farther on either side.
    #[must_use]
    pub fn widened(&self, by: f64) -> Self {
        Self { value: self.value, low: self.low - by, high: self.high + by }
    }

    /// Half the width of the bounds.
    pub fn half_width(&self) -> f64 {
        (self.high - self.low) / 2.0
    }

    /// The standard error that these bounds correspond to under a normal error.
    pub fn standard_error(&self) -> f64 {
        self.half_width() / 1.959_963_984_540_054
    }

    /// The same quantity in another unit: `value * factor`.
    pub fn scaled(&self, factor: f64) -> Self {
        let (a, b) = (self.low * factor, self.high * factor);
        Self { value: self.value * factor, low: a.min(b), high: a.max(b) }
    }
}

fn lower_bound<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
    Ok(Option::deserialize(from)?.unwrap_or(f64::NEG_INFINITY))
}

fn upper_bound<'de, D: Deserializer<'de>>(from: D) -> Result<f64, D::Error> {
    Ok(Option::deserialize(from)?.unwrap_or(f64::INFINITY))
}

#[cfg(test)]
mod tests {
    use super::Estimate;

    #[test]
    fn an_open_bound_survives_json() {
        let estimate = Estimate { value: 0.4, low: f64::NEG_INFINITY, high: 1.5 };
        let json = serde_json::to_string(&estimate).unwrap();
        assert_eq!(json, r#"{"value":0.4,"low":null,"high":1.5}"#);
        assert_eq!(serde_json::from_str::<Estimate>(&json).unwrap(), estimate);
    }
}
