use super::source::Source;
use super::{JobError, connect, read_car};
use crate::virtual_car::{CarParameters, Pace};
use crate::wording::Language;

/// How long it took to read everything that a car says of itself.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadingTime {
    /// Seconds on the car's clock, from the first request once the link stands to the last answer.
    pub seconds: f64,
    /// How many control units told something.
    pub units: usize,
}

/// Reads everything from a virtual car, as fast as the processor allows, and says how long that
/// took on the car's own clock.
///
/// # Errors
/// When the link fails.
pub fn reading_time(parameters: CarParameters, seed: u64) -> Result<ReadingTime, JobError> {
    let source = connect::virtual_car(parameters, seed, Pace::Unbounded, &mut |_| {})?;
    let Source::Car(mut car) = source else { return Err(JobError::OnlyARecording) };
    let before = car.link.now();
    let (report, _) = read_car::read_everything(&mut car, Language::English, &mut |_| {})?;
    let seconds = car.link.now().seconds_since(before);
    Ok(ReadingTime { seconds, units: report.units.len() })
}
