use std::collections::BTreeMap;

use super::JobError;
use crate::link::{Answer, Link, LinkError, Request, UnitId};
use crate::vehicle::{ControlUnit, Service, SupportedParameters};

/// Parameter 00: which of the first 32 there are.
const FIRST_LIST: u8 = 0x00;

/// The control units that answer, with the parameters each offers.
///
/// # Errors
/// What keeps the car from answering; a car without any parameter answers with no data.
pub(super) fn discover(link: &mut Link) -> Result<Vec<ControlUnit>, JobError> {
    let mut offered: BTreeMap<UnitId, SupportedParameters> = BTreeMap::new();
    let mut list = Some(FIRST_LIST);
    while let Some(base) = list {
        let answers = match base {
            FIRST_LIST => link.request(&Request::new(Service::CurrentData.request(), &[base]))?,
            _ => ask(link, Service::CurrentData, &[base])?,
        };
        for answer in &answers {
            let content = Service::CurrentData.content(&answer.payload)?;
            offered.entry(answer.unit).or_default().add_answer(content)?;
        }
        // A unit that announces a block that nobody answers must not be asked for it for ever.
        list = offered.values().filter_map(SupportedParameters::next_list).max();
        list = list.filter(|next| *next > base);
    }
    let unit = |(unit, supported): (UnitId, SupportedParameters)| ControlUnit {
        address: unit.0,
        supported,
        ..ControlUnit::default()
    };
    Ok(offered.into_iter().map(unit).collect())
}

/// Asks every unit. That none answers, or all refuse, is an answer too: the car does not offer it.
pub(super) fn ask(
    link: &mut Link,
    service: Service,
    data: &[u8],
) -> Result<Vec<Answer>, LinkError> {
    match link.request(&Request::new(service.request(), data)) {
        Ok(answers) => Ok(answers),
        Err(LinkError::NoData | LinkError::Refused { .. } | LinkError::StillPending { .. }) => {
            Ok(Vec::new())
        }
        Err(error) => Err(error),
    }
}

/// Everything that the units together offer.
pub(super) fn all_offered(units: &[ControlUnit]) -> SupportedParameters {
    units.iter().flat_map(|unit| unit.supported.iter()).collect()
}
