use std::sync::atomic::{AtomicBool, Ordering};

use super::super::{LinkError, UnitId};

/// Services of SAE J1979 that only read, and service 22 (ISO 14229-1, read data by identifier).
const READING: [u8; 9] = [0x01, 0x02, 0x03, 0x05, 0x06, 0x07, 0x09, 0x0A, 0x22];

/// Services that change something in the car: 04 erases codes, 08 drives a component.
const CHANGING: [u8; 2] = [0x04, 0x08];

/// A single frame of ISO 15765-2 carries seven bytes, one of older buses as many.
const LONGEST: usize = 7;

/// To whom a request goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Target {
    /// Every unit.
    All,
    /// The unit whose answers carry this id.
    Unit(UnitId),
}

/// The person's agreement to one request that changes something in the car. It cannot be copied,
/// and it is spent by being sent.
#[derive(Debug)]
pub struct Consent {
    service: u8,
    spent: AtomicBool,
}

impl Consent {
    /// The person was asked about this one request and said yes.
    pub fn given_for(service: u8) -> Self {
        Self { service, spent: AtomicBool::new(false) }
    }
}

/// A question to the car.
#[derive(Debug)]
pub struct Request {
    service: u8,
    data: Vec<u8>,
    target: Target,
    consent: Option<Consent>,
}

impl Request {
    /// A request to every unit: the service and what follows it.
    pub fn new(service: u8, data: &[u8]) -> Self {
        Self { service, data: data.to_vec(), target: Target::All, consent: None }
    }

    /// The same request, to one unit.
    pub fn to(self, unit: UnitId) -> Self {
        Self { target: Target::Unit(unit), ..self }
    }

    /// The same request, with the person's agreement.
    pub fn with_consent(self, consent: Consent) -> Self {
        Self { consent: Some(consent), ..self }
    }

    /// The service.
    pub fn service(&self) -> u8 {
        self.service
    }

    /// What follows the service.
    pub fn data(&self) -> &[u8] {
        &self.data
    }

    /// To whom it goes.
    pub fn target(&self) -> Target {
        self.target
    }

    /// Whether it only reads: then it needs no consent, and sending it twice does no harm.
    pub fn only_reads(&self) -> bool {
        READING.contains(&self.service)
    }

    /// The bytes that may leave the program for this request, or why none may. Spends a consent.
    ///
    /// Every byte for the car passes here: `adapter::Command::encode` is the only caller, and its
    /// result the only thing that a connection accepts for sending.
    pub(in crate::link) fn released(&self) -> Result<Vec<u8>, LinkError> {
        let service = self.service;
        let bytes = self.data.len().saturating_add(1);
        if bytes > LONGEST {
            return Err(LinkError::RequestTooLong { bytes });
        }
        if CHANGING.contains(&service) {
            match &self.consent {
                Some(consent) if consent.service == service => {
                    if consent.spent.swap(true, Ordering::Relaxed) {
                        return Err(LinkError::ConsentSpent { service });
                    }
                }
                _ => return Err(LinkError::ConsentNeeded { service }),
            }
        } else if !READING.contains(&service) {
            return Err(LinkError::NotAllowed { service });
        }
        let mut released = Vec::with_capacity(bytes);
        released.push(service);
        released.extend_from_slice(&self.data);
        Ok(released)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_listed_services_leave() {
        for service in 0..=u8::MAX {
            let released = Request::new(service, &[]).released();
            match service {
                1 | 2 | 3 | 5 | 6 | 7 | 9 | 0x0A | 0x22 => assert_eq!(released, Ok(vec![service])),
                4 | 8 => assert_eq!(released, Err(LinkError::ConsentNeeded { service })),
                _ => assert_eq!(released, Err(LinkError::NotAllowed { service })),
            }
        }
    }

    #[test]
    fn consent_counts_once_and_for_its_service() {
        let request = Request::new(0x04, &[]).with_consent(Consent::given_for(0x04));
        assert_eq!(request.released(), Ok(vec![0x04]));
        assert_eq!(request.released(), Err(LinkError::ConsentSpent { service: 0x04 }));
        let other = Request::new(0x08, &[0x01]).with_consent(Consent::given_for(0x04));
        assert_eq!(other.released(), Err(LinkError::ConsentNeeded { service: 0x08 }));
        let unlisted = Request::new(0x2F, &[]).with_consent(Consent::given_for(0x2F));
        assert_eq!(unlisted.released(), Err(LinkError::NotAllowed { service: 0x2F }));
    }
}
