/// How the car's bus frames messages; the numbers are those of the dialect (common practice).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Protocol {
    /// ISO 15765-4, 11-bit identifiers.
    Can11,
    /// ISO 15765-4, 29-bit identifiers.
    Can29,
    /// ISO 9141-2.
    Iso9141,
    /// ISO 14230-4.
    Iso14230,
    /// SAE J1850, either modulation.
    J1850,
}

impl Protocol {
    /// From the dialect's number; `None` for those that carry no legislated diagnosis.
    pub(in crate::link) fn from_number(number: u8) -> Option<Self> {
        match number {
            1 | 2 => Some(Self::J1850),
            3 => Some(Self::Iso9141),
            4 | 5 => Some(Self::Iso14230),
            6 | 8 => Some(Self::Can11),
            7 | 9 => Some(Self::Can29),
            _ => None,
        }
    }

    /// From a line with header and framing bytes, spaces removed, where the adapter does not say.
    /// An 11-bit identifier has three digits, so its lines have an odd number of them.
    pub(in crate::link) fn from_line(digits: &str) -> Option<Self> {
        if !digits.len().is_multiple_of(2) {
            return digits.starts_with('7').then_some(Self::Can11);
        }
        if digits.starts_with("18DAF1") {
            return Some(Self::Can29);
        }
        match digits.get(..4)? {
            "486B" => Some(Self::Iso9141),
            "416B" => Some(Self::J1850),
            other if other.starts_with('8') && other.ends_with("F1") => Some(Self::Iso14230),
            _ => None,
        }
    }

    /// Whether frames travel on CAN.
    pub fn is_can(self) -> bool {
        matches!(self, Self::Can11 | Self::Can29)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_tell_the_protocol() {
        assert_eq!(Protocol::from_line("7E8064100BE3EA813AA"), Some(Protocol::Can11));
        assert_eq!(Protocol::from_line("18DAF110064100BE3EA813AA"), Some(Protocol::Can29));
        assert_eq!(Protocol::from_line("486B104100BE3EB811FA"), Some(Protocol::Iso9141));
        assert_eq!(Protocol::from_line("86F1104100BE3EB811E3"), Some(Protocol::Iso14230));
        assert_eq!(Protocol::from_line("416B104100BE3EB81100"), Some(Protocol::J1850));
        assert_eq!(Protocol::from_line("4100BE3EB811"), None);
    }
}
