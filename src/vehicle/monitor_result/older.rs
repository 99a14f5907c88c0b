use super::MonitorOutcome;
use crate::vehicle::DecodeError;

/// One result of a monitor on protocols before CAN: one limit, no unit. The numbers are counts
/// that only the maker's manual can translate; whether the test passed needs no manual.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OlderMonitorResult {
    /// The maker's number of the test.
    pub test: u8,
    /// The maker's number of the component.
    pub component: u8,
    /// Counts measured.
    pub value: u16,
    /// Counts allowed.
    pub limit: u16,
    /// Whether the limit is the least value allowed; else the largest.
    pub limit_is_least: bool,
    /// How the test ended.
    pub outcome: MonitorOutcome,
}

/// Bytes of a result: test, limit type and component, value, limit.
const RECORD: usize = 6;

/// Bit of the second byte that makes the limit the least value allowed (SAE J1979, from memory).
const LIMIT_IS_LEAST: u8 = 0x80;

/// The result in one answer to service 06 on protocols before CAN: what follows the byte 46.
/// Several results come as several answers.
pub fn decode_older_monitor_result(content: &[u8]) -> Result<OlderMonitorResult, DecodeError> {
    let [test, kind, v1, v2, l1, l2] = content else {
        let found = content.len();
        return Err(if found < RECORD {
            DecodeError::TooShort { service: 0x06, needed: RECORD, found }
        } else {
            DecodeError::TooLong { service: 0x06, expected: RECORD, found }
        });
    };
    let value = u16::from_be_bytes([*v1, *v2]);
    let limit = u16::from_be_bytes([*l1, *l2]);
    let limit_is_least = kind & LIMIT_IS_LEAST != 0;
    let passed = if limit_is_least { value >= limit } else { value <= limit };
    let outcome = match (value, limit, passed) {
        (0, 0, _) => MonitorOutcome::NotRun,
        (_, _, true) => MonitorOutcome::Passed,
        (_, _, false) => MonitorOutcome::Failed,
    };
    Ok(OlderMonitorResult {
        test: *test,
        component: kind & !LIMIT_IS_LEAST,
        value,
        limit,
        limit_is_least,
        outcome,
    })
}

#[cfg(test)]
mod tests {
    use super::decode_older_monitor_result as decode;
    use crate::vehicle::{DecodeError, MonitorOutcome, hex_bytes};

    fn outcome(bytes: &str) -> MonitorOutcome {
        decode(&hex_bytes(bytes)).unwrap().outcome
    }

    #[test]
    fn the_limit_is_largest_or_least_by_its_highest_bit() {
        assert_eq!(outcome("05 01 00 10 00 10"), MonitorOutcome::Passed);
        assert_eq!(outcome("05 01 00 11 00 10"), MonitorOutcome::Failed);
        assert_eq!(outcome("05 81 00 11 00 10"), MonitorOutcome::Passed);
        assert_eq!(outcome("05 81 00 0F 00 10"), MonitorOutcome::Failed);
        assert_eq!(outcome("05 81 00 00 00 00"), MonitorOutcome::NotRun);
        let result = decode(&hex_bytes("05 81 00 0F 00 10")).unwrap();
        assert_eq!((result.test, result.component, result.limit_is_least), (5, 1, true));
    }

    #[test]
    fn other_lengths_are_refused() {
        assert_eq!(
            decode(&[1, 2, 3]),
            Err(DecodeError::TooShort { service: 6, needed: 6, found: 3 })
        );
        assert_eq!(
            decode(&[0; 7]),
            Err(DecodeError::TooLong { service: 6, expected: 6, found: 7 })
        );
    }
}
