//! What each fault does to a car. `severity` 0 is mild, 1 is gross; sizes grow evenly on a
//! logarithmic scale between:
//!
//! | fault | severity 0 | severity 1 | drawn clear | drawn hard |
//! |---|---|---|---|---|
//! | purge valve leaking: share of full purge flow | 0.5 % | 40 % | 5 to 40 % | 0.5 to 15 % |
//! | no purge flow: share of the valve's travel left | 50 % | 0 % | below 1.2 % | below 8 % |
//! | vent path restricted: times the sound pressure loss | 1.5 | 40 | 8 to 40 | 4 to 12 |
//! | tank sensor offset: Pa, either way | 60 | 1500 | 400 to 1500 | 350 to 900 |
//! | tank sensor slow: time constant, s | 0.4 | 6 | 2 to 6 | 1.5 to 4 |
//! | tank sensor stuck: share that still comes through | 10 % | 0 % | below 1 % | below 5 % |
//! | vapour leak: hole, mm | 0.25 | 3 | 0.5 to 3 | 0.5 to 1.5 |
//!
//! The ranges are what a sensible person calls such a fault (common practice, no source). Hard ones go
//! down to the smallest that is one at all: a hole of the smallest class that inspection rules know, a
//! zero and a speed beyond what sensors are made to, a vent that resists beyond what makers allow even
//! where that of the sound car was the freest.

use super::chance::{Chance, Purpose};
use super::control_unit::CodeDraw;
use super::population::CarParameters;
use super::sensor::Stuck;
use super::vapor_circuit::leak_area;
use crate::vehicle::Fault;

/// Severities from which a clear fault and a hard one are drawn.
fn drawn_range(fault: Fault, hard: bool) -> (f64, f64) {
    let scale = |low: f64, high: f64, from: f64, to: f64| {
        ((from / low).ln() / (high / low).ln(), (to / low).ln() / (high / low).ln())
    };
    match (fault, hard) {
        (Fault::PurgeValveLeaking, false) => scale(0.005, 0.4, 0.05, 0.4),
        (Fault::PurgeValveLeaking, true) => scale(0.005, 0.4, 0.005, 0.15),
        (Fault::NoPurgeFlow, false) => (0.85, 1.0),
        (Fault::NoPurgeFlow, true) => (0.6, 1.0),
        (Fault::VentPathRestricted, false) => scale(1.5, 40.0, 8.0, 40.0),
        (Fault::VentPathRestricted, true) => scale(1.5, 40.0, 4.0, 12.0),
        (Fault::TankSensorOffset, false) => scale(60.0, 1500.0, 400.0, 1500.0),
        (Fault::TankSensorOffset, true) => scale(60.0, 1500.0, 350.0, 900.0),
        (Fault::TankSensorSlow, false) => scale(0.4, 6.0, 2.0, 6.0),
        (Fault::TankSensorSlow, true) => scale(0.4, 6.0, 1.5, 4.0),
        (Fault::TankSensorStuck, false) => (0.9, 1.0),
        (Fault::TankSensorStuck, true) => (0.5, 1.0),
        (Fault::VaporLeak, false) => scale(0.25, 3.0, 0.5, 3.0),
        (Fault::VaporLeak, true) => scale(0.25, 3.0, 0.5, 1.5),
    }
}

/// Gives the car a fault and the codes that such a fault stores.
pub(super) fn inject(car: &mut CarParameters, fault: Option<Fault>, severity: Option<f64>) {
    let mut chance = Chance::new(car.seed, Purpose::Fault);
    car.fault = fault;
    if let Some(fault) = fault {
        let (low, high) = drawn_range(fault, car.hard);
        let drawn = chance.between(low, high);
        let severity = severity.unwrap_or(drawn).clamp(0.0, 1.0);
        car.severity = severity;
        sound(car, &mut chance);
        apply(car, fault, severity, &mut chance);
    } else {
        car.severity = 0.0;
        sound(car, &mut chance);
    }
    car.unit.codes = CodeDraw::draw(fault, car.severity, &mut chance);
}

