use std::collections::BTreeSet;

use rand::{Rng, RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::{
    Content, Measured, PARAMETERS, decode_asked, decode_frame_parameters, decode_parameter,
    decode_parameters, parameter,
};
use crate::vehicle::{DecodeError, Quantity, hex_bytes};

/// Bytes and values written by hand from the standard's formulas.
fn hand_written() -> Vec<(u8, Vec<u8>, Measured)> {
    let rows = include_str!("../../../fixtures/bytes/parameters.csv");
    rows.lines()
        .skip(1)
        .map(|row| {
            let cells: Vec<&str> = row.splitn(6, ',').collect();
            let quantity = Quantity::from_name(cells[2]).unwrap();
            let measured = Measured {
                quantity,
                place: cells[3].parse().unwrap(),
                value: cells[4].parse().unwrap(),
            };
            (u8::from_str_radix(cells[0], 16).unwrap(), hex_bytes(cells[1]), measured)
        })
        .collect()
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1e-12 * a.abs().max(b.abs()).max(1.0)
}

#[test]
fn every_hand_written_row_decodes_to_its_value() {
    for (id, bytes, expected) in hand_written() {
        let found = decode_parameter(id, &bytes).unwrap();
        assert!(
            found.iter().any(|measured| measured.quantity == expected.quantity
                && measured.place == expected.place
                && close(measured.value, expected.value)),
            "{id:02X} {bytes:02X?}: expected {expected:?}, found {found:?}"
        );
    }
}

#[test]
fn every_number_in_the_table_has_a_hand_written_row() {
    let held: BTreeSet<(u8, Quantity, u8)> =
        hand_written().into_iter().map(|(id, _, m)| (id, m.quantity, m.place)).collect();
    for row in PARAMETERS {
        for field in row.fields() {
            let key = (row.id, field.quantity, field.place);
            assert!(held.contains(&key), "{:02X} {:?} has no bytes", row.id, field.quantity);
        }
    }
}

/// SAE J1979 / ISO 15031-5 ranges and steps, from memory of the standard.
#[test]
fn ranges_and_steps_are_the_published_ones() {
    let rows = include_str!("../../../fixtures/published/parameter_ranges.csv");
    for row in rows.lines().skip(1) {
        let cells: Vec<&str> = row.split(',').collect();
        let id = u8::from_str_radix(cells[0], 16).unwrap();
        let quantity = Quantity::from_name(cells[1]).unwrap();
        let fields = parameter(id).unwrap().fields();
        let field = fields.iter().find(|field| field.quantity == quantity).unwrap();
        let number = |cell: usize| cells[cell].parse::<f64>().unwrap();
        assert!(close(field.range().0, number(2)), "{row}: {:?}", field.range());
        assert!(close(field.range().1, number(3)), "{row}: {:?}", field.range());
        assert!(close(field.resolution(), number(4)), "{row}: {}", field.resolution());
    }
}

#[test]
fn rows_are_in_order_and_fields_lie_inside_their_data() {
    assert!(PARAMETERS.is_sorted_by(|a, b| a.id < b.id));
    for row in PARAMETERS {
        let longest = *row.lengths.iter().max().unwrap();
        assert!(row.fields().iter().all(|field| field.at + field.bytes <= longest));
        assert_eq!(parameter(row.id).map(|found| found.id), Some(row.id));
    }
}

#[test]
fn wrong_lengths_are_refused() {
    assert_eq!(
        decode_parameter(0x32, &[0x00]),
        Err(DecodeError::TooShort { service: 1, needed: 2, found: 1 })
    );
    assert_eq!(
        decode_parameter(0x32, &[0, 0, 0]),
        Err(DecodeError::TooLong { service: 1, expected: 2, found: 3 })
    );
    assert_eq!(
        decode_parameter(0x06, &[0, 0, 0]),
        Err(DecodeError::TooLong { service: 1, expected: 2, found: 3 })
    );
    assert_eq!(
        decode_parameter(0xFE, &[0]),
        Err(DecodeError::UnknownParameter { parameter: 0xFE })
    );
}

#[test]
fn numbers_that_are_not_announced_are_left_out() {
    assert_eq!(decode_parameter(0x87, &[0x00, 0xFF, 0xFF, 0xFF, 0xFF]), Ok(vec![]));
    assert_eq!(decode_parameter(0x14, &[0x5A, 0xFF]).unwrap().len(), 1);
}

fn ids(content: &[u8]) -> Result<Vec<u8>, DecodeError> {
    Ok(decode_parameters(content)?.iter().map(|reading| reading.parameter).collect())
}

#[test]
fn several_parameters_in_one_answer_come_in_any_order() {
    let answer = hex_bytes("0C 0B B8 32 FC 18 2E 40 0B 1E");
    assert_eq!(ids(&answer), Ok(vec![0x0C, 0x32, 0x2E, 0x0B]));
    let readings = decode_parameters(&answer).unwrap();
    assert_eq!(readings[1].measured[0].value, -250.0);
    assert_eq!(readings[1].data, [0xFC, 0x18]);
    let turned = hex_bytes("0B 1E 2E 40 32 FC 18 0C 0B B8");
    assert_eq!(ids(&turned), Ok(vec![0x0B, 0x2E, 0x32, 0x0C]));
}

#[test]
fn unsound_answers_are_typed_errors() {
    let error = |bytes: &str| ids(&hex_bytes(bytes)).unwrap_err();
    assert_eq!(error(""), DecodeError::TooShort { service: 1, needed: 1, found: 0 });
    assert_eq!(error("32 FC"), DecodeError::TooShort { service: 1, needed: 2, found: 1 });
    assert_eq!(error("0C 0B B8 0C 0B B8"), DecodeError::Repeated { parameter: 0x0C });
    assert_eq!(error("0C 0B B8 FE 00"), DecodeError::UnknownParameter { parameter: 0xFE });
    // Parameter 0D follows with no byte.
    assert_eq!(error("0C 0B B8 0D"), DecodeError::TooShort { service: 1, needed: 1, found: 0 });
}

#[test]
fn trims_of_four_banks_are_found_by_their_length() {
    let readings = decode_parameters(&hex_bytes("06 80 8A 07 7C 84")).unwrap();
    let values: Vec<(u8, f64)> =
        readings.iter().flat_map(|r| &r.measured).map(|m| (m.place, m.value)).collect();
    assert_eq!(values, [(1, 0.0), (3, 7.8125), (1, -3.125), (3, 3.125)]);
    assert_eq!(ids(&hex_bytes("06 80 07 7C")), Ok(vec![0x06, 0x07]));
}

#[test]
fn an_answer_that_can_be_cut_in_two_ways_is_not_guessed_at() {
    // 06 [7C] 0B [0D] 0D [2E] against 06 [7C 0B] 0D [0D] 2E without data.
    assert_eq!(ids(&hex_bytes("06 7C 0B 0D 0D 2E")), Ok(vec![0x06, 0x0B, 0x0D]));
    // 06 [7C] 0B [0D] 2E [2F] 04 [05] against 06 [7C 0B] 0D [2E] 2F [04] 05 without data.
    assert_eq!(ids(&hex_bytes("06 7C 0B 0D 2E 2F 04 05")), Ok(vec![0x06, 0x0B, 0x2E, 0x04]));
    // Both cuts use every byte: 06 [7C] 07 [0B 0D] against 06 [7C 07] 0B [0D].
    let both = hex_bytes("06 7C 07 0B 0D");
    assert_eq!(ids(&both), Err(DecodeError::Ambiguous));
    let asked = decode_asked(&both, &[0x06, 0x0B]).unwrap();
    assert_eq!(asked[0].measured[1].value, -94.53125);
    assert_eq!(asked[1].measured[0].value, 13.0);
}

#[test]
fn an_answer_to_another_question_is_refused() {
    assert_eq!(
        decode_asked(&[0x0D, 0x3C], &[0x0C]),
        Err(DecodeError::NotAsked { parameter: 0x0D })
    );
}

#[test]
fn freeze_frames_carry_their_number_before_the_data() {
    let frames = decode_frame_parameters(&hex_bytes("0C 00 0B B8 05 00 7B")).unwrap();
    assert_eq!(frames.len(), 2);
    assert_eq!((frames[0].0, frames[0].1.measured[0].value), (0, 750.0));
    assert_eq!((frames[1].0, frames[1].1.measured[0].value), (0, 83.0));
    assert!(decode_frame_parameters(&hex_bytes("0C 00 0B")).is_err());
}

#[test]
fn encoding_a_value_gives_the_bytes_it_came_from() {
    for (id, bytes, expected) in hand_written() {
        let field = parameter(id)
            .unwrap()
            .fields()
            .iter()
            .find(|field| field.quantity == expected.quantity && field.place == expected.place)
            .unwrap();
        let own = &bytes[field.at..field.at + field.bytes];
        assert_eq!(field.encode(expected.value), own, "{id:02X} {expected:?}");
    }
    let pressure = parameter(0x32).unwrap().fields()[0];
    assert_eq!(pressure.encode(1e9), [0x7F, 0xFF]);
    assert_eq!(pressure.encode(-1e9), [0x80, 0x00]);
}

/// Whole answers made from random rows and bytes come back; the same answers with bytes changed,
/// dropped or added never panic and never give a number outside its row's range.
#[test]
fn random_answers_come_back_and_mutated_ones_never_panic() {
    let mut random = ChaCha8Rng::seed_from_u64(0x51_11);
    for _ in 0..20_000 {
        let mut answer = Vec::new();
        let mut asked = Vec::new();
        for _ in 0..random.random_range(1..=6) {
            let row = &PARAMETERS[random.random_range(0..PARAMETERS.len())];
            if asked.contains(&row.id) || row.lengths.len() > 1 {
                continue;
            }
            asked.push(row.id);
            answer.push(row.id);
            for _ in 0..row.length() {
                answer.push(random.random());
            }
        }
        if !asked.is_empty() {
            assert_eq!(ids(&answer), Ok(asked.clone()), "{answer:02X?}");
        }
        mutate(&mut answer, &mut random);
        for reading in decode_parameters(&answer).unwrap_or_default() {
            check_ranges(reading.parameter, &reading.measured);
        }
        let _ = decode_frame_parameters(&answer);
    }
}

fn check_ranges(id: u8, measured: &[Measured]) {
    let row = parameter(id).unwrap();
    assert!(matches!(row.content, Content::Numbers(_)) || measured.is_empty());
    for number in measured {
        let fits = row.fields().iter().any(|field| {
            let (low, high) = field.range();
            field.quantity == number.quantity && (low..=high).contains(&number.value)
        });
        assert!(fits, "{id:02X} {number:?}");
    }
}

fn mutate(bytes: &mut Vec<u8>, random: &mut impl Rng) {
    for _ in 0..random.random_range(1..=4) {
        let place = random.random_range(0..=bytes.len());
        match random.random_range(0..3) {
            0 => bytes.insert(place, random.random()),
            1 if place < bytes.len() => {
                bytes.remove(place);
            }
            _ if place < bytes.len() => bytes[place] = random.random(),
            _ => {}
        }
    }
}

/// Right and wrong readings of the pressure parameters, computed apart from this program.
#[test]
fn pressures_agree_with_the_published_cases_and_with_no_known_wrong_rule() {
    let text = include_str!("../../../fixtures/published/tank_pressure_cases.json");
    let reference: serde_json::Value = serde_json::from_str(text).unwrap();
    let mut held = 0;
    for (id, key, right) in
        [(0x32, "pid32_cases", "signed_div4_Pa"), (0x54, "pid54_cases", "signed_Pa")]
    {
        for (bytes, case) in reference[key].as_object().unwrap() {
            let value = decode_parameter(id, &hex_bytes(bytes)).unwrap()[0].value;
            assert_eq!(Some(value), case[right].as_f64(), "{id:02X} {bytes}");
            for (rule, wrong) in case.as_object().unwrap() {
                let differs = wrong.as_f64() != case[right].as_f64();
                assert!(rule == right || !differs || wrong.as_f64() != Some(value));
            }
            held += 1;
        }
    }
    for (bytes, kilopascal) in reference["pid53_cases_kPa"].as_object().unwrap() {
        let value = decode_parameter(0x53, &hex_bytes(bytes)).unwrap()[0].value;
        assert!(close(value, kilopascal.as_f64().unwrap()), "53 {bytes}");
        held += 1;
    }
    assert_eq!(held, 17);
}
