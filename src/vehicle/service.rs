/// A diagnostic service of SAE J1979 / ISO 15031-5 that this program uses.
///
/// Numbers from memory of the standard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Service {
    /// 01: current data.
    CurrentData,
    /// 02: data stored with a trouble code.
    FreezeFrame,
    /// 03: stored trouble codes.
    StoredCodes,
    /// 04: clears codes, freeze frame and readiness.
    ClearCodes,
    /// 06: results of the car's own monitors.
    MonitorResults,
    /// 07: codes seen once, waiting for a second trip.
    PendingCodes,
    /// 08: control of a test, such as sealing the vapour system.
    TestControl,
    /// 09: identification.
    Identification,
    /// 0A: codes that only the car itself clears.
    PermanentCodes,
    /// 22: maker's data by a two-byte identifier (ISO 14229-1).
    DataByIdentifier,
}

impl Service {
    /// Every service.
    pub const ALL: [Self; 10] = [
        Self::CurrentData,
        Self::FreezeFrame,
        Self::StoredCodes,
        Self::ClearCodes,
        Self::MonitorResults,
        Self::PendingCodes,
        Self::TestControl,
        Self::Identification,
        Self::PermanentCodes,
        Self::DataByIdentifier,
    ];

    /// Test 01 of service 08: prepares a leak test of the vapour system by closing its vent.
    pub const LEAK_TEST: u8 = 0x01;

    /// The byte that asks.
    pub const fn request(self) -> u8 {
        match self {
            Self::CurrentData => 0x01,
            Self::FreezeFrame => 0x02,
            Self::StoredCodes => 0x03,
            Self::ClearCodes => 0x04,
            Self::MonitorResults => 0x06,
            Self::PendingCodes => 0x07,
            Self::TestControl => 0x08,
            Self::Identification => 0x09,
            Self::PermanentCodes => 0x0A,
            Self::DataByIdentifier => 0x22,
        }
    }

    /// The byte that a positive answer begins with.
    pub const fn answer(self) -> u8 {
        self.request() | 0x40
    }

    /// Whether the service changes something in the car, so that a person must agree first.
    pub const fn changes_the_car(self) -> bool {
        matches!(self, Self::ClearCodes | Self::TestControl)
    }

    /// The service with this request byte.
    pub fn from_request(byte: u8) -> Option<Self> {
        Self::ALL.into_iter().find(|service| service.request() == byte)
    }

    /// What follows the service byte of a positive answer to this service.
    pub fn content(self, payload: &[u8]) -> Result<&[u8], super::DecodeError> {
        match payload {
            [first, content @ ..] if *first == self.answer() => Ok(content),
            [first, ..] => {
                Err(super::DecodeError::WrongEcho { expected: self.answer(), found: *first })
            }
            [] => {
                Err(super::DecodeError::TooShort { service: self.request(), needed: 1, found: 0 })
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Service;
    use crate::vehicle::DecodeError;

    #[test]
    fn answers_carry_the_request_plus_forty() {
        let pairs = [(0x01, 0x41), (0x03, 0x43), (0x09, 0x49), (0x0A, 0x4A), (0x22, 0x62)];
        for (request, answer) in pairs {
            assert_eq!(Service::from_request(request).map(Service::answer), Some(answer));
        }
    }

    #[test]
    fn content_of_another_services_answer_is_refused() {
        assert_eq!(Service::StoredCodes.content(&[0x43, 0x00]), Ok([0x00].as_slice()));
        assert_eq!(
            Service::StoredCodes.content(&[0x47, 0x00]),
            Err(DecodeError::WrongEcho { expected: 0x43, found: 0x47 })
        );
        assert!(Service::StoredCodes.content(&[]).is_err());
    }
}
