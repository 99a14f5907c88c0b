use crate::virtual_car::chance::Chance;

/// Who the car says it is. All invented.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::virtual_car) struct Identity {
    pub(in crate::virtual_car) vin: String,
    calibration: String,
    verification: [u8; 4],
    counters: Vec<u16>,
}

/// Letters and digits of a vehicle identification number: I, O and Q are left out (ISO 3779).
const LETTERS: &[u8] = b"ABCDEFGHJKLMNPRSTUVWXYZ0123456789";

impl Identity {
    pub(in crate::virtual_car) fn draw(chance: &mut Chance, altitude: f64) -> Self {
        // World manufacturer identifiers that no maker holds.
        let maker =
            chance.pick(&[(1.0, "9ZZ"), (1.0, "8AZ"), (1.0, "1ZZ"), (1.0, "JAZ")]).unwrap_or("9ZZ");
        let mut vin = maker.as_bytes().to_vec();
        for place in 3..17 {
            let symbols = match place {
                // The check digit's place, filled below.
                8 => b"0".as_slice(),
                // Model year: 2005 to 2009 and 2010 to 2020 in the regulation's letters.
                9 => b"56789ABCDEFGHJKL".as_slice(),
                11.. => b"0123456789".as_slice(),
                _ => LETTERS,
            };
            vin.push(symbols.get(chance.below(symbols.len())).copied().unwrap_or(b'0'));
        }
        if let (Some(digit), Some(place)) = (check_digit(&vin), vin.get_mut(8)) {
            *place = digit;
        }
        // Denominators stay small where most trips are too high for the monitor (above 8000 ft).
        let trips = chance.between(60.0, 900.0) * if altitude > 2438.0 { 0.1 } else { 1.0 };
        let ratio = chance.between(0.3, 1.4);
        let mut counters = vec![trips as u16, (trips * 2.2) as u16];
        for _ in 0..6 {
            counters.extend([(trips * 0.9) as u16, trips as u16]);
        }
        counters.extend([(trips * ratio * 0.5) as u16, (trips * 0.5) as u16]);
        Self {
            vin: vin.iter().map(|letter| char::from(*letter)).collect(),
            calibration: format!("VC{:06}-EVAP", chance.below(1_000_000)),
            verification: (chance.between(1.0, 4.0e9) as u32).to_be_bytes(),
            counters,
        }
    }

    /// The answer to a service 09 request.
    pub(super) fn answer(&self, wanted: u8) -> Option<Vec<u8>> {
        let text = |length: usize, text: &[u8]| {
            let mut data = vec![0x49, wanted, 0x01];
            data.extend(text);
            data.resize(3 + length, 0x00);
            data
        };
        Some(match wanted {
            0x00 => {
                let has = |it: u8| matches!(it, 0x02 | 0x04 | 0x06 | 0x08 | 0x0A);
                [vec![0x49, 0x00], super::supported(0, has)?].concat()
            }
            0x02 => text(17, self.vin.as_bytes()),
            0x04 => text(16, self.calibration.as_bytes()),
            0x06 => text(4, &self.verification),
            0x08 => {
                let mut data = vec![0x49, 0x08, self.counters.len() as u8];
                data.extend(self.counters.iter().flat_map(|counter| counter.to_be_bytes()));
                data
            }
            0x0A => text(20, b"ECM\0-EngineControl"),
            _ => return None,
        })
    }
}

/// Check digit of a vehicle identification number (49 CFR 565.15, tables III to V); `None` if a
/// letter has no place in one.
pub(super) fn check_digit(vin: &[u8]) -> Option<u8> {
    const WEIGHTS: [u32; 17] = [8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2];
    let mut sum = 0;
    for (letter, weight) in vin.iter().zip(WEIGHTS) {
        let value = match letter {
            b'0'..=b'9' => letter - b'0',
            b'A'..=b'H' => letter - b'A' + 1,
            b'J'..=b'N' => letter - b'J' + 1,
            b'P' => 7,
            b'R' => 9,
            b'S'..=b'Z' => letter - b'S' + 2,
            _ => return None,
        };
        sum += u32::from(value) * weight;
    }
    match sum % 11 {
        10 => Some(b'X'),
        digit => u8::try_from(digit).ok().map(|digit| b'0' + digit),
    }
}
