use std::collections::BTreeSet;

use super::parameter_table::decode_frame_parameters;
use super::{DecodeError, Measured, TroubleCode};

/// What the car stored at the moment a trouble code was set (service 02).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct FreezeFrame {
    /// Number of the frame; the law asks for frame 0.
    pub frame: u8,
    /// Code that stored it; `None` if none did, and then the values mean nothing.
    pub code: Option<TroubleCode>,
    /// The stored numbers, in the order they came.
    pub values: Vec<Measured>,
    /// Parameters that were answered.
    parameters: BTreeSet<u8>,
}

/// Parameter 02: the code that stored the frame.
const STORED_BY: u8 = 0x02;

impl FreezeFrame {
    /// An empty frame to add answers to.
    pub fn new(frame: u8) -> Self {
        Self { frame, ..Self::default() }
    }

    /// Adds an answer to service 02: what follows the byte 42. A parameter that is known already,
    /// or one of another frame, is an error, and nothing of that answer is kept.
    pub fn add_answer(&mut self, content: &[u8]) -> Result<(), DecodeError> {
        let mut grown = self.clone();
        for (frame, reading) in decode_frame_parameters(content)? {
            if frame != self.frame {
                return Err(DecodeError::WrongEcho { expected: self.frame, found: frame });
            }
            if !grown.parameters.insert(reading.parameter) {
                return Err(DecodeError::Repeated { parameter: reading.parameter });
            }
            if let (STORED_BY, [high, low]) = (reading.parameter, reading.data.as_slice()) {
                grown.code = TroubleCode::from_bytes([*high, *low]);
            }
            for measured in reading.measured {
                let key = |number: &Measured| (number.quantity, number.place);
                // Two parameters may give the same quantity; the first one stays.
                if grown.values.iter().all(|known| key(known) != key(&measured)) {
                    grown.values.push(measured);
                }
            }
        }
        *self = grown;
        Ok(())
    }

    /// A stored value.
    pub fn value(&self, quantity: super::Quantity) -> Option<f64> {
        self.values.iter().find(|measured| measured.quantity == quantity).map(|m| m.value)
    }
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::FreezeFrame;
    use crate::vehicle::{DecodeError, Quantity, hex_bytes};

    #[test]
    fn answers_add_up_to_one_frame() {
        let mut frame = FreezeFrame::new(0);
        frame.add_answer(&hex_bytes("02 00 04 96")).unwrap();
        frame.add_answer(&hex_bytes("05 00 7B 0C 00 0B B8")).unwrap();
        frame.add_answer(&hex_bytes("32 00 FC 18")).unwrap();
        assert_eq!(frame.code.map(|code| code.to_string()), Some("P0496".to_owned()));
        assert_eq!(frame.value(Quantity::Coolant), Some(83.0));
        assert_eq!(frame.value(Quantity::EngineSpeed), Some(750.0));
        assert_eq!(frame.value(Quantity::TankPressure), Some(-250.0));
        assert_eq!(frame.value(Quantity::FuelLevel), None);
    }

    #[test]
    fn no_code_means_no_frame() {
        let mut frame = FreezeFrame::new(0);
        frame.add_answer(&hex_bytes("02 00 00 00")).unwrap();
        assert_eq!(frame.code, None);
    }

    #[test]
    fn another_frame_or_a_second_value_changes_nothing() {
        let mut frame = FreezeFrame::new(0);
        frame.add_answer(&hex_bytes("05 00 7B")).unwrap();
        let before = frame.clone();
        assert_eq!(
            frame.add_answer(&hex_bytes("0C 00 0B B8 05 00 7C")),
            Err(DecodeError::Repeated { parameter: 0x05 })
        );
        assert_eq!(
            frame.add_answer(&hex_bytes("0C 01 0B B8")),
            Err(DecodeError::WrongEcho { expected: 0, found: 1 })
        );
        assert!(frame.add_answer(&[]).is_err());
        assert_eq!(frame, before);
    }

    #[test]
    fn random_answers_never_panic() {
        let mut random = ChaCha8Rng::seed_from_u64(0x02);
        for _ in 0..20_000 {
            let bytes: Vec<u8> = (0..random.random_range(0..24))
                .map(|_| if random.random() { random.random() } else { random.random_range(0..16) })
                .collect();
            let mut frame = FreezeFrame::new(0);
            if frame.add_answer(&bytes).is_err() {
                assert_eq!(frame, FreezeFrame::new(0));
            }
        }
    }
}
