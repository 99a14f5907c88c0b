use super::*;

const CAN11: Framing = Framing { protocol: Protocol::Can11, headers: true };
const CAN29: Framing = Framing { protocol: Protocol::Can29, headers: true };
const BARE: Framing = Framing { protocol: Protocol::Can11, headers: false };

fn heard(text: &str, framing: Framing) -> Heard {
    hear(&Reply::parse(text.as_bytes(), b""), framing, &mut Assembler::default())
}

fn message(unit: u32, payload: &[u8]) -> Message {
    Message { unit: UnitId(unit), payload: payload.to_vec() }
}

fn identification(unit: u32) -> Message {
    message(unit, &[&[0x49, 0x02, 0x01][..], b"9ZZAB12C0R1000001"].concat())
}

/// A synthetic number in three frames by the rules of ISO 15765-2, worked by hand as in
/// `isotp/assembler`, as an adapter shows it: with and without spaces, with 11-bit
/// and 29-bit identifiers, and without headers.
#[test]
fn one_message_reads_alike_in_every_form() {
    let spaced = "7E8 10 14 49 02 01 39 5A 5A\r7E8 21 41 42 31 32 43 30 52\r\
                  7E8 22 31 30 30 30 30 30 31\r\r";
    assert_eq!(heard(spaced, CAN11).messages, vec![identification(0x7E8)]);
    assert_eq!(heard(&spaced.replace(' ', ""), CAN11).messages, vec![identification(0x7E8)]);
    let long = spaced.replace("7E8", "18 DA F1 10");
    assert_eq!(heard(&long, CAN29).messages, vec![identification(0x18DA_F110)]);
    let bare = "014\r0:490201395A5A\r1:41423132433052\r2:31303030303031\r\r";
    let bare = heard(bare, BARE);
    assert_eq!(bare.messages, vec![identification(0)]);
    assert!(!bare.damaged && !bare.incomplete);
}

#[test]
fn two_units_are_told_apart() {
    let heard = heard("7E8064100BE3EA81300\r7E90641008018000100\r", CAN11);
    let first = message(0x7E8, &[0x41, 0x00, 0xBE, 0x3E, 0xA8, 0x13]);
    let second = message(0x7E9, &[0x41, 0x00, 0x80, 0x18, 0x00, 0x01]);
    assert_eq!(heard.messages, vec![first, second]);
    assert!(!heard.damaged);
}

#[test]
fn damage_in_any_line_is_seen() {
    let damaged = [
        "7E8064100BE3EA8130\r",   // a digit lost
        "7E8064100BE3EA813\r\r7", // a stray digit
        "7E5064100BE3EA81300\r",  // no answer's identifier
        "7E8064100BE3xA81300\r",  // no digit
        "7E8064100BE3EA8130\r0\r",
        "OK\r7E8064100BE3EA81300\r",
    ];
    for text in damaged {
        assert!(heard(text, CAN11).damaged, "{text:?}");
    }
}

#[test]
fn a_long_answer_without_its_end_is_incomplete() {
    assert!(heard("7E81014490201395A5A\r7E82141423132433052\r", CAN11).incomplete);
    assert!(heard("014\r0:490201395A5A\r1:41423132433052\r", BARE).incomplete);
}

#[test]
fn answers_are_sorted_by_what_they_say() {
    let request = Request::new(0x01, &[0x0C, 0x0D]);
    let sorted = sort(
        &request,
        vec![
            message(0x7E8, &[0x7F, 0x01, 0x78]),
            message(0x7E8, &[0x41, 0x0C, 0x1A, 0xF8]),
            message(0x7E9, &[0x7F, 0x01, 0x12]),
            message(0x7EA, &[0x7F, 0x01, 0x78]),
            message(0x7EB, &[0x41, 0x05, 0x50]),
            message(0x7EB, &[0x42, 0x0C, 0x50]),
            message(0x7EC, &[0x7F, 0x09, 0x12]),
        ],
    );
    assert_eq!(sorted.positive, vec![message(0x7E8, &[0x41, 0x0C, 0x1A, 0xF8])]);
    assert_eq!(sorted.refused, vec![(UnitId(0x7E9), 0x12)]);
    assert_eq!(sorted.pending, vec![UnitId(0x7EA)]);
    assert!(sorted.strange);
}

#[test]
fn a_reply_without_data_has_a_typed_cause() {
    let cause = |text: &str| failure_of(&Reply::parse(text.as_bytes(), b"010C"));
    assert_eq!(cause("NO DATA\r\r"), LinkError::NoData);
    assert_eq!(cause("SEARCHING...\rUNABLE TO CONNECT\r\r"), LinkError::UnableToConnect);
    assert_eq!(cause("STOPPED\r\r"), LinkError::Stopped);
    assert_eq!(cause("?\r\r"), LinkError::UnknownCommand);
    assert_eq!(cause("\r\r"), LinkError::EmptyAnswer);
    assert_eq!(cause("LV RESET\r\r"), LinkError::LowVoltage);
    assert_eq!(cause("welcome\r\r"), LinkError::Damaged);
}

#[test]
fn older_buses_read_through_their_check_byte() {
    let iso = Framing { protocol: Protocol::Iso9141, headers: true };
    // 48+6B+10+41+0C+1A+F8 = 222, so the check byte is 22.
    let right = heard("48 6B 10 41 0C 1A F8 22\r", iso);
    assert_eq!(right.messages, vec![message(0x10, &[0x41, 0x0C, 0x1A, 0xF8])]);
    assert!(heard("48 6B 10 41 0C 1A F9 22\r", iso).damaged);
}
