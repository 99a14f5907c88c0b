use std::collections::BTreeSet;

use btleplug::api::{CharPropFlags, Characteristic, Service, WriteType};
use uuid::Uuid;

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

    fn within(service: &Service) -> Option<Self> {
        let with = |flags: CharPropFlags| {
            service.characteristics.iter().filter(move |it| it.properties.intersects(flags))
        };
        let quick = CharPropFlags::WRITE_WITHOUT_RESPONSE;
        let write = with(quick).next().or_else(|| with(WRITABLE).next())?;
        let notify = with(CharPropFlags::NOTIFY).next().or_else(|| with(NOTIFYING).next())?;
        let write_type = if write.properties.contains(quick) {
            WriteType::WithoutResponse
        } else {
            WriteType::WithResponse
        };
        Some(Self { write: write.clone(), write_type, notify: notify.clone() })
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
}
