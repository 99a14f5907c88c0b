use super::*;
use crate::link::adapter::reply::{LONGEST_LINE, bytes_of};

fn play(lines: &[(u32, &str)]) -> Vec<Step> {
    let mut assembler = Assembler::default();
    lines
        .iter()
        .map(|(unit, digits)| {
            assembler.handle_frame(
                UnitId(*unit),
                bytes_of(&digits.replace(' ', ""), &mut [0; LONGEST_LINE]).unwrap(),
            )
        })
        .collect()
}

/// Splits a message as the rules of ISO 15765-2 say, padded to eight bytes.
fn segments(payload: &[u8]) -> Vec<Vec<u8>> {
    let padded = |mut frame: Vec<u8>| {
        frame.resize(8, 0x55);
        frame
    };
    if payload.len() <= 7 {
        let mut frame = vec![u8::try_from(payload.len()).unwrap()];
        frame.extend_from_slice(payload);
        return vec![padded(frame)];
    }
    let [high, low] = u16::try_from(payload.len()).unwrap().to_be_bytes();
    let (head, tail) = payload.split_at(6);
    let mut frames = vec![[&[0x10 | high, low], head].concat()];
    for (number, part) in tail.chunks(7).enumerate() {
        let index = u8::try_from((number + 1) % 16).unwrap();
        frames.push(padded([&[0x20 | index], part].concat()));
    }
    frames
}

/// The vehicle identification number's answer, built from the rules of ISO 15765-2 and SAE J1979
/// with a synthetic number.
#[test]
fn vehicle_identification_number_of_three_frames() {
    let steps = play(&[
        (0x7E8, "10 14 49 02 01 39 5A 5A"),
        (0x7E8, "21 41 42 31 32 43 30 52"),
        (0x7E8, "22 31 30 30 30 30 30 31"),
    ]);
    let mut payload = vec![0x49, 0x02, 0x01];
    payload.extend_from_slice(b"9ZZAB12C0R1000001");
    let whole = Step::Whole(Message { unit: UnitId(0x7E8), payload });
    assert_eq!(steps, vec![Step::More, Step::More, whole]);
}

#[test]
fn units_may_interleave() {
    let steps = play(&[
        (0x7E8, "10 0A 41 00 01 02 03 04"),
        (0x7E9, "10 09 41 00 11 12 13 14"),
        (0x7E9, "21 15 16 17 55 55 55 55"),
        (0x7E8, "21 05 06 07 08 55 55 55"),
    ]);
    let second = vec![0x41, 0x00, 0x11, 0x12, 0x13, 0x14, 0x15, 0x16, 0x17];
    let first = vec![0x41, 0x00, 1, 2, 3, 4, 5, 6, 7, 8];
    assert_eq!(
        steps,
        vec![
            Step::More,
            Step::More,
            Step::Whole(Message { unit: UnitId(0x7E9), payload: second }),
            Step::Whole(Message { unit: UnitId(0x7E8), payload: first }),
        ]
    );
}

#[test]
fn wrong_sequence_number_ends_the_message() {
    let steps = play(&[
        (0x7E8, "10 14 49 02 01 39 5A 5A"),
        (0x7E8, "22 41 42 31 32 43 30 52"),
        (0x7E8, "23 31 30 30 30 30 30 31"),
    ]);
    assert_eq!(steps, vec![Step::More, Step::Broken, Step::Broken]);
}

#[test]
fn a_unit_that_pads_once_pads_always() {
    let steps = play(&[(0x7E8, "03 41 0D 32 55 55 55 55"), (0x7E8, "03 41 0D 32")]);
    assert_eq!(steps.last(), Some(&Step::Broken));
    let never = play(&[(0x7E8, "03 41 0D 32"), (0x7E8, "03 41 0D 33")]);
    assert!(matches!(never.last(), Some(Step::Whole(_))));
}

#[test]
fn every_length_survives_and_the_index_wraps() {
    for length in 1..=4095_usize {
        let payload: Vec<u8> = (0..length).map(|it| u8::try_from(it * 31 % 251).unwrap()).collect();
        let mut assembler = Assembler::default();
        let frames = segments(&payload);
        let (last, earlier) = frames.split_last().unwrap();
        for frame in earlier {
            assert_eq!(assembler.handle_frame(UnitId(0x7E8), frame), Step::More);
        }
        let whole = Step::Whole(Message { unit: UnitId(0x7E8), payload });
        assert_eq!(assembler.handle_frame(UnitId(0x7E8), last), whole);
        assert!(!assembler.finish());
    }
}

#[test]
fn any_lost_or_doubled_frame_is_noticed() {
    let payload: Vec<u8> = (0..200).collect();
    let frames = segments(&payload);
    for position in 1..frames.len() {
        for doubled in [false, true] {
            let mut changed = frames.clone();
            if doubled {
                changed.insert(position, frames.get(position).unwrap().clone());
            } else {
                changed.remove(position);
            }
            let mut assembler = Assembler::default();
            let whole = changed
                .iter()
                .map(|frame| assembler.handle_frame(UnitId(0x7E8), frame))
                .any(|step| matches!(step, Step::Whole(_)));
            // A doubled last frame comes after the whole message and is noticed there.
            let after_the_end = doubled && position == frames.len() - 1;
            assert_eq!(whole, after_the_end, "position {position}, doubled {doubled}");
        }
    }
}