/// Gives a car that has a fault another one beside it, and the codes that this one stores too.
pub(super) fn add(car: &mut CarParameters, fault: Fault) {
    let mut chance = Chance::new(car.seed, Purpose::SecondFault);
    let (low, high) = drawn_range(fault, car.hard);
    let severity = chance.between(low, high);
    car.second = Some(fault);
    apply(car, fault, severity, &mut chance);
    car.unit.codes.join(CodeDraw::draw(Some(fault), severity, &mut chance));
}

/// Severity from which a stuck sensor follows nothing at all.
const STUCK_FOR_GOOD: f64 = 0.6;

/// Size at a severity between the sizes of a mild and a gross fault.
fn size(mild: f64, gross: f64, severity: f64) -> f64 {
    mild * (gross / mild).powf(severity)
}

fn apply(car: &mut CarParameters, fault: Fault, severity: f64, chance: &mut Chance) {
    match fault {
        Fault::PurgeValveLeaking => set_purge_leak(car, size(0.005, 0.4, severity)),
        Fault::NoPurgeFlow => car.circuit.purge_travel = 0.5 * (1.0 - severity).powi(2),
        Fault::VentPathRestricted => {
            car.vent_factor = size(1.5, 40.0, severity);
            car.circuit.vent = car.circuit.vent.narrowed(car.vent_factor);
        }
        Fault::TankSensorOffset => {
            car.sensor.offset = chance.sign() * size(60.0, 1500.0, severity);
        }
        Fault::TankSensorSlow => car.sensor.lag = size(0.4, 6.0, severity),
        Fault::TankSensorStuck => {
            let near = chance.happens(0.7);
            let at =
                if near { chance.between(-60.0, 60.0) } else { chance.between(-2500.0, 2500.0) };
            let flicker = if chance.happens(0.3) { chance.between(0.02, 0.3) } else { 0.0 };
            // It sticks for good from a usual severity on; a milder one still gives way a little.
            let share = 0.1 * (1.0 - severity / STUCK_FOR_GOOD).max(0.0);
            car.sensor.stuck = Some(Stuck { at, share, flicker });
        }
        Fault::VaporLeak => {
            car.hole_mm = size(0.25, 3.0, severity);
            car.circuit.tank_leak = leak_area(car.hole_mm);
        }
    }
}

/// Even a sound valve seeps a little: below 0.2 % of its full flow.
fn sound(car: &mut CarParameters, chance: &mut Chance) {
    set_purge_leak(car, chance.between(0.0, 0.002));
}

fn set_purge_leak(car: &mut CarParameters, share: f64) {
    car.leak_share = share;
    car.circuit.purge_leak = share * car.circuit.purge_area;
}

/// Replaces the faulty part by a new one from a car of the same kind; the rest stays as it is, a fault of
/// another part included.
pub(super) fn repair(car: &mut CarParameters) {
    let new = CarParameters::draw(None, None, car.seed.wrapping_add(0x9E37_79B9_7F4A_7C15));
    match car.fault {
        Some(Fault::PurgeValveLeaking | Fault::NoPurgeFlow) => {
            car.circuit.purge_travel = 1.0;
            set_purge_leak(car, new.leak_share);
        }
        Some(Fault::VentPathRestricted) => {
            car.circuit.vent = car.circuit.vent.narrowed(1.0 / car.vent_factor);
            car.vent_factor = 1.0;
        }
        Some(Fault::TankSensorOffset | Fault::TankSensorSlow | Fault::TankSensorStuck) => {
            car.sensor.offset = new.sensor.offset;
            car.sensor.lag = new.sensor.lag;
            car.sensor.stuck = None;
        }
        Some(Fault::VaporLeak) => {
            car.circuit.tank_leak = new.circuit.tank_leak;
            car.hole_mm = 0.0;
        }
        None => {}
    }
    car.fault = car.second.take();
    car.severity = 0.0;
}
