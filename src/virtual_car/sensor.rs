use super::chance::{Chance, Wander};

/// The tank pressure sensor and what the control unit makes of it. Pressures Pa, times s.
#[derive(Clone, Debug)]
pub(super) struct SensorParameters {
    /// Time constant of the first-order lag.
    pub(super) lag: f64,
    /// Constant error.
    pub(super) offset: f64,
    /// White noise of one reading, standard deviation.
    pub(super) noise: f64,
    /// Slow wandering: standard deviation and memory.
    pub(super) wander: (f64, f64),
    /// Drift as the sensor warms: how far, and how fast.
    pub(super) warming: (f64, f64),
    /// Resolution.
    pub(super) step: f64,
    /// The control unit reads it this often.
    pub(super) interval: f64,
    /// Furthest pressure it can tell from ambient.
    pub(super) span: f64,
    /// Output at zero pressure, V, and its slope, V/Pa.
    pub(super) volt: (f64, f64),
    /// A sensor that does not follow.
    pub(super) stuck: Option<Stuck>,
}

/// How a stuck sensor reads.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Stuck {
    /// Where it stands.
    pub(super) at: f64,
    /// Share of the true pressure that still comes through.
    pub(super) share: f64,
    /// Probability that a reading flickers by one step.
    pub(super) flicker: f64,
}

/// From true pressure to the number that the control unit holds.
#[derive(Clone, Debug)]
pub(super) struct TankSensor {
    pub(super) parameters: SensorParameters,
    followed: f64,
    wander: Wander,
    powered: f64,
    reading: f64,
    until_next: f64,
}

impl TankSensor {
    pub(super) fn new(parameters: SensorParameters) -> Self {
        let (deviation, memory) = parameters.wander;
        let mut sensor = Self {
            followed: 0.0,
            wander: Wander::new(deviation, memory),
            powered: 0.0,
            reading: 0.0,
            until_next: 0.0,
            parameters,
        };
        sensor.reading = sensor.rounded(match sensor.parameters.stuck {
            Some(stuck) => stuck.at,
            None => sensor.parameters.offset,
        });
        sensor
    }

    /// The last reading, Pa over ambient, rounded to the step.
    pub(super) fn reading(&self) -> f64 {
        self.reading
    }

    /// The sensor's output at the last reading, V.
    pub(super) fn volt(&self) -> f64 {
        let (zero, slope) = self.parameters.volt;
        (zero + slope * self.reading).clamp(0.05, 4.95)
    }

    /// Moves on by `seconds` at this true pressure; takes a reading when its turn has come.
    pub(super) fn step(&mut self, seconds: f64, pressure: f64, chance: &mut Chance) {
        self.powered += seconds;
        self.followed +=
            (pressure - self.followed) * (1.0 - (-seconds / self.parameters.lag).exp());
        self.until_next -= seconds;
        if self.until_next <= 0.0 {
            self.until_next += self.parameters.interval;
            self.take_reading(chance);
        }
    }

    fn take_reading(&mut self, chance: &mut Chance) {
        let it = &self.parameters;
        let wander = self.wander.step(it.interval, chance);
        let (far, slow) = it.warming;
        let drift = far * (1.0 - (-self.powered / slow).exp());
        let noise = it.noise * chance.normal();
        let value = match it.stuck {
            None => self.followed + it.offset + drift + wander + noise,
            Some(stuck) => {
                let flicker = if chance.happens(stuck.flicker) { it.step } else { 0.0 };
                self.rounded(stuck.at + stuck.share * self.followed) + flicker
            }
        };
        self.reading = self.rounded(value);
    }

    fn rounded(&self, value: f64) -> f64 {
        let it = &self.parameters;
        (value.clamp(-it.span, it.span) / it.step).round() * it.step
    }
}

#[cfg(test)]
mod tests {
    use super::{SensorParameters, Stuck, TankSensor};
    use crate::virtual_car::chance::{Chance, Purpose};

    fn quiet() -> SensorParameters {
        SensorParameters {
            lag: 0.05,
            offset: 0.0,
            noise: 0.0,
            wander: (0.0, 10.0),
            warming: (0.0, 100.0),
            step: 5.0,
            interval: 0.1,
            span: 3700.0,
            volt: (2.5, 0.54e-3),
            stuck: None,
        }
    }

    fn reading_after(parameters: SensorParameters, pressure: f64, seconds: f64) -> f64 {
        let mut chance = Chance::new(3, Purpose::TankSensor);
        let mut sensor = TankSensor::new(parameters);
        for _ in 0..(seconds / 0.005) as usize {
            sensor.step(0.005, pressure, &mut chance);
        }
        sensor.reading()
    }

    #[test]
    fn reading_is_rounded_shifted_late_and_limited() {
        assert_eq!(reading_after(quiet(), -212.0, 2.0), -210.0);
        assert_eq!(
            reading_after(SensorParameters { offset: 400.0, ..quiet() }, -212.0, 2.0),
            190.0
        );
        let late = reading_after(SensorParameters { lag: 3.0, ..quiet() }, -1000.0, 3.05);
        assert!((-660.0..-600.0).contains(&late), "{late}");
        assert_eq!(reading_after(quiet(), -6000.0, 2.0), -3700.0);
    }

    #[test]
    fn stuck_sensor_stays_within_a_step() {
        let stuck = Some(Stuck { at: 40.0, share: 0.0, flicker: 0.3 });
        let reading = reading_after(SensorParameters { stuck, ..quiet() }, -900.0, 2.0);
        assert!(reading == 40.0 || reading == 45.0, "{reading}");
    }

    /// Mid-span near 2.5 V and about 0.54 V/kPa (common practice, no source).
    #[test]
    fn output_follows_the_reading() {
        let mut chance = Chance::new(3, Purpose::TankSensor);
        let mut sensor = TankSensor::new(quiet());
        for _ in 0..400 {
            sensor.step(0.005, -1000.0, &mut chance);
        }
        assert!((sensor.volt() - 1.96).abs() < 0.01, "{}", sensor.volt());
    }
}
