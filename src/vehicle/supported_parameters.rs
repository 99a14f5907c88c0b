use std::collections::BTreeSet;

use super::{DecodeError, Signal, signal_source};

/// Which parameters a control unit says it offers. Listed is not yet delivered: a listed
/// parameter may be frozen or substituted (see [`Plausibility`](super::Plausibility)).
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SupportedParameters(BTreeSet<u8>);

impl SupportedParameters {
    /// Adds one block: `base` is the parameter that lists it (00, 20, 40, …), the highest bit of
    /// the first byte stands for the parameter after it.
    pub fn add_block(&mut self, base: u8, data: [u8; 4]) -> Result<(), DecodeError> {
        if base & 0x1F != 0 {
            return Err(DecodeError::NotASupportList { parameter: base });
        }
        let bits = u32::from_be_bytes(data);
        for step in 1..=32_u8 {
            let listed = bits.wrapping_shr(u32::from(32_u8.saturating_sub(step))) & 1 == 1;
            // The last block would list a parameter 100, which does not exist.
            if let (true, Some(parameter)) = (listed, base.checked_add(step)) {
                self.0.insert(parameter);
            }
        }
        Ok(())
    }

    /// Adds every block of an answer: what follows the byte 41 (or 46 for monitors, 49 for
    /// identification without its count). Nothing is added unless the whole answer is sound.
    pub fn add_answer(&mut self, content: &[u8]) -> Result<(), DecodeError> {
        if content.is_empty() {
            return Err(DecodeError::TooShort { service: 0x01, needed: 5, found: 0 });
        }
        let mut grown = self.clone();
        let mut seen = BTreeSet::new();
        for block in content.chunks(5) {
            let [base, a, b, c, d] = block else {
                return Err(DecodeError::TooShort { service: 0x01, needed: 5, found: block.len() });
            };
            if !seen.insert(*base) {
                return Err(DecodeError::Repeated { parameter: *base });
            }
            grown.add_block(*base, [*a, *b, *c, *d])?;
        }
        *self = grown;
        Ok(())
    }

    /// The parameter that lists the block after the ones known, if the car has such a block.
    pub fn next_list(&self) -> Option<u8> {
        match self.0.last() {
            None => Some(0x00),
            Some(last) if last & 0x1F == 0 => Some(*last),
            Some(_) => None,
        }
    }

    /// Whether a parameter is listed.
    pub fn contains(&self, parameter: u8) -> bool {
        self.0.contains(&parameter)
    }

    /// The listed parameters, without those that only list others.
    pub fn iter(&self) -> impl Iterator<Item = u8> + '_ {
        self.0.iter().copied().filter(|parameter| parameter & 0x1F != 0)
    }

    /// Number of listed parameters, without those that only list others.
    pub fn len(&self) -> usize {
        self.iter().count()
    }

    /// Whether nothing is listed.
    pub fn is_empty(&self) -> bool {
        self.iter().next().is_none()
    }

    /// Signals that the listed parameters allow, in the order of [`Signal::ALL`].
    pub fn signals(&self) -> Vec<Signal> {
        Signal::ALL
            .into_iter()
            .filter(|signal| signal_source::parameter_for(*signal, self).is_some())
            .collect()
    }
}

impl FromIterator<u8> for SupportedParameters {
    fn from_iter<I: IntoIterator<Item = u8>>(parameters: I) -> Self {
        Self(parameters.into_iter().collect())
    }
}

#[cfg(test)]
mod tests {
    use rand::{RngExt, SeedableRng};
    use rand_chacha::ChaCha8Rng;

    use super::SupportedParameters;
    use crate::vehicle::{DecodeError, Signal};

