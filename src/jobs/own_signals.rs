use std::fs;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::{JobError, Workshop};
use crate::store::Listening;
use crate::vehicle::CustomSignal;

/// The file beside a database that describes requests of the person's own.
pub fn own_signals_file(database: &Path) -> PathBuf {
    database.with_file_name("own_signals.toml")
}

/// The person's own requests, from `own_signals.toml` beside a database; none if there is no such
/// file.
///
/// # Errors
/// [`JobError::Decode`] if the file describes something impossible.
pub fn own_signals_beside(database: &Path) -> Result<Vec<CustomSignal>, JobError> {
    match read(&own_signals_file(database)) {
        Err(JobError::File { kind: ErrorKind::NotFound, .. }) => Ok(Vec::new()),
        read => read,
    }
}

/// The requests that a file describes.
pub(super) fn read(path: &Path) -> Result<Vec<CustomSignal>, JobError> {
    let text = fs::read_to_string(path).map_err(|error| JobError::file(path, &error))?;
    Ok(CustomSignal::read_all(&text)?)
}

/// Keeps the person's own requests beside a database.
pub(super) fn write_beside(database: &Path, signals: &[CustomSignal]) -> Result<(), JobError> {
    write(&own_signals_file(database), signals)
}

/// Writes a file of requests; all of it is right or nothing is written.
pub(super) fn write(path: &Path, signals: &[CustomSignal]) -> Result<(), JobError> {
    let text = CustomSignal::write_all(signals);
    CustomSignal::read_all(&text)?;
    let unfinished = path.with_extension("toml.unfinished");
    fs::write(&unfinished, text)
        .and_then(|()| fs::rename(&unfinished, path))
        .map_err(|error| JobError::file(path, &error))
}

impl Workshop {
    /// How the open visit's vehicle is listened to. A request of the vehicle's own goes before the
    /// one that all vehicles share.
    pub(super) fn listening(&self) -> Result<Listening, JobError> {
        let shared = own_signals_beside(self.store.path())?;
        let mut listening = match &self.visit {
            Some(visit) => self.store.listening(visit.record.vehicle.id)?,
            None => Listening::default(),
        };
        let own = listening.own_signals.clone();
        let not_its_own = |it: &CustomSignal| own.iter().all(|own| own.signal != it.signal);
        listening.own_signals.extend(shared.into_iter().filter(not_its_own));
        Ok(listening)
    }
}

#[cfg(test)]
mod tests {
    use crate::link::Request;
    use crate::vehicle::CustomSignal;

    #[test]
    fn every_service_that_own_signals_may_name_is_on_the_allowlist() {
        let mut named = Vec::new();
        for service in 0..=u8::MAX {
            let file = format!(
                "[[signal]]\nsignal = \"tank_sensor_v\"\nservice = \"{service:02X}\"\n\
                 identifier = \"01\"\nlength = 2\nscale = 1.0"
            );
            if let Ok(signals) = CustomSignal::read_all(&file) {
                let (service, data) = signals[0].request();
                assert!(Request::new(service, &data).only_reads(), "{service:02X}");
                named.push(service);
            }
        }
        assert_eq!(named, [0x01, 0x06, 0x09, 0x22]);
    }
}
