mod hands;
mod showing;

use hands::{Hands, Vapour};
use showing::{first_snapshot, monitor_facts};

use crate::units::Instant;
use crate::virtual_car::chance::{Chance, Purpose, Wander};
use crate::virtual_car::control_unit::ControlUnit;
use crate::virtual_car::engine::{Engine, Running};
use crate::virtual_car::fuel_trim::{FuelTrim, TrimInputs};
use crate::virtual_car::intake::Intake;
use crate::virtual_car::person::{Person, seconds};
use crate::virtual_car::population::{CarParameters, full_purge_flow};
use crate::virtual_car::purge_control::{PurgeControl, PurgeInputs};
use crate::virtual_car::sensor::TankSensor;
use crate::virtual_car::vapor_circuit::{CircuitInputs, VaporCircuit};
use crate::virtual_car::virtual_adapter::{Consequence, VirtualAdapter};

/// One car with its adapter and the person beside it, moved on by [`Car::advance`].
#[derive(Clone, Debug)]
pub(super) struct Car {
    parameters: CarParameters,
    now: Instant,
    /// How far the physics has come; never beyond `now`.
    simulated: Instant,
    circuit: VaporCircuit,
    intake: Intake,
    engine: Engine,
    sensor: TankSensor,
    purge: PurgeControl,
    trim: FuelTrim,
    person: Person,
    unit: ControlUnit,
    adapter: VirtualAdapter,
    hands: Hands,
    vapour: Vapour,
    surroundings: Surroundings,
    engine_chance: Chance,
    sensor_chance: Chance,
    control_chance: Chance,
    /// What went through the purge valve since the mixture was last looked at, kg.
    purged: f64,
    until_control: f64,
    until_refresh: f64,
}

#[derive(Clone, Debug)]
struct Surroundings {
    gust: Wander,
    slosh: Wander,
    /// Speed that the driver wishes, around a mean, km/h.
    wish: Wander,
    vehicle_speed: f64,
    chance: Chance,
}

/// Step of the physics with the engine turning, and without, s.
const QUICK: f64 = 0.005;
const CALM: f64 = 0.02;

/// The control unit's slower loops, s.
const CONTROL: f64 = 0.05;

impl Car {
    pub(super) fn new(parameters: CarParameters, seed: u64) -> Self {
        let chance = |purpose| Chance::new(seed, purpose);
        let (first, last, slow) = parameters.tank.vapour;
        let circuit = VaporCircuit::new(parameters.circuit.clone());
        let intake = Intake::new(parameters.intake.clone());
        let mut engine = Engine::new(parameters.engine.clone());
        if !parameters.unit.key_on_at_start {
            engine.turn_key_off();
        }
        let sensor = TankSensor::new(parameters.sensor.clone());
        let purge = PurgeControl::new(parameters.purge.clone());
        let trim = FuelTrim::new(parameters.trim.clone());
        let surroundings = Surroundings {
            gust: Wander::new(parameters.tank.gust, 0.4),
            slosh: Wander::new(parameters.tank.slosh, 0.5),
            wish: Wander::new(18.0, 25.0),
            vehicle_speed: 0.0,
            chance: chance(Purpose::Surroundings),
        };
        let hands = Hands {
            purge_plugged: true,
            seconds_unplugged: 0.0,
            cap_off: false,
            vent_plugged_by_hand: false,
            vent_shut_until: None,
            opening: 0.0,
            goal: 0.0,
            speed: 1.0,
            drives: false,
        };
        let snapshot = first_snapshot(&parameters, &engine, &sensor);
        let monitors = monitor_facts(&parameters, &circuit);
        let identity = parameters.identity.clone();
        let unit = ControlUnit::new(parameters.unit.clone(), identity, snapshot, monitors);
        let adapter = VirtualAdapter::new(parameters.adapter.clone(), chance(Purpose::Adapter));
        Self {
            now: Instant::ZERO,
            simulated: Instant::ZERO,
            person: Person::new(parameters.habits.clone(), chance(Purpose::Person)),
            vapour: Vapour { first, last, slow, age: 0.0 },
            engine_chance: chance(Purpose::Engine),
            sensor_chance: chance(Purpose::TankSensor),
            control_chance: chance(Purpose::Control),
            purged: 0.0,
            until_control: 0.0,
            until_refresh: 0.0,
            parameters,
            circuit,
            intake,
            engine,
            sensor,
            purge,
            trim,
            unit,
            adapter,
            hands,
            surroundings,
        }
    }

    pub(super) fn now(&self) -> Instant {
        self.now
    }

    pub(super) fn adapter(&mut self) -> &mut VirtualAdapter {
        &mut self.adapter
    }

    pub(super) fn person(&mut self) -> &mut Person {
        &mut self.person
    }

    /// When something happens next at the adapter or on its way to the program.
    pub(super) fn next_event(&self) -> Option<Instant> {
        self.adapter.next_event().into_iter().chain(self.adapter.next_output()).min()
    }

