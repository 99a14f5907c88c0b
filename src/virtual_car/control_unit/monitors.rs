/// What the car's own monitors found on its last trips: enough for service 06.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::virtual_car) struct MonitorFacts {
    /// Equivalent hole that the leak monitor found, mm.
    pub(in crate::virtual_car) hole_mm: f64,
    /// Tank pressure that full purge makes with the vent shut for a moment, Pa.
    pub(in crate::virtual_car) purge_vacuum: f64,
    /// Tank pressure with the purge valve shut and the vent shut for a moment, Pa.
    pub(in crate::virtual_car) shut_vacuum: f64,
    /// Whether the monitors ran since the codes were erased.
    pub(in crate::virtual_car) ran: bool,
}

/// Monitor identifiers: 0.040 in, 0.020 in, purge flow (SAE J1979 appendix D, from memory).
const SMALL_LEAK: u8 = 0x3B;
const SMALLEST_LEAK: u8 = 0x3C;
const PURGE_FLOW: u8 = 0x3D;

/// Units and scalings (SAE J1979 appendix E, from memory): 0.0000305 in, 0.001 kPa, 0.25 Pa.
const INCHES: u8 = 0x32;
const PASCALS: u8 = 0xFD;
const QUARTER_PASCALS: u8 = 0xFE;

/// One result: test, unit, value, least and most.
struct Record {
    test: u8,
    unit: u8,
    value: i32,
    least: i32,
    most: i32,
}

impl MonitorFacts {
    /// Service 04 erases the results.
    pub(super) fn forget(&mut self) {
        self.ran = false;
    }

    /// The answer to a service 06 request.
    pub(super) fn answer(&self, wanted: u8) -> Option<Vec<u8>> {
        if wanted.is_multiple_of(0x20) {
            let has = |it: u8| self.records(it).is_some();
            let map = super::supported(wanted, has)?;
            return Some([vec![0x46, wanted], map].concat());
        }
        let mut answer = vec![0x46];
        for record in self.records(wanted)? {
            answer.extend([wanted, record.test, record.unit]);
            for number in [record.value, record.least, record.most] {
                // Results that were erased read zero, limits included.
                let number = if self.ran { number } else { 0 };
                answer.extend((number as u16).to_be_bytes());
            }
        }
        Some(answer)
    }

    fn records(&self, monitor: u8) -> Option<Vec<Record>> {
        // 0.0000305 in a bit.
        let hole = (self.hole_mm / 25.4 / 0.000_030_5).round() as i32;
        let up_to = |most: i32| {
            vec![Record { test: 0x81, unit: INCHES, value: hole.min(0xFFFF), least: 0, most }]
        };
        Some(match monitor {
            SMALL_LEAK => up_to(1311),
            SMALLEST_LEAK => up_to(656),
            PURGE_FLOW => vec![
                Record {
                    test: 0x91,
                    unit: PASCALS,
                    value: self.purge_vacuum.round() as i32,
                    least: -0x8000,
                    most: -250,
                },
                Record {
                    test: 0x92,
                    unit: QUARTER_PASCALS,
                    value: (self.shut_vacuum * 4.0).round() as i32,
                    least: -1600,
                    most: 1600,
                },
            ],
            _ => return None,
        })
    }
}
