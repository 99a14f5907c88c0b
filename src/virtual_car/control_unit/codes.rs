use super::parameters::Snapshot;
use crate::vehicle::Fault;
use crate::virtual_car::chance::Chance;

/// Codes that a car brings along, as the two bytes that carry them.
#[derive(Clone, Debug, Default, PartialEq)]
pub(in crate::virtual_car) struct CodeDraw {
    stored: Vec<u16>,
    pending: Vec<u16>,
    permanent: Vec<u16>,
}

type Table = &'static [(f64, &'static [u16])];

const NOTHING: &[u16] = &[];

/// Which codes a fault stores how often, weights in per cent (common practice, no source). A car
/// often stores a neighbour's code or none.
fn table(fault: Option<Fault>, severity: f64) -> Table {
    match fault {
        None => &[
            (56.0, NOTHING),
            (12.0, &[0x0457]),
            (9.0, &[0x0455]),
            (8.0, &[0x0442]),
            (5.0, &[0x0456]),
            (4.0, &[0x0441]),
            (3.0, &[0x0446]),
            (2.0, &[0x0496]),
            (1.0, &[0x0451]),
        ],
        Some(Fault::PurgeValveLeaking) => &[
            (50.0, &[0x0496]),
            (17.0, &[0x0441]),
            (8.0, &[0x0441, 0x0496]),
            (5.0, &[0x0496, 0x0172]),
            (4.0, &[0x0172]),
            (12.0, NOTHING),
            (2.0, &[0x0455]),
            (2.0, &[0x0446]),
        ],
        Some(Fault::NoPurgeFlow) => &[
            (38.0, &[0x0497]),
            (34.0, &[0x0441]),
            (6.0, &[0x0441, 0x0497]),
            (12.0, NOTHING),
            (7.0, &[0x0455]),
            (3.0, &[0x0451]),
        ],
        Some(Fault::VentPathRestricted) => &[
            (46.0, &[0x0446]),
            (22.0, &[0x2422]),
            (8.0, &[0x0446, 0x2422]),
            (4.0, &[0x0449]),
            (12.0, NOTHING),
            (4.0, &[0x0441]),
            (4.0, &[0x0496]),
        ],
        Some(Fault::TankSensorOffset) => &[
            (40.0, &[0x0451]),
            (14.0, &[0x0452]),
            (14.0, &[0x0453]),
            (4.0, &[0x0450]),
            (18.0, NOTHING),
            (5.0, &[0x0446]),
            (5.0, &[0x0442]),
        ],
        Some(Fault::TankSensorSlow) => &[
            (46.0, &[0x0451]),
            (10.0, &[0x0454]),
            (28.0, NOTHING),
            (9.0, &[0x0446]),
            (7.0, &[0x0442]),
        ],
        Some(Fault::TankSensorStuck) => &[
            (42.0, &[0x0451]),
            (12.0, &[0x0452]),
            (12.0, &[0x0453]),
            (6.0, &[0x0450]),
            (12.0, NOTHING),
            (8.0, &[0x0441]),
            (8.0, &[0x0455]),
        ],
        // The limits lie at the holes of the regulation: 0.5 mm, 1 mm and well above.
        Some(Fault::VaporLeak) if severity < 0.42 => {
            &[(66.0, &[0x0456]), (12.0, &[0x0442]), (22.0, NOTHING)]
        }
        Some(Fault::VaporLeak) if severity < 0.75 => {
            &[(64.0, &[0x0442]), (10.0, &[0x0456]), (12.0, &[0x0455]), (14.0, NOTHING)]
        }
        Some(Fault::VaporLeak) => &[
            (52.0, &[0x0455]),
            (20.0, &[0x0457]),
            (14.0, &[0x0442]),
            (4.0, &[0x0440]),
            (10.0, NOTHING),
        ],
    }
}

impl CodeDraw {
    /// Takes in what another fault has stored.
    pub(in crate::virtual_car) fn join(&mut self, other: Self) {
        let lists = [
            (&mut self.stored, other.stored),
            (&mut self.pending, other.pending),
            (&mut self.permanent, other.permanent),
        ];
        for (known, more) in lists {
            for code in more {
                if !known.contains(&code) {
                    known.push(code);
                }
            }
        }
    }

    /// Draws what a fault has stored before the visit. A mild one is more often not noticed.
    pub(in crate::virtual_car) fn draw(
        fault: Option<Fault>,
        severity: f64,
        chance: &mut Chance,
    ) -> Self {
        let codes = chance.pick(table(fault, severity)).unwrap_or(NOTHING);
        let unnoticed = fault.is_some() && chance.happens(0.6 * (0.5 - severity).max(0.0));
        let ripe = !unnoticed && chance.happens(0.9);
        let permanent = ripe && chance.happens(0.7);
        let list = |wanted: bool| if wanted { codes.to_vec() } else { Vec::new() };
        Self { stored: list(ripe), pending: list(!unnoticed && !ripe), permanent: list(permanent) }
    }
}

