use std::collections::BTreeMap;

use super::control_units::ask;
use crate::link::{Link, LinkError, UnitId};
use crate::vehicle::{Service, SupportedParameters};

/// What the units together declare for a service whose items are listed in blocks of 32 as the
/// parameters of service 01 are. `after` follows the item in each request.
///
/// # Errors
/// When the link fails. A unit that answers without meaning declares nothing.
pub(super) fn declared(
    link: &mut Link,
    service: Service,
    after: &[u8],
) -> Result<SupportedParameters, LinkError> {
    let mut found: BTreeMap<UnitId, SupportedParameters> = BTreeMap::new();
    let mut list = Some(0x00);
    while let Some(base) = list {
        for answer in ask(link, service, &[&[base], after].concat())? {
            let Ok(content) = service.content(&answer.payload) else { continue };
            let Some(block) = block(content) else { continue };
            let unit = found.entry(answer.unit).or_default();
            // A list that is none adds nothing.
            let _unsound = unit.add_answer(&block);
        }
        let next = found.values().filter_map(SupportedParameters::next_list).max();
        list = next.filter(|next| *next > base);
    }
    Ok(found.values().flat_map(SupportedParameters::iter).collect())
}

/// Item and map of an answer. Service 02 sends its frame between them, and older protocols send
/// the number of messages of service 09 there.
pub(super) fn block(content: &[u8]) -> Option<[u8; 5]> {
    match content {
        [base, a, b, c, d] | [base, _, a, b, c, d] => Some([*base, *a, *b, *c, *d]),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::block;

    #[test]
    fn a_map_is_found_with_and_without_a_byte_between() {
        assert_eq!(block(&[0x00, 0x55, 0x40, 0, 0]), Some([0x00, 0x55, 0x40, 0, 0]));
        assert_eq!(block(&[0x00, 0x01, 0x55, 0x40, 0, 0]), Some([0x00, 0x55, 0x40, 0, 0]));
        assert_eq!(block(&[0x00, 0x55]), None);
    }
}