    /// Moves on to `until`; a time in the past changes nothing.
    pub(super) fn advance(&mut self, until: Instant) {
        while let Some(event) = self.adapter.next_event().filter(|at| *at <= until) {
            self.simulate(event);
            self.now = self.now.max(event);
            self.adapter.handle(self.now, &mut self.unit);
            while let Some(consequence) = self.adapter.poll_consequence() {
                self.bear(consequence);
            }
        }
        self.simulate(until);
        self.now = self.now.max(until);
    }

    fn bear(&mut self, consequence: Consequence) {
        match consequence {
            Consequence::VentSealed(time) => {
                self.hands.vent_shut_until = Some(self.now + seconds(time as f64));
            }
            Consequence::CodesErased => self.trim.clear(),
        }
    }

    fn simulate(&mut self, until: Instant) {
        loop {
            let step = if self.engine.turns() { QUICK } else { CALM };
            let next = self.simulated + seconds(step);
            if next > until {
                return;
            }
            while let Some((_, deed)) = self.person.poll_deed(next) {
                self.suffer(deed);
            }
            self.step(step);
            self.simulated = next;
        }
    }

    fn step(&mut self, step: f64) {
        self.move_foot(step);
        self.until_control -= step;
        if self.until_control <= 0.0 {
            self.until_control += CONTROL;
            self.control();
        }
        let pulse = self.purge.open_share(step);
        let around = &mut self.surroundings;
        let inputs = CircuitInputs {
            manifold: self.intake.pressure(),
            purge_open: if self.hands.purge_plugged { pulse } else { 0.0 },
            vent_shut: self.hands.vent_is_shut(self.simulated),
            cap_off: self.hands.cap_off,
            vapour: self.vapour.step(step),
            gust: around.gust.step(step, &mut around.chance),
        };
        self.circuit.step(step, &inputs);
        self.purged += self.circuit.purge_flow() * step;
        let slosh = if around.vehicle_speed > 1.0 {
            around.slosh.step(step, &mut around.chance)
        } else {
            0.0
        };
        self.sensor.step(step, self.circuit.tank() + slosh, &mut self.sensor_chance);
        if self.engine.turns() || !self.intake.is_full() {
            let drag = self.hands.drag(around.vehicle_speed);
            self.engine.step(
                step,
                self.hands.opening,
                self.trim.mixture(),
                drag,
                &mut self.intake,
                self.circuit.purge_flow(),
                &mut self.engine_chance,
            );
        } else {
            self.engine.rest(step);
        }
        self.until_refresh -= step;
        if self.until_refresh <= 0.0 {
            self.until_refresh = (self.until_refresh + self.parameters.unit.interval).max(0.0);
            let snapshot = self.snapshot();
            self.unit.refresh(snapshot);
        }
    }

    fn move_foot(&mut self, step: f64) {
        let hands = &mut self.hands;
        let around = &mut self.surroundings;
        if hands.drives && self.engine.seconds_running().is_some() {
            let wish = 50.0 + around.wish.step(step, &mut around.chance);
            let miss = wish - around.vehicle_speed;
            hands.goal = (0.12 + 0.01 * miss).clamp(0.0, 0.6);
            hands.speed = 0.4;
            let follows = (self.engine.speed() - self.parameters.engine.idle_speed) / 24.0;
            around.vehicle_speed += (follows - around.vehicle_speed) * step / 0.8;
        } else {
            around.vehicle_speed = (around.vehicle_speed - 9.0 * step).max(0.0);
        }
        let reach = hands.speed * step;
        hands.opening += (hands.goal - hands.opening).clamp(-reach, reach);
    }

    /// Purge and mixture, in the control unit's slower rhythm.
    fn control(&mut self) {
        let running = self.engine.seconds_running();
        let inputs = PurgeInputs {
            seconds_running: running,
            coolant: self.engine.coolant(),
            opening: self.hands.opening,
            fuel_is_cut: self.engine.fuel_is_cut(),
            tank: self.sensor.reading(),
            short_trim: self.trim.short() / 100.0,
        };
        self.purge.step(CONTROL, &inputs, &mut self.control_chance);
        let circuit = &self.circuit.parameters;
        let inputs = TrimInputs {
            seconds_running: running,
            air_flow: self.intake.air_flow(),
            purge: self.purged / CONTROL,
            command: self.purge.command(),
            expected_full: full_purge_flow(circuit, circuit.purge_area) * self.circuit.density(),
            fuel_is_cut: self.engine.fuel_is_cut(),
        };
        self.purged = 0.0;
        self.trim.step(CONTROL, &inputs, &mut self.control_chance);
        if running.is_some() && !self.hands.purge_plugged {
            self.hands.seconds_unplugged += CONTROL;
            if self.hands.seconds_unplugged > 6.0 {
                self.unit.notice_open_purge_circuit();
            }
        }
        if self.hands.vent_shut_until.is_some_and(|end| end <= self.simulated) {
            self.hands.vent_shut_until = None;
        }
    }

    pub(super) fn engine_state(&self) -> Running {
        self.engine.state()
    }
}

#[cfg(test)]
mod tests;