    /// Bits set by hand, most significant first (SAE J1979, from memory): BE = 1011 1110 is
    /// 01, 03..07; 1F = 0001 1111 is 0C..10; A8 = 1010 1000 is 11, 13, 15; 13 = 0001 0011 is
    /// 1C, 1F, 20.
    #[test]
    fn bits_stand_for_parameters_from_the_highest_down() {
        let mut supported = SupportedParameters::default();
        assert_eq!(supported.next_list(), Some(0x00));
        supported.add_answer(&[0x00, 0xBE, 0x1F, 0xA8, 0x13]).unwrap();
        let listed: Vec<u8> = supported.iter().collect();
        let expected = [
            0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x13, 0x15,
            0x1C, 0x1F,
        ];
        assert_eq!(listed, expected);
        assert_eq!(supported.next_list(), Some(0x20));
        assert!(supported.contains(0x20));
        assert_eq!(supported.len(), 16);
    }

    /// 00 06 40 00: 0000 0110 is 2E, 2F; 0100 0000 is 32 (third byte: 31..38).
    #[test]
    fn several_blocks_in_one_answer_add_up() {
        let mut supported = SupportedParameters::default();
        let answer = [0x20, 0x00, 0x06, 0x40, 0x00, 0x00, 0x00, 0x10, 0x00, 0x01];
        supported.add_answer(&answer).unwrap();
        assert_eq!(supported.iter().collect::<Vec<_>>(), [0x0C, 0x2E, 0x2F, 0x32]);
        assert_eq!(supported.next_list(), None);
        assert_eq!(
            supported.signals(),
            [Signal::TankPressure, Signal::PurgeCommand, Signal::EngineSpeed, Signal::FuelLevel]
        );
    }

    #[test]
    fn nothing_is_added_from_an_unsound_answer() {
        let sound = [0x00, 0xFF, 0xFF, 0xFF, 0xFF];
        let cases: [(&[u8], DecodeError); 4] = [
            (&[], DecodeError::TooShort { service: 1, needed: 5, found: 0 }),
            (&[0x00, 0xFF, 0xFF], DecodeError::TooShort { service: 1, needed: 5, found: 3 }),
            (&[0x05, 1, 2, 3, 4], DecodeError::NotASupportList { parameter: 0x05 }),
            (&[sound, sound].concat(), DecodeError::Repeated { parameter: 0x00 }),
        ];
        for (answer, expected) in cases {
            let mut supported = SupportedParameters::default();
            assert_eq!(supported.add_answer(answer), Err(expected));
            assert!(supported.is_empty());
        }
    }

    /// Whatever comes: what is taken stands in the bits, and nothing is taken of what is refused.
    #[test]
    fn random_answers_never_panic_and_list_only_what_stands_in_their_bits() {
        let mut random = ChaCha8Rng::seed_from_u64(0x5B);
        let mut taken = 0;
        for _ in 0..20_000 {
            let mut answer: Vec<u8> =
                (0..random.random_range(0..24)).map(|_| random.random()).collect();
            if random.random() {
                answer.truncate(answer.len() / 5 * 5);
                answer.iter_mut().step_by(5).for_each(|base| *base &= 0xE0);
            }
            let mut supported = SupportedParameters::default();
            if supported.add_answer(&answer).is_err() {
                assert!(supported.is_empty());
                continue;
            }
            taken += 1;
            let bit = |id: u8| {
                answer.chunks_exact(5).any(|block| {
                    let place = usize::from(id.wrapping_sub(block[0]).wrapping_sub(1));
                    id > block[0] && place < 32 && block[1 + place / 8] >> (7 - place % 8) & 1 == 1
                })
            };
            for id in 1..=u8::MAX {
                assert_eq!(supported.contains(id), bit(id), "{id:02X} in {answer:02X?}");
            }
        }
        assert!(taken > 1_000, "{taken}");
    }

    #[test]
    fn the_last_block_lists_nothing_beyond_a_byte() {
        let mut supported = SupportedParameters::default();
        supported.add_block(0xE0, [0xFF; 4]).unwrap();
        assert_eq!(supported.iter().count(), 31);
        assert_eq!(supported.next_list(), None);
    }
}
