use super::{JobError, Workshop};
use crate::evidence::{Check, Observation};
use crate::recording::Recording;
use crate::units::Instant;
use crate::vehicle::{CustomSignal, Signal};

impl Workshop {
    /// Holds what the sensor's own volts read at rest against the window that the person typed in
    /// from the manual, once the check at rest has ended.
    pub(super) fn hold_rest_voltage(&mut self, ended: Check) -> Result<(), JobError> {
        if ended != Check::RestZero {
            return Ok(());
        }
        let own = match &mut self.source {
            Some(source) => source.car().ok().and_then(|car| car.own(Signal::TankSensor)),
            None => None,
        };
        let Some(visit) = &self.visit else { return Ok(()) };
        let window = visit.result(ended).map(|result| result.window);
        let seen = own.zip(window).and_then(|(own, window)| judged(&own, &visit.recording, window));
        match seen {
            Some(observation) => self.observe(observation, true),
            None => Ok(()),
        }
    }
}

/// What the middle reading in a stretch at rest says, where the description gives a window for it.
fn judged(
    own: &CustomSignal,
    recording: &Recording,
    window: (Instant, Instant),
) -> Option<Observation> {
    let (low, high) = own.rest_low.zip(own.rest_high)?;
    let (_, values) = recording.series(own.signal)?.between(window.0, window.1);
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let middle = *sorted.get(sorted.len() / 2)?;
    Some(if (low..=high).contains(&middle) {
        Observation::SensorVoltageInRange
    } else {
        Observation::SensorVoltageOutOfRange
    })
}

#[cfg(test)]
mod tests {
    use super::judged;
    use crate::evidence::Observation;
    use crate::recording::Recording;
    use crate::units::Instant;
    use crate::vehicle::{CustomSignal, Signal};

    fn seen(volts: &[f64], window: &str) -> Option<Observation> {
        let file = format!(
            "[[signal]]\nsignal = \"tank_sensor_v\"\nservice = \"22\"\nidentifier = \"12AB\"\n\
             length = 2\nscale = 0.001\n{window}"
        );
        let own = CustomSignal::read_all(&file).unwrap()[0];
        let mut recording = Recording::default();
        for (second, volt) in volts.iter().enumerate() {
            let at = Instant::from_seconds(second as f64);
            recording.push(Signal::TankSensor, at, *volt);
        }
        judged(&own, &recording, (Instant::ZERO, Instant::from_seconds(60.0)))
    }

    #[test]
    fn the_middle_reading_at_rest_is_held_against_the_manuals_window() {
        let window = "rest_low = 2.4\nrest_high = 2.7";
        assert_eq!(seen(&[2.5, 2.5, 9.9], window), Some(Observation::SensorVoltageInRange));
        assert_eq!(seen(&[3.1, 3.2, 2.5], window), Some(Observation::SensorVoltageOutOfRange));
        assert_eq!(seen(&[2.5], ""), None, "without a window nothing is judged");
        assert_eq!(seen(&[], window), None);
    }
}
