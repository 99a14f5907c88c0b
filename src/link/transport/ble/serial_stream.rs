use std::collections::BTreeSet;

use btleplug::api::{CharPropFlags, Characteristic, Service, WriteType};
use uuid::Uuid;

use super::super::{StreamOffer, StreamPair};

/// The pair of characteristics that carries a serial stream.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct SerialStream {
    /// Takes bytes.
    pub(super) write: Characteristic,
    /// How it takes them.
    pub(super) write_type: WriteType,
    /// Gives bytes.
    pub(super) notify: Characteristic,
}

const WRITABLE: CharPropFlags = CharPropFlags::WRITE.union(CharPropFlags::WRITE_WITHOUT_RESPONSE);
const NOTIFYING: CharPropFlags = CharPropFlags::NOTIFY.union(CharPropFlags::INDICATE);

/// Services of the Bluetooth SIG that every peripheral may have and that carry no stream: generic
/// access, generic attribute, device information, battery (assigned numbers, from memory).
const GENERIC: [u32; 4] = [0x1800, 0x1801, 0x180A, 0x180F];

impl SerialStream {
    /// Finds the stream among a peripheral's services: a service with a writable and a notifying
    /// characteristic, which may be one and the same. Where several fit, the one that writes
    /// without a response comes first, because each response costs a round trip on the air.
    pub(super) fn find(services: &BTreeSet<Service>) -> Option<Self> {
        let candidates = services.iter().filter(|service| !is_generic(service.uuid));
        candidates.filter_map(Self::within).max_by_key(|stream| {
            let quick = stream.write_type == WriteType::WithoutResponse;
            let notifies = stream.notify.properties.contains(CharPropFlags::NOTIFY);
            (quick, notifies)
        })
    }

    /// The stream over the characteristics that a person chose.
    pub(super) fn chosen(services: &BTreeSet<Service>, pair: &StreamPair) -> Option<Self> {
        let all = || services.iter().flat_map(|service| &service.characteristics);
        let named = |uuid: &str, flags: CharPropFlags| {
            all().find(|it| it.uuid.to_string() == uuid && it.properties.intersects(flags))
        };
        Some(Self::of(named(&pair.write, WRITABLE)?, named(&pair.notify, NOTIFYING)?))
    }

    /// Every pair that could carry a stream, service by service.
    pub(super) fn offers(services: &BTreeSet<Service>) -> Vec<StreamOffer> {
        let usual = Self::find(services);
        let candidates = services.iter().filter(|service| !is_generic(service.uuid));
        let pairs = candidates.flat_map(|service| {
            let with = |flags: CharPropFlags| {
                service.characteristics.iter().filter(move |it| it.properties.intersects(flags))
            };
            with(WRITABLE).flat_map(move |write| with(NOTIFYING).map(move |it| (write, it)))
        });
        let offer = |(write, notify): (&Characteristic, &Characteristic)| {
            let stream = Self::of(write, notify);
            StreamOffer {
                pair: StreamPair { write: write.uuid.to_string(), notify: notify.uuid.to_string() },
                without_response: stream.write_type == WriteType::WithoutResponse,
                usual: usual.as_ref() == Some(&stream),
            }
        };
        pairs.map(offer).collect()
    }

    fn within(service: &Service) -> Option<Self> {
        let with = |flags: CharPropFlags| {
            service.characteristics.iter().filter(move |it| it.properties.intersects(flags))
        };
        let quick = CharPropFlags::WRITE_WITHOUT_RESPONSE;
        let write = with(quick).next().or_else(|| with(WRITABLE).next())?;
        let notify = with(CharPropFlags::NOTIFY).next().or_else(|| with(NOTIFYING).next())?;
        Some(Self::of(write, notify))
    }

