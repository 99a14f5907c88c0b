use std::collections::BTreeMap;

use super::control_units::ask;
use super::{InUseLine, UnitLine};
use crate::link::{Link, LinkError, UnitId};
use crate::vehicle::{
    Region, Service, SupportedParameters, Vin, decode_calibration_ids, decode_in_use_counters,
    decode_unit_name, decode_verification_numbers, decode_vin, item,
};
use crate::wording::Language;

/// What the control units say of themselves.
#[derive(Debug, Default)]
pub(super) struct Identity {
    pub(super) vin: Option<Vin>,
    pub(super) units: Vec<UnitLine>,
    pub(super) in_use: Option<InUseLine>,
}

/// Reads what is declared of service 09, and nothing else.
///
/// # Errors
/// When the link fails. What has no meaning is left out.
pub(super) fn read_identity(
    link: &mut Link,
    declared: &SupportedParameters,
) -> Result<Identity, LinkError> {
    let mut identity = Identity::default();
    let mut units: BTreeMap<UnitId, UnitLine> = BTreeMap::new();
    let wanted = [
        item::VIN,
        item::CALIBRATION_IDS,
        item::VERIFICATION_NUMBERS,
        item::IN_USE_COUNTERS,
        item::UNIT_NAME,
    ];
    for wanted in wanted.into_iter().filter(|item| declared.contains(*item)) {
        let answers = ask(link, Service::Identification, &[wanted])?;
        let mut by_unit: BTreeMap<UnitId, Vec<&[u8]>> = BTreeMap::new();
        for answer in &answers {
            if let Ok(content) = Service::Identification.content(&answer.payload) {
                by_unit.entry(answer.unit).or_default().push(content);
            }
        }
        for (id, contents) in by_unit {
            let unit = units
                .entry(id)
                .or_insert_with(|| UnitLine { address: id.to_string(), ..UnitLine::default() });
            take(wanted, &contents, unit, &mut identity);
        }
    }
    identity.units = units.into_values().filter(|unit| !unit.is_empty()).collect();
    Ok(identity)
}

/// Takes one unit's answers to one item in.
fn take(wanted: u8, contents: &[&[u8]], unit: &mut UnitLine, identity: &mut Identity) {
    match wanted {
        item::VIN => identity.vin = identity.vin.or_else(|| decode_vin(contents).ok()),
        item::CALIBRATION_IDS => {
            let ids = decode_calibration_ids(contents).unwrap_or_default();
            unit.calibrations = ids.into_iter().map(|id| id.0).collect();
        }
        item::VERIFICATION_NUMBERS => {
            let numbers = decode_verification_numbers(contents).unwrap_or_default();
            unit.verification_numbers = numbers.iter().map(ToString::to_string).collect();
        }
        item::UNIT_NAME => unit.name = decode_unit_name(contents).ok(),
        item::IN_USE_COUNTERS => {
            let Ok(counters) = decode_in_use_counters(contents) else { return };
            let Some(ratio) = counters.evaporative() else { return };
            identity.in_use.get_or_insert(InUseLine {
                completions: ratio.completions,
                opportunities: ratio.opportunities,
                driving_cycles: counters.driving_cycles,
                ignition_cycles: counters.ignition_cycles,
            });
        }
        _ => {}
    }
}

/// What a VIN tells by itself, in words.
pub(super) fn vin_note(vin: &Vin, language: Language) -> String {
    let region = match vin.region() {
        Region::Africa => language.of("Africa", "Afrika"),
        Region::Asia => language.of("Asia", "Asien"),
        Region::Europe => language.of("Europe", "Europa"),
        Region::NorthAmerica => language.of("North America", "Nordamerika"),
        Region::Oceania => language.of("Oceania", "Ozeanien"),
        Region::SouthAmerica => language.of("South America", "Südamerika"),
    };
    let year = vin.model_year().map(|year| match language {
        Language::English => format!(", model year {year}"),
        Language::German => format!(", Modelljahr {year}"),
    });
    let check = if vin.check_character_matches() {
        language.of("check character matches", "Prüfzeichen stimmt")
    } else if vin.is_mistyped() {
        language.of(
            "check character does not match, which it must there: look at the plate on the car",
            "Prüfzeichen stimmt nicht, was es dort muss: das Schild am Auto ansehen",
        )
    } else {
        language.of(
            "check character does not match, which it need not there",
            "Prüfzeichen stimmt nicht, was es dort nicht muss",
        )
    };
    format!("{region}{}; {check}", year.unwrap_or_default())
}