#[cfg(test)]
impl CodeDraw {
    pub(super) fn stored(&self) -> &[u16] {
        &self.stored
    }

    pub(super) fn is_permanent(&self) -> bool {
        !self.permanent.is_empty()
    }
}

/// Code memory, freeze frame, readiness and the counters since the last erasure.
#[derive(Clone, Debug)]
pub(super) struct StoredCodes {
    stored: Vec<u16>,
    pending: Vec<u16>,
    permanent: Vec<u16>,
    frame: Option<(u16, Snapshot)>,
    erased: bool,
}

/// Purge valve circuit open.
const OPEN_PURGE_CIRCUIT: u16 = 0x0444;

impl StoredCodes {
    pub(super) fn new(draw: &CodeDraw, now: &Snapshot) -> Self {
        let frame = draw.stored.first().map(|code| (*code, frozen(now)));
        Self {
            stored: draw.stored.clone(),
            pending: draw.pending.clone(),
            permanent: draw.permanent.clone(),
            frame,
            erased: false,
        }
    }

    pub(super) fn stored(&self) -> &[u16] {
        &self.stored
    }

    pub(super) fn pending(&self) -> &[u16] {
        &self.pending
    }

    pub(super) fn permanent(&self) -> &[u16] {
        &self.permanent
    }

    /// Code and values of the freeze frame.
    pub(super) fn frame(&self) -> Option<(u16, &Snapshot)> {
        self.frame.as_ref().map(|(code, snapshot)| (*code, snapshot))
    }

    /// Pending only: it ripens on the second trip.
    pub(super) fn notice_open_purge_circuit(&mut self) {
        let known = self.pending.contains(&OPEN_PURGE_CIRCUIT);
        if !known && !self.stored.contains(&OPEN_PURGE_CIRCUIT) {
            self.pending.push(OPEN_PURGE_CIRCUIT);
        }
    }

    /// Service 04: everything but the permanent codes.
    pub(super) fn erase(&mut self) {
        self.stored.clear();
        self.pending.clear();
        self.frame = None;
        self.erased = true;
    }

    /// Service 01 parameters that speak of codes and readiness.
    pub(super) fn parameter(&self, parameter: u8, now: &Snapshot) -> Option<Vec<u8>> {
        let lamp = !self.stored.is_empty();
        // Misfire, fuel and components; catalyst, vapour system, oxygen sensor and its heater.
        const CONTINUOUS: u8 = 0x07;
        const ONCE_A_TRIP: u8 = 0x65;
        const VAPOUR_SYSTEM: u8 = 0x04;
        let open = match (self.erased, lamp) {
            (true, _) => ONCE_A_TRIP,
            (false, true) => 0,
            (false, false) if self.pending.is_empty() => 0,
            (false, false) => VAPOUR_SYSTEM,
        };
        Some(match parameter {
            0x01 => {
                let count = self.stored.len() as u8;
                vec![u8::from(lamp) << 7 | count, CONTINUOUS, ONCE_A_TRIP, open]
            }
            0x02 => self.stored.first().copied().unwrap_or(0).to_be_bytes().into(),
            // Distance with the lamp on, warm-ups and distance since the last erasure.
            0x21 => vec![0x00, if lamp { 0x8C } else { 0x00 }],
            0x30 => vec![if self.erased { 0 } else { 41 }],
            0x31 => {
                if self.erased {
                    vec![0, 0]
                } else {
                    vec![0x05, 0xDC]
                }
            }
            0x41 => {
                let running = now.seconds_running > 0.0;
                vec![0x00, if running { CONTINUOUS } else { 0 }, ONCE_A_TRIP, ONCE_A_TRIP]
            }
            _ => return None,
        })
    }
}

/// A frame as it is stored on the road: warm, at a steady speed, purging.
fn frozen(now: &Snapshot) -> Snapshot {
    Snapshot {
        key_on: true,
        tank: -12.0,
        manifold: 0.46 * now.barometer,
        throttle: 0.24,
        purge_command: 0.42,
        speed: 1850.0,
        vehicle_speed: 72.0,
        load: 0.41,
        coolant: 89.0,
        short_trim: -2.3,
        long_trim: 0.8,
        supply: 14.1,
        air_flow: 0.013,
        seconds_running: 912.0,
        closed_loop: true,
        fuel_is_cut: false,
        ..now.clone()
    }
}