    fn of(write: &Characteristic, notify: &Characteristic) -> Self {
        let write_type = if write.properties.contains(CharPropFlags::WRITE_WITHOUT_RESPONSE) {
            WriteType::WithoutResponse
        } else {
            WriteType::WithResponse
        };
        Self { write: write.clone(), write_type, notify: notify.clone() }
    }
}

/// Whether a UUID is one of the generic services, in the SIG's base of 16-bit numbers.
fn is_generic(uuid: Uuid) -> bool {
    const BASE: u128 = 0x0000_0000_0000_1000_8000_0080_5F9B_34FB;
    GENERIC.iter().any(|number| uuid.as_u128() == BASE | u128::from(*number) << 96)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn service(number: u16, characteristics: &[(u16, CharPropFlags)]) -> Service {
        let uuid = |number: u16| {
            Uuid::from_u128(0x0000_0000_0000_1000_8000_0080_5F9B_34FB | u128::from(number) << 96)
        };
        let characteristics = characteristics.iter().map(|(it, properties)| Characteristic {
            uuid: uuid(*it),
            service_uuid: uuid(number),
            properties: *properties,
            descriptors: BTreeSet::new(),
        });
        let characteristics = characteristics.collect();
        Service { uuid: uuid(number), primary: true, characteristics }
    }

    fn found(services: &[Service]) -> Option<(String, String, WriteType)> {
        let stream = SerialStream::find(&services.iter().cloned().collect())?;
        let short = |it: &Characteristic| it.uuid.to_string()[4..8].to_owned();
        Some((short(&stream.write), short(&stream.notify), stream.write_type))
    }

    #[test]
    fn a_stream_is_known_by_what_it_can_do() {
        let (write, quick) = (CharPropFlags::WRITE, CharPropFlags::WRITE_WITHOUT_RESPONSE);
        let (notify, read) = (CharPropFlags::NOTIFY, CharPropFlags::READ);
        let plain = service(0xAA00, &[(0xAA01, write), (0xAA02, notify)]);
        let both = service(0xBB00, &[(0xBB01, write | quick | notify)]);
        let mute = service(0xCC00, &[(0xCC01, write), (0xCC02, read)]);
        let generic = service(0x1801, &[(0x2A05, write | CharPropFlags::INDICATE)]);
        let text = |it: &str| it.to_owned();
        assert_eq!(
            found(&[generic.clone(), plain.clone(), mute.clone()]),
            Some((text("aa01"), text("aa02"), WriteType::WithResponse))
        );
        assert_eq!(
            found(&[plain, both]),
            Some((text("bb01"), text("bb01"), WriteType::WithoutResponse))
        );
        assert_eq!(found(&[generic, mute]), None);
    }

    #[test]
    fn a_person_may_choose_another_pair() {
        let (write, quick) = (CharPropFlags::WRITE, CharPropFlags::WRITE_WITHOUT_RESPONSE);
        let notify = CharPropFlags::NOTIFY;
        let plain = service(0xAA00, &[(0xAA01, write), (0xAA02, notify), (0xAA03, notify)]);
        let both = service(0xBB00, &[(0xBB01, quick | notify)]);
        let services = [plain, both].into_iter().collect();
        let offers: Vec<(String, bool, bool)> = SerialStream::offers(&services)
            .iter()
            .map(|it| (it.pair.to_string(), it.without_response, it.usual))
            .collect();
        let row = |pair: &str, quick, usual| (pair.to_owned(), quick, usual);
        let expected = [
            row("aa01/aa02", false, false),
            row("aa01/aa03", false, false),
            row("bb01/bb01", true, true),
        ];
        assert_eq!(offers, expected);
        let chosen = |pair: &str| SerialStream::chosen(&services, &pair.parse().unwrap());
        let stream = chosen("aa01/bb01").unwrap();
        assert_eq!(stream.write_type, WriteType::WithResponse);
        assert_eq!(chosen("aa02/aa03"), None, "the first takes no bytes");
        assert_eq!(chosen("cc01/aa03"), None);
    }
}
