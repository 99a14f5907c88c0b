use super::chance::{Chance, Purpose, Wander};
use super::control_unit::{ControlUnit, MonitorFacts, Snapshot};
use super::engine::{Engine, Running};
use super::fault_injection;
use super::fuel_trim::{FuelTrim, TrimInputs};
use super::intake::Intake;
use super::person::{Act, Deed, Person, seconds};
use super::population::{CarParameters, full_purge_flow};
use super::purge_control::{PurgeControl, PurgeInputs};
use super::sensor::TankSensor;
use super::truth::Truth;
use super::vapor_circuit::{CircuitInputs, VaporCircuit};
use super::virtual_adapter::{Consequence, VirtualAdapter};
use crate::units::{Instant, Litre, LitrePerMinute, Millimetre, Pascal, Percent};

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
    until_control: f64,
    until_refresh: f64,
}

/// What the person has done to the car.
#[derive(Clone, Debug)]
struct Hands {
    purge_plugged: bool,
    seconds_unplugged: f64,
    cap_off: bool,
    vent_plugged_by_hand: bool,
    vent_shut_until: Option<Instant>,
    /// Throttle opening, where the foot moves it, and how fast: shares, share per second.
    opening: f64,
    goal: f64,
    speed: f64,
    drives: bool,
}

/// Vapour given off by the fuel: from a first flow towards a last one, m³/s.
#[derive(Clone, Debug)]
struct Vapour {
    first: f64,
    last: f64,
    slow: f64,
    age: f64,
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

    fn suffer(&mut self, deed: Deed) {
        match deed {
            Deed::Foot { goal, seconds } => {
                self.hands.speed = (goal - self.hands.opening).abs() / seconds.max(0.01);
                self.hands.goal = goal;
            }
            Deed::Done(act) => self.take_effect(act),
        }
    }

    fn take_effect(&mut self, act: Act) {
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
            Act::Park => self.hands.drives = false,
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
        let slosh = if around.vehicle_speed > 1.0 {
            around.slosh.step(step, &mut around.chance)
        } else {
            0.0
        };
        self.sensor.step(step, self.circuit.tank() + slosh, &mut self.sensor_chance);
        if self.engine.turns() || self.intake.pressure() < 0.999 * self.parameters.circuit.ambient {
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
        };
        self.purge.step(CONTROL, &inputs, &mut self.control_chance);
        let circuit = &self.circuit.parameters;
        let inputs = TrimInputs {
            seconds_running: running,
            air_flow: self.intake.air_flow(),
            purge: self.circuit.purge_flow(),
            command: self.purge.command(),
            expected_full: full_purge_flow(circuit, circuit.purge_area) * self.circuit.density(),
            fuel_is_cut: self.engine.fuel_is_cut(),
        };
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

    fn snapshot(&mut self) -> Snapshot {
        let ambient = self.parameters.circuit.ambient;
        let it = &self.parameters.throttle;
        let noise = if self.engine.turns() { 220.0 } else { 60.0 };
        let manifold = self.intake.pressure() + noise * self.control_chance.normal();
        let running = self.engine.seconds_running();
        Snapshot {
            key_on: self.engine.key_is_on(),
            tank: self.sensor.reading(),
            tank_volt: self.sensor.volt(),
            manifold: manifold.min(ambient + 400.0),
            barometer: ambient,
            throttle: it.closed + (it.wide - it.closed) * self.hands.opening,
            purge_command: self.purge.command(),
            vent_command: if self.hands.vent_shut_until.is_some() { 1.0 } else { 0.0 },
            speed: self.engine.speed(),
            vehicle_speed: self.surroundings.vehicle_speed,
            load: if running.is_some() { (self.intake.pressure() / ambient).min(1.0) } else { 0.0 },
            coolant: self.engine.coolant(),
            intake_air: self.parameters.engine.outside + 8.0,
            outside_air: self.parameters.engine.outside,
            fuel_level: self.parameters.tank.level,
            short_trim: self.trim.short(),
            long_trim: self.trim.long(),
            supply: self.engine.supply(),
            air_flow: if running.is_some() { self.intake.air_flow() } else { 0.0 },
            seconds_running: running.unwrap_or(0.0),
            closed_loop: self.trim.is_closed(running),
            fuel_is_cut: self.engine.fuel_is_cut(),
        }
    }

    pub(super) fn engine_state(&self) -> Running {
        self.engine.state()
    }

    pub(super) fn truth(&self) -> Truth {
        let it = &self.parameters;
        let circuit = &self.circuit.parameters;
        let litres = |flow: f64| LitrePerMinute(flow * 6e4);
        let leak = self.circuit.leak_flow();
        Truth {
            fault: it.fault,
            severity: it.severity,
            leak_share: Percent(100.0 * it.leak_share),
            leak_flow: litres(leak),
            full_purge_flow: litres(full_purge_flow(circuit, circuit.purge_area)),
            leak_pressure: Pascal(-circuit.vent.pressure(leak)),
            vent_factor: it.vent_factor,
            vent_loss: Pascal(circuit.vent.pressure(50.0 / 6e4)),
            recovery_seconds: circuit.vent.laminar * circuit.tank_volume / circuit.ambient,
            sensor_offset: Pascal(it.sensor.offset),
            sensor_lag_seconds: it.sensor.lag,
            sensor_is_stuck: it.sensor.stuck.is_some(),
            sensor_step: Pascal(it.sensor.step),
            sensor_noise: Pascal(it.sensor.noise),
            hole: Millimetre(it.hole_mm),
            vapour_space: Litre(circuit.tank_volume * 1000.0),
            fuel_level: Percent(100.0 * it.tank.level),
            tank_pressure: Pascal(self.circuit.tank()),
            acts: self.person.done().to_vec(),
        }
    }
}

impl Hands {
    fn vent_is_shut(&self, now: Instant) -> bool {
        self.vent_plugged_by_hand || self.vent_shut_until.is_some_and(|end| now < end)
    }

