use std::path::Path;

use super::{
    Event, HistoryEvent, JobError, LinkAddress, MachineClock, OwnSignals, SignalScope, Workshop,
    connect, explain, own_signals,
};
use crate::link::{Answer, Link, LinkError, Request, UnitId};
use crate::store::Listening;
use crate::vehicle::{CustomSignal, DecodeError, PickedValue, Signal};
use crate::wording::Style;

/// One unit's answer to an own request, byte by byte.
#[derive(Clone, Debug, PartialEq)]
pub struct TriedAnswer {
    /// Who answers, hexadecimal.
    pub unit: String,
    /// The whole answer, from its service byte.
    pub raw: Vec<u8>,
    /// What of it the description picks; or why nothing.
    pub picked: Result<PickedValue, DecodeError>,
}

/// What became of trying an own request.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// What was described.
    pub signal: CustomSignal,
    /// The bytes that were sent.
    pub sent: Vec<u8>,
    /// The answers; none where the car gave none.
    pub answers: Vec<TriedAnswer>,
    /// Why there is no answer, in a sentence that says what to do.
    pub failure: Option<String>,
}

/// Asks once, and shows the answer before anything was read into it.
///
/// # Errors
/// Where the link itself fails; a refusal of the car is a result.
pub(super) fn try_signal(
    link: &mut Link,
    signal: &CustomSignal,
    style: &Style,
) -> Result<Tried, JobError> {
    signal.check()?;
    let (service, data) = signal.request();
    let request = Request::new(service, &data);
    let request = match signal.answered_by() {
        Some(unit) => request.to(UnitId(unit)),
        None => request,
    };
    let sent = [&[service], data.as_slice()].concat();
    let told = |answer: Answer| TriedAnswer {
        unit: answer.unit.to_string(),
        picked: signal.pick(&answer.payload),
        raw: answer.payload,
    };
    let signal = *signal;
    match link.request(&request) {
        Ok(answers) => {
            let answers = answers.into_iter().map(told).collect();
            Ok(Tried { signal, sent, answers, failure: None })
        }
        Err(error) if error.is_the_cars_answer() => {
            let failure = Some(match error {
                LinkError::NoData => nobody(style).to_owned(),
                error => explain(&error.into(), style),
            });
            Ok(Tried { signal, sent, answers: Vec::new(), failure })
        }
        Err(error) => Err(error.into()),
    }
}

/// The car has answered other requests on this link, so its key is on.
fn nobody(style: &Style) -> &'static str {
    style.of(
        "No control unit answers this request: the car does not know it, or the unit's address is another.",
        "Kein Steuergerät antwortet darauf: Das Auto kennt die Anfrage nicht, oder das Gerät hat eine andere Adresse.",
    )
}

/// Connects and tries the requests of a file one after the other, or the one for a signal.
///
/// # Errors
/// Where the file cannot be read or the car not be reached.
pub fn try_signals(
    address: &LinkAddress,
    file: &Path,
    only: Option<Signal>,
    clock: MachineClock,
    style: &Style,
) -> Result<Vec<Tried>, JobError> {
    let signals = own_signals::read(file)?;
    let wanted: Vec<CustomSignal> =
        signals.into_iter().filter(|it| only.is_none_or(|only| it.signal == only)).collect();
    let mut source = connect::connect(address, clock, &Listening::default(), &mut |_| {})?;
    let link = &mut source.car()?.link;
    wanted.iter().map(|signal| try_signal(link, signal, style)).collect()
}

impl Workshop {
    /// Tries an own request on the connected car.
    pub(super) fn try_own_signal(&mut self, signal: &CustomSignal) -> Result<(), JobError> {
        let style = self.style;
        let source = self.source.as_mut().ok_or(JobError::NotConnected)?;
        let tried = try_signal(&mut source.car()?.link, signal, &style)?;
        self.emit(Event::OwnSignalTried(Box::new(tried)));
        Ok(())
    }

    /// Shows the person's own requests.
    pub(super) fn show_own_signals(&mut self) -> Result<(), JobError> {
        let of_vehicle = match &self.visit {
            Some(visit) => {
                let vehicle = &visit.record.vehicle;
                Some((vehicle.name.clone(), self.store.listening(vehicle.id)?.own_signals))
            }
            None => None,
        };
        let shared = own_signals::own_signals_beside(self.store.path())?;
        self.emit(Event::OwnSignals(OwnSignals { shared, of_vehicle }));
        Ok(())
    }

    /// Keeps the person's own requests; they are polled from the next connection on.
    pub(super) fn save_own_signals(
        &mut self,
        signals: &[CustomSignal],
        scope: SignalScope,
    ) -> Result<(), JobError> {
        match scope {
            SignalScope::AllVehicles => own_signals::write_beside(self.store.path(), signals)?,
            SignalScope::ThisVehicle => {
                let date = self.date();
                let (visit, store) = self.open_visit_mut()?;
                store.set_own_signals(visit.record.vehicle.id, signals, date)?;
            }
        }
        self.show_own_signals()
    }

    /// Takes the requests of a file over; those of the same signals make room.
    pub(super) fn import_own_signals(
        &mut self,
        file: &Path,
        scope: SignalScope,
    ) -> Result<(), JobError> {
        let come = own_signals::read(file)?;
        let mut own = self.own_signals(scope)?;
        own.retain(|known| !come.iter().any(|new| new.signal == known.signal));
        own.extend(come);
        self.save_own_signals(&own, scope)
    }

    /// Writes the person's own requests to a file for another device.
    pub(super) fn export_own_signals(
        &mut self,
        file: &Path,
        scope: SignalScope,
    ) -> Result<(), JobError> {
        own_signals::write(file, &self.own_signals(scope)?)?;
        self.emit(Event::Histories(HistoryEvent::Exported(vec![file.to_path_buf()])));
        Ok(())
    }

    fn own_signals(&self, scope: SignalScope) -> Result<Vec<CustomSignal>, JobError> {
        match (scope, &self.visit) {
            (SignalScope::AllVehicles, _) => own_signals::own_signals_beside(self.store.path()),
            (SignalScope::ThisVehicle, Some(visit)) => {
                Ok(self.store.listening(visit.record.vehicle.id)?.own_signals)
            }
            (SignalScope::ThisVehicle, None) => Err(JobError::NoVisit),
        }
    }
}

#[cfg(test)]
mod tests;
