use super::{ManifoldForm, TankForm, UnitParameters};

/// What the engine's control unit holds at a moment. Pressures Pa, shares 0 to 1, trims %,
/// temperatures °C.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::virtual_car) struct Snapshot {
    pub(in crate::virtual_car) key_on: bool,
    /// Over ambient.
    pub(in crate::virtual_car) tank: f64,
    pub(in crate::virtual_car) tank_volt: f64,
    /// Absolute.
    pub(in crate::virtual_car) manifold: f64,
    pub(in crate::virtual_car) barometer: f64,
    pub(in crate::virtual_car) throttle: f64,
    pub(in crate::virtual_car) purge_command: f64,
    pub(in crate::virtual_car) vent_command: f64,
    /// rpm.
    pub(in crate::virtual_car) speed: f64,
    /// km/h.
    pub(in crate::virtual_car) vehicle_speed: f64,
    pub(in crate::virtual_car) load: f64,
    pub(in crate::virtual_car) coolant: f64,
    pub(in crate::virtual_car) intake_air: f64,
    pub(in crate::virtual_car) outside_air: f64,
    pub(in crate::virtual_car) fuel_level: f64,
    pub(in crate::virtual_car) short_trim: f64,
    pub(in crate::virtual_car) long_trim: f64,
    pub(in crate::virtual_car) supply: f64,
    /// kg/s.
    pub(in crate::virtual_car) air_flow: f64,
    pub(in crate::virtual_car) seconds_running: f64,
    pub(in crate::virtual_car) closed_loop: bool,
    pub(in crate::virtual_car) fuel_is_cut: bool,
}

/// The data bytes of a service 01 parameter (SAE J1979-DA / ISO 15031-5; formulae from memory of
/// the standard), `None` for one that this car does not have.
pub(super) fn encode(parameter: u8, it: &Snapshot, car: &UnitParameters) -> Option<Vec<u8>> {
    Some(match parameter {
        0x03 => {
            let system = match (it.seconds_running > 0.0, it.closed_loop, it.fuel_is_cut) {
                (false, _, _) => 0x00,
                (true, _, true) => 0x04,
                (true, true, false) => 0x02,
                (true, false, false) => 0x01,
            };
            vec![system, if car.two_banks { system } else { 0 }]
        }
        0x04 => vec![share(it.load)],
        0x05 => vec![celsius(it.coolant)],
        0x06 => vec![trim(it.short_trim)],
        0x07 => vec![trim(it.long_trim)],
        // The second bank breathes the same vapour; its own trims differ a little.
        0x08 if car.two_banks => vec![trim(0.93 * it.short_trim + 0.4)],
        0x09 if car.two_banks => vec![trim(it.long_trim - 1.1)],
        0x0B if car.manifold != ManifoldForm::Fine => vec![byte(it.manifold / 1000.0)],
        0x0C => word(it.speed * 4.0),
        0x0D => vec![byte(it.vehicle_speed)],
        0x0F => vec![celsius(it.intake_air)],
        0x10 => word(it.air_flow * 1e5),
        0x11 => vec![share(it.throttle)],
        0x1C => vec![0x03],
        0x1F => word(it.seconds_running),
        0x2E => vec![share(it.purge_command)],
        0x2F => vec![share(it.fuel_level)],
        0x32 if car.tank == TankForm::Narrow => signed(it.tank * 4.0),
        0x33 => vec![byte(it.barometer / 1000.0)],
        0x42 => word(it.supply * 1000.0),
        0x45 => vec![share((it.throttle - 0.12).max(0.0))],
        0x46 => vec![celsius(it.outside_air)],
        0x51 => vec![0x01],
        0x53 if car.tank == TankForm::Absolute => word((it.barometer + it.tank) / 5.0),
        0x54 if car.tank == TankForm::Wide => signed(it.tank),
        0x87 if car.manifold != ManifoldForm::Coarse => {
            let mut data = vec![0x01];
            data.extend(word(it.manifold / 1000.0 * 32.0));
            data.extend([0, 0]);
            data
        }
        _ => return None,
    })
}

fn byte(value: f64) -> u8 {
    value.round().clamp(0.0, 255.0) as u8
}

fn share(value: f64) -> u8 {
    byte(value * 255.0)
}

fn celsius(value: f64) -> u8 {
    byte(value + 40.0)
}

fn trim(percent: f64) -> u8 {
    byte(percent * 128.0 / 100.0 + 128.0)
}

fn word(value: f64) -> Vec<u8> {
    (value.round().clamp(0.0, 65_535.0) as u16).to_be_bytes().into()
}

fn signed(value: f64) -> Vec<u8> {
    (value.round().clamp(-32_768.0, 32_767.0) as i16).to_be_bytes().into()
}
