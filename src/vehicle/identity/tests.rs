use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::{
    InUseMonitor, InUseRatio, Region, Vin, decode_calibration_ids, decode_in_use_counters,
    decode_unit_name, decode_verification_numbers, decode_vin,
};
use crate::vehicle::{DecodeError, hex_bytes};

fn vin(text: &str) -> Vin {
    text.parse().unwrap()
}

/// Rows of `fixtures/bytes/vins.csv`: 49 CFR 565.15 worked by hand on invented numbers.
#[test]
fn check_characters_follow_the_regulation() {
    let rows = include_str!("../../../fixtures/bytes/vins.csv");
    for row in rows.lines().skip(1) {
        let cells: Vec<&str> = row.splitn(4, ',').collect();
        let vin = vin(cells[0]);
        let sum: u32 = cells[1].parse().unwrap();
        let remainder = sum % 11;
        assert_eq!(cells[2], if remainder == 10 { "X".into() } else { remainder.to_string() });
        assert_eq!(vin.check_character().to_string(), cells[2], "{row}");
        assert!(vin.check_character_matches(), "{row}");
        assert_eq!(vin.to_string(), cells[0]);
    }
}

#[test]
fn one_wrong_character_shows_where_the_region_has_check_characters() {
    assert!(!vin("1ZZPH33T5L2123456").is_mistyped());
    assert!(vin("1ZZPH33T5L2123457").is_mistyped());
    // Not a North American number: a mismatch proves nothing.
    assert!(!vin("9ZZAB12C0R1000002").is_mistyped());
    assert!(!vin("9ZZAB12C0R1000002").check_character_matches());
}

#[test]
fn typed_numbers_are_forgiven_case_and_spaces_but_nothing_else() {
    assert_eq!(vin(" 9zzab12c0r1000001 ").to_string(), "9ZZAB12C0R1000001");
    let error = |text: &str| text.parse::<Vin>().unwrap_err();
    assert_eq!(error("9ZZAB12C0R100000"), DecodeError::VinLength { found: 16 });
    assert_eq!(error("9ZZAB12C0R10000011"), DecodeError::VinLength { found: 18 });
    assert_eq!(error("9ZZAB12C0R100000O"), DecodeError::VinCharacter { character: 'O' });
    assert_eq!(error("9ZZAB12C0R100000-"), DecodeError::VinCharacter { character: '-' });
    assert_eq!(error("9ZZAB12C0R10000é1"), DecodeError::VinCharacter { character: 'é' });
}

/// Regions of ISO 3780 and years of 49 CFR 565.15, from memory.
#[test]
fn region_and_model_year_are_read_from_their_places() {
    assert_eq!(vin("9ZZAB12C0R1000001").region(), Region::SouthAmerica);
    assert_eq!(vin("JAZ12345067890123").region(), Region::Asia);
    assert_eq!(vin("1ZZPH33T5L2123456").region(), Region::NorthAmerica);
    assert_eq!(vin("1ZZPH33T5L2123456").model_year(), Some(1990));
    assert_eq!(vin("1ZZPH3CT5L2123456").model_year(), Some(2020));
    assert_eq!(vin("1ZZPH33T592123456").model_year(), Some(2009));
    assert_eq!(vin("1ZZPH33T502123456").model_year(), None);
    assert_eq!(vin("9ZZAB12C0R1000001").model_year(), None);
}

/// The frames' content of the worked example of ISO 15765-2: 6 + 7 + 7 = 20 bytes with 49.
const VIN_ON_CAN: &str = "02 01 39 5A 5A 41 42 31 32 43 30 52 31 30 30 30 30 30 31";

#[test]
fn the_number_comes_in_one_answer_on_can() {
    let content = hex_bytes(VIN_ON_CAN);
    assert_eq!(decode_vin(&[&content]), Ok(vin("9ZZAB12C0R1000001")));
    let mut filled = vec![0x02, 0x01, 0x00, 0x00, 0x00];
    filled.extend_from_slice(&content[2..]);
    assert_eq!(decode_vin(&[&filled]), Ok(vin("9ZZAB12C0R1000001")));
}

fn older_parts() -> Vec<Vec<u8>> {
    [
        "02 01 00 00 00 39",
        "02 02 5A 5A 41 42",
        "02 03 31 32 43 30",
        "02 04 52 31 30 30",
        "02 05 30 30 30 31",
    ]
    .map(hex_bytes)
    .to_vec()
}

fn older(parts: &[Vec<u8>]) -> Result<Vin, DecodeError> {
    decode_vin(&parts.iter().map(Vec::as_slice).collect::<Vec<_>>())
}

#[test]
fn the_number_comes_in_five_numbered_messages_on_older_protocols() {
    let mut parts = older_parts();
    assert_eq!(older(&parts), Ok(vin("9ZZAB12C0R1000001")));
    parts.reverse();
    assert_eq!(older(&parts), Ok(vin("9ZZAB12C0R1000001")));
}

