use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

/// The two characteristics of a wireless adapter that carry its serial stream. Text form
/// `WRITE/NOTIFY`, each a UUID or its short number of four or eight hexadecimal digits.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct StreamPair {
    /// Takes bytes: UUID in small letters.
    pub write: String,
    /// Gives bytes: UUID in small letters.
    pub notify: String,
}

/// A pair that a peripheral offers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StreamOffer {
    /// The characteristics.
    pub pair: StreamPair,
    /// Whether bytes are taken without an answer to each, which is faster.
    pub without_response: bool,
    /// Whether this one is taken when nobody chooses.
    pub usual: bool,
}

/// What stands behind the first eight digits of the UUID of every number that the Bluetooth SIG
/// assigns (Bluetooth core specification, volume 3 part B section 2.5.1).
const ASSIGNED: &str = "-0000-1000-8000-00805f9b34fb";

impl FromStr for StreamPair {
    type Err = ();

    fn from_str(text: &str) -> Result<Self, ()> {
        let (write, notify) = text.split_once('/').ok_or(())?;
        Ok(Self { write: whole(write).ok_or(())?, notify: whole(notify).ok_or(())? })
    }
}

impl fmt::Display for StreamPair {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", short(&self.write), short(&self.notify))
    }
}

/// The UUID in full, from any of its forms.
fn whole(text: &str) -> Option<String> {
    let text = text.trim().to_ascii_lowercase();
    let hex = |part: &str| part.bytes().all(|it| it.is_ascii_hexdigit());
    let whole = match text.len() {
        4 => format!("0000{text}{ASSIGNED}"),
        8 => format!("{text}{ASSIGNED}"),
        _ => text,
    };
    let lengths = whole.split('-').map(str::len);
    let is_uuid = lengths.eq([8, 4, 4, 4, 12]) && whole.split('-').all(hex);
    is_uuid.then_some(whole)
}

/// The short number where the UUID is an assigned one.
fn short(uuid: &str) -> &str {
    let number = uuid.strip_suffix(ASSIGNED).unwrap_or(uuid);
    if number.len() == 8 { number.strip_prefix("0000").unwrap_or(number) } else { number }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_pair_is_read_in_every_form_and_written_in_the_shortest() {
        let own = "0000aa01-1234-5678-9abc-def012345678";
        let rows = [
            ("ffe1/FFE1", Some("ffe1/ffe1")),
            ("0000FFF2/0000fff1", Some("fff2/fff1")),
            ("12345678/fff1", Some("12345678/fff1")),
            ("0000FFE1-0000-1000-8000-00805F9B34FB/ffe1", Some("ffe1/ffe1")),
            ("ffe1", None),
            ("ffe1/", None),
            ("ffg1/ffe1", None),
            ("ffe1/0000aa01-1234-5678-9abc-def01234567", None),
            ("7D:00/00:01", None),
        ];
        for (text, expected) in rows {
            let read = text.parse::<StreamPair>().ok().map(|it| it.to_string());
            assert_eq!(read.as_deref(), expected, "{text}");
        }
        let pair: StreamPair = format!("{own}/ffe1").parse().unwrap();
        assert_eq!(pair.write, own);
        assert_eq!(pair.to_string().parse(), Ok(pair));
    }
}
