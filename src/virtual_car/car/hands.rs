use super::Car;
use crate::units::Instant;
use crate::virtual_car::fault_injection;
use crate::virtual_car::person::{Act, Deed};

/// What the person has done to the car.
#[derive(Clone, Debug)]
pub(super) struct Hands {
    pub(super) purge_plugged: bool,
    pub(super) seconds_unplugged: f64,
    pub(super) cap_off: bool,
    pub(super) vent_plugged_by_hand: bool,
    pub(super) vent_shut_until: Option<Instant>,
    /// Throttle opening, where the foot moves it, and how fast: shares, share per second.
    pub(super) opening: f64,
    pub(super) goal: f64,
    pub(super) speed: f64,
    pub(super) drives: bool,
}

/// Vapour given off by the fuel: from a first flow towards a last one, m³/s.
#[derive(Clone, Debug)]
pub(super) struct Vapour {
    pub(super) first: f64,
    pub(super) last: f64,
    pub(super) slow: f64,
    pub(super) age: f64,
}

impl Hands {
    pub(super) fn vent_is_shut(&self, now: Instant) -> bool {
        self.vent_plugged_by_hand || self.vent_shut_until.is_some_and(|end| now < end)
    }

    /// What the road takes from the engine, as a share of its idle torque; none in Park.
    pub(super) fn drag(&self, vehicle_speed: f64) -> Option<f64> {
        self.drives.then(|| 0.2 + 0.8 * (vehicle_speed / 90.0).powi(2))
    }
}

impl Vapour {
    pub(super) fn step(&mut self, step: f64) -> f64 {
        self.age += step;
        self.last + (self.first - self.last) * (-self.age / self.slow).exp()
    }
}

impl Car {
    /// The person's deed comes upon the car.
    pub(super) fn suffer(&mut self, deed: Deed) {
        match deed {
            Deed::Foot { goal, seconds } => {
                self.hands.speed = (goal - self.hands.opening).abs() / seconds.max(0.01);
                self.hands.goal = goal;
            }
            Deed::Done(act) => self.take_effect(act),
        }
    }

    pub(in crate::virtual_car) fn take_effect(&mut self, act: Act) {
        match act {
            Act::KeyOn => self.engine.turn_key_on(),
            Act::KeyOff => {
                self.engine.turn_key_off();
                self.hands.vent_shut_until = None;
            }
            Act::StartEngine => {
                self.engine.turn_key_on();
                let crank = self.engine_chance.between(0.6, 1.2);
                self.engine.start(crank);
            }
            Act::StopEngine => self.engine.stop(),
            Act::UnplugPurge => self.hands.purge_plugged = false,
            Act::PlugPurge => self.hands.purge_plugged = true,
            // The foot moves by itself.
            Act::OpenThrottle | Act::ReleaseThrottle => {}
            Act::OpenCap => self.hands.cap_off = true,
            Act::CloseCap => self.hands.cap_off = false,
            Act::SealVent => self.hands.vent_plugged_by_hand = true,
            Act::OpenVent => {
                self.hands.vent_plugged_by_hand = false;
                self.hands.vent_shut_until = None;
            }
            Act::Refuel => self.refuel(),
            Act::ReplacePart => {
                self.engine.stop();
                fault_injection::repair(&mut self.parameters);
                let volume = self.circuit.parameters.tank_volume;
                self.circuit.parameters = self.parameters.circuit.clone();
                self.circuit.parameters.tank_volume = volume;
                self.sensor.parameters = self.parameters.sensor.clone();
            }
            Act::Drive => self.hands.drives = true,
            Act::Park => {
                self.hands.drives = false;
                self.hands.goal = 0.0;
            }
        }
    }

    /// Fills the tank: less vapour space, a full canister, and fuel that gives off more vapour.
    fn refuel(&mut self) {
        self.engine.stop();
        self.hands.cap_off = false;
        let tank = &mut self.parameters.tank;
        tank.level = self.engine_chance.between(0.9, 0.97);
        let volume = tank.volume * (1.0 - tank.level) + tank.dome;
        self.circuit.parameters.tank_volume = volume;
        self.trim.take_up_refuelling_vapour();
        let calm = self.vapour.last;
        self.vapour = Vapour { first: 3.0 * calm, last: calm, slow: 180.0, age: 0.0 };
    }
}