#[test]
fn unsound_numbers_from_the_car_are_typed_errors() {
    let mut missing = older_parts();
    missing.remove(2);
    assert_eq!(older(&missing), Err(DecodeError::PartMissing { service: 9, number: 3 }));
    let mut last_missing = older_parts();
    last_missing.pop();
    assert_eq!(older(&last_missing), Err(DecodeError::VinLength { found: 13 }));
    let mut twice = older_parts();
    twice.push(twice[1].clone());
    assert_eq!(older(&twice), Err(DecodeError::PartRepeated { service: 9, number: 2 }));
    let mut short = older_parts();
    short[3].pop();
    assert_eq!(older(&short), Err(DecodeError::TooShort { service: 9, needed: 4, found: 3 }));
    let mut long = older_parts();
    long[3].push(0x41);
    assert_eq!(older(&long), Err(DecodeError::TooLong { service: 9, expected: 4, found: 5 }));
    assert!(matches!(decode_vin(&[]), Err(DecodeError::TooShort { .. })));
    let one = |text: &str| decode_vin(&[&hex_bytes(text)]);
    assert_eq!(one("04 01 39"), Err(DecodeError::WrongEcho { expected: 2, found: 4 }));
    assert_eq!(one("02 01"), Err(DecodeError::VinLength { found: 0 }));
    assert_eq!(one("02 01 00 00 00"), Err(DecodeError::Blank));
    assert_eq!(one("02 01 FF FF FF FF"), Err(DecodeError::Blank));
    assert!(matches!(one("02 02 39 5A"), Err(DecodeError::CountMismatch { stated: 2, .. })));
}

#[test]
fn calibrations_are_sixteen_characters_each() {
    let mut content = vec![0x04, 0x02];
    content.extend_from_slice(b"CAL-0001-A\0\0\0\0\0\0");
    content.extend_from_slice(b"CAL-0002-B 77777");
    let ids = decode_calibration_ids(&[&content]).unwrap();
    let texts: Vec<&str> = ids.iter().map(|id| id.0.as_str()).collect();
    assert_eq!(texts, ["CAL-0001-A", "CAL-0002-B 77777"]);
    content[1] = 3;
    assert_eq!(
        decode_calibration_ids(&[&content]),
        Err(DecodeError::CountMismatch { service: 9, stated: 3, found: 2 })
    );
    content.pop();
    assert_eq!(
        decode_calibration_ids(&[&content]),
        Err(DecodeError::TooShort { service: 9, needed: 32, found: 31 })
    );
    content.push(0x07);
    content[1] = 2;
    assert_eq!(decode_calibration_ids(&[&content]), Err(DecodeError::NotText { byte: 0x07 }));
}

#[test]
fn verification_numbers_are_four_bytes_each() {
    let content = hex_bytes("06 02 17 91 BC 82 00 00 00 01");
    let numbers = decode_verification_numbers(&[&content]).unwrap();
    let texts: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    assert_eq!(texts, ["1791BC82", "00000001"]);
}

#[test]
fn a_units_name_is_text_filled_up_with_zeros() {
    let mut content = vec![0x0A, 0x01];
    content.extend_from_slice(b"ECM\0-EngineControl\0\0");
    assert_eq!(decode_unit_name(&[&content]), Ok("ECM -EngineControl".to_owned()));
    assert!(decode_unit_name(&[&[0x0A, 0x00]]).is_err());
    let blank = [&[0x0A, 0x01][..], &[0; 20]].concat();
    assert_eq!(decode_unit_name(&[&blank]), Err(DecodeError::Blank));
}

/// SAE J1979 service 09 item 08, from memory: EVAPCOMP is the 15th counter, EVAPCOND the 16th.
#[test]
fn the_vapour_monitors_counters_are_the_fifteenth_and_sixteenth() {
    let mut content = vec![0x08, 0x10];
    for counter in 1..=16_u16 {
        content.extend_from_slice(&counter.to_be_bytes());
    }
    let counters = decode_in_use_counters(&[&content]).unwrap();
    assert_eq!((counters.driving_cycles, counters.ignition_cycles), (1, 2));
    let evaporative =
        InUseRatio { monitor: InUseMonitor::Evaporative, completions: 15, opportunities: 16 };
    assert_eq!(counters.evaporative(), Some(evaporative));
    assert_eq!(evaporative.ratio(), Some(15.0 / 16.0));
    assert_eq!(counters.ratios.len(), 7);
    content[1] = 0x14;
    assert_eq!(
        decode_in_use_counters(&[&content]),
        Err(DecodeError::CountMismatch { service: 9, stated: 20, found: 16 })
    );
}

#[test]
fn counters_come_two_to_a_message_on_older_protocols() {
    let parts: Vec<Vec<u8>> =
        (1..=8_u8).map(|part| vec![0x08, part, 0x00, part * 2 - 1, 0x00, part * 2]).collect();
    let slices: Vec<&[u8]> = parts.iter().map(Vec::as_slice).collect();
    let counters = decode_in_use_counters(&slices).unwrap();
    let evaporative = counters.evaporative().unwrap();
    assert_eq!((evaporative.completions, evaporative.opportunities), (15, 16));
}

#[test]
fn no_opportunity_gives_no_ratio() {
    let none = InUseRatio { monitor: InUseMonitor::Evaporative, completions: 0, opportunities: 0 };
    assert_eq!(none.ratio(), None);
}

#[test]
fn random_bytes_never_panic_and_never_give_a_number_out_of_nothing() {
    let mut random = ChaCha8Rng::seed_from_u64(0x09);
    let sound = hex_bytes(VIN_ON_CAN);
    for _ in 0..20_000 {
        let mut bytes = sound.clone();
        for _ in 0..random.random_range(1..4) {
            let place = random.random_range(0..bytes.len());
            if random.random() {
                bytes[place] = random.random();
            } else {
                bytes.truncate(place.max(1));
            }
        }
        let other: Vec<u8> = (0..random.random_range(0..40)).map(|_| random.random()).collect();
        for contents in [&[bytes.as_slice()][..], &[&other], &[&bytes, &other]] {
            if let Ok(vin) = decode_vin(contents) {
                assert_eq!(vin.text().len(), 17);
                assert!(!vin.text().contains(['I', 'O', 'Q']));
            }
            let _ = decode_calibration_ids(contents);
            let _ = decode_verification_numbers(contents);
            let _ = decode_in_use_counters(contents);
            let _ = decode_unit_name(contents);
        }
    }
}
