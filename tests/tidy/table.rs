use std::collections::BTreeSet;

use stilltank::vehicle::{PARAMETERS, SIGNAL_SOURCES};

use crate::sources;

/// Parameters of the decoder's table that give a number or name a code, and every parameter that
/// a signal comes from.
pub(crate) fn rows() -> BTreeSet<u8> {
    let numbers = PARAMETERS.iter().filter(|row| !row.fields().is_empty()).map(|row| row.id);
    let signals = SIGNAL_SOURCES.iter().flat_map(|row| row.parameters.iter().copied());
    numbers.chain(signals).collect()
}

/// Parameters that `fixtures/bytes/parameters.csv` works an example of by hand.
pub(crate) fn examples() -> BTreeSet<u8> {
    parse(&sources::read("fixtures/bytes/parameters.csv").text)
}

/// Complains about a row without an example: the virtual car and the decoder share the table, so a
/// wrong formula would go round unseen.
pub(crate) fn check(rows: &BTreeSet<u8>, examples: &BTreeSet<u8>) -> Vec<String> {
    rows.difference(examples)
        .map(|id| format!("parameter {id:02X}: no example in fixtures/bytes/parameters.csv"))
        .collect()
}

fn parse(text: &str) -> BTreeSet<u8> {
    let id = |line: &str| u8::from_str_radix(line.split(',').next()?, 16).ok();
    text.lines().filter_map(id).collect()
}

#[test]
fn a_row_without_an_example_is_caught() {
    let examples = parse("parameter,bytes,value\n32,FF FC,-1\n0C,0B B8,750\n");
    assert_eq!(check(&BTreeSet::from([0x0C, 0x32]), &examples), [""; 0]);
    let complaints = check(&BTreeSet::from([0x0C, 0x33]), &examples);
    assert_eq!(complaints, ["parameter 33: no example in fixtures/bytes/parameters.csv"]);
}