    /// What the road takes from the engine, as a share of its idle torque; none in Park.
    fn drag(&self, vehicle_speed: f64) -> Option<f64> {
        self.drives.then(|| 0.2 + 0.8 * (vehicle_speed / 90.0).powi(2))
    }
}

impl Vapour {
    fn step(&mut self, step: f64) -> f64 {
        self.age += step;
        self.last + (self.first - self.last) * (-self.age / self.slow).exp()
    }
}

fn first_snapshot(it: &CarParameters, engine: &Engine, sensor: &TankSensor) -> Snapshot {
    Snapshot {
        key_on: engine.key_is_on(),
        tank: sensor.reading(),
        tank_volt: sensor.volt(),
        manifold: it.circuit.ambient,
        barometer: it.circuit.ambient,
        throttle: it.throttle.closed,
        purge_command: 0.0,
        vent_command: 0.0,
        speed: 0.0,
        vehicle_speed: 0.0,
        load: 0.0,
        coolant: engine.coolant(),
        intake_air: it.engine.outside + 8.0,
        outside_air: it.engine.outside,
        fuel_level: it.tank.level,
        short_trim: 0.0,
        long_trim: 100.0 * it.trim.long_at_start,
        supply: engine.supply(),
        air_flow: 0.0,
        seconds_running: 0.0,
        closed_loop: false,
        fuel_is_cut: false,
    }
}

/// What this car's own monitors would have found on the trips before the visit.
fn monitor_facts(it: &CarParameters, circuit: &VaporCircuit) -> MonitorFacts {
    let shut = circuit.leak_flow();
    // The monitor shuts the vent for two seconds and looks at the sensor.
    let vacuum = |flow: f64| {
        let true_change = -(flow * 2.0 * it.circuit.ambient / it.circuit.tank_volume).min(2000.0);
        match it.sensor.stuck {
            Some(stuck) => stuck.share * true_change,
            None => true_change * (1.0 - (-2.0 / it.sensor.lag).exp()),
        }
    };
    let full = full_purge_flow(&it.circuit, it.circuit.purge_area * it.circuit.purge_travel);
    MonitorFacts {
        hole_mm: it.hole_mm.max(0.12),
        purge_vacuum: vacuum(0.4 * full),
        shut_vacuum: vacuum(shut),
        ran: true,
    }
}
