use super::chance::{Chance, Purpose};
use super::control_unit::{Identity, UnitParameters};
use super::engine::EngineParameters;
use super::fault_injection;
use super::fuel_trim::TrimParameters;
use super::intake::IntakeParameters;
use super::orifice::{Resistance, mass_flow};
use super::person::Habits;
use super::purge_control::PurgeParameters;
use super::sensor::SensorParameters;
use super::vapor_circuit::{CircuitParameters, leak_area};
use super::virtual_adapter::AdapterParameters;
use crate::vehicle::Fault;

/// Everything that is fixed about one car, its adapter and the person beside it.
#[derive(Clone, Debug)]
pub struct CarParameters {
    pub(super) seed: u64,
    pub(super) hard: bool,
    pub(super) fault: Option<Fault>,
    /// A fault of another part beside it.
    pub(super) second: Option<Fault>,
    pub(super) severity: f64,
    pub(super) circuit: CircuitParameters,
    pub(super) tank: Tank,
    pub(super) intake: IntakeParameters,
    pub(super) engine: EngineParameters,
    pub(super) throttle: ThrottleParameters,
    pub(super) sensor: SensorParameters,
    pub(super) purge: PurgeParameters,
    pub(super) trim: TrimParameters,
    pub(super) habits: Habits,
    pub(super) unit: UnitParameters,
    pub(super) identity: Identity,
    pub(super) adapter: AdapterParameters,
    /// Factor by which the vent path is narrower than a sound one of this car.
    pub(super) vent_factor: f64,
    /// Leak through the shut purge valve as a share of its full flow.
    pub(super) leak_share: f64,
    /// Hole to the outside, mm.
    pub(super) hole_mm: f64,
}

/// The tank and what the fuel in it does. Volumes m³.
#[derive(Clone, Debug)]
pub(super) struct Tank {
    pub(super) volume: f64,
    /// Share that is fuel.
    pub(super) level: f64,
    /// Neck, lines and dome that fuel never fills.
    pub(super) dome: f64,
    /// Vapour flow when the visit begins, towards which flow it tends, and how fast: m³/s, m³/s, s.
    pub(super) vapour: (f64, f64, f64),
    /// Gusts at the vent: Pa.
    pub(super) gust: f64,
    /// Pressure waves when driving: Pa.
    pub(super) slosh: f64,
}

/// How throttle positions show.
#[derive(Clone, Debug)]
pub(super) struct ThrottleParameters {
    /// What the closed throttle reads, share.
    pub(super) closed: f64,
    /// What the wide throttle reads, share.
    pub(super) wide: f64,
}

/// How hard the draws are on a diagnosis.
#[derive(Clone, Copy, PartialEq)]
enum Setting {
    Standard,
    Hard,
}

impl CarParameters {
    /// Draws a car with a fault (or none) from the population. `severity` runs from 0 (mild) to 1
    /// (gross), see `fault_injection`; without one, a fault is drawn that a sensible person would
    /// call clear.
    pub fn draw(fault: Option<Fault>, severity: Option<f64>, seed: u64) -> Self {
        Self::drawn(fault, severity, seed, Setting::Standard)
    }

    /// Draws a car that makes a diagnosis hard: slow adapter, coarse sensor, curving drift, weak
    /// and short throttle openings; without a `severity` also faults down to mild ones.
    pub fn draw_hard(fault: Option<Fault>, severity: Option<f64>, seed: u64) -> Self {
        Self::drawn(fault, severity, seed, Setting::Hard)
    }

    /// The same car with the key off when the visit begins.
    #[must_use]
    pub fn parked(mut self) -> Self {
        self.unit.key_on_at_start = false;
        self
    }

    /// The same car with a fault of another part beside its own, drawn as clear or as hard as that one.
    #[must_use]
    pub fn with_another(mut self, fault: Fault) -> Self {
        fault_injection::add(&mut self, fault);
        self
    }

    /// The same car with two control units, behind a link that takes this long there and back.
    #[must_use]
    pub fn with_two_units_over(mut self, there_and_back: std::time::Duration) -> Self {
        self.unit.second_unit = true;
        self.adapter.take(there_and_back.as_secs_f64());
        self
    }

    /// The fault that this car has.
    pub fn fault(&self) -> Option<Fault> {
        self.fault
    }

    /// Whether the car answers the requests of [`OWN_SIGNALS`](super::OWN_SIGNALS).
    pub fn has_own_signals(&self) -> bool {
        self.unit.user_defined
    }

    /// What the tank holds by the owner's manual, L.
    pub fn tank_litre(&self) -> f64 {
        (1000.0 * self.tank.volume).round()
    }

    /// Whether the person beside the car looks that up; six of ten do (common practice, no source).
    pub fn tank_is_looked_up(&self) -> bool {
        Chance::new(self.seed, Purpose::Manual).happens(0.6)
    }

    /// The car's identification number; invented.
    pub fn vin(&self) -> &str {
        &self.identity.vin
    }

    fn drawn(fault: Option<Fault>, severity: Option<f64>, seed: u64, setting: Setting) -> Self {
        let mut chance = Chance::new(seed, Purpose::Parameters);
        let hard = setting == Setting::Hard;
        // Most cars are serviced near the sea; every height up to 2500 m occurs.
        let altitude = 2500.0 * chance.between(0.0, 1.0).powi(2);
        let outside = chance.between(2.0, 35.0);
        let ambient = pressure_at(altitude) + 400.0 * chance.normal();
        let temperature = 273.15 + outside;
        let tank = draw_tank(&mut chance, hard);
        let circuit = draw_circuit(&mut chance, ambient, temperature, &tank);
        let displacement = chance.scale_between(1.2e-3, 3.5e-3);
        let engine = EngineParameters {
            idle_speed: chance.between(620.0, 850.0),
            idle_pressure: ambient * chance.between(25e3, 40e3) / 101_325.0,
            liveliness: chance.between(900.0, 1700.0),
            park_limit: chance.between(3200.0, 5000.0),
            roughness: chance.between(5.0, 14.0),
            coolant_at_start: chance.between(55.0, 92.0),
            outside,
        };
        let intake = IntakeParameters {
            ambient,
            temperature: temperature + 8.0,
            volume: displacement * chance.between(1.6, 2.6),
            displacement,
            filling: chance.between(0.78, 0.92),
            wide_area: 0.6 * displacement * chance.between(0.8, 1.2),
        };
        let throttle = ThrottleParameters {
            closed: chance.between(0.09, 0.17),
            wide: chance.between(0.76, 0.96),
        };
        let sensor = draw_sensor(&mut chance, hard);
        let purge = PurgeParameters {
            delay: chance.between(15.0, 25.0),
            coolant_from: chance.between(35.0, 50.0),
            duty: chance.between(0.25, 0.55),
            ramp: chance.between(0.015, 0.06),
            modulation: (chance.between(0.01, 0.05), chance.between(8.0, 25.0)),
            shuts_on_transients: chance.happens(0.75),
            frequency: chance.between(8.0, 16.0),
            lift_time: chance.between(0.003, 0.006),
            stop_vacuum: chance.between(1800.0, 2400.0),
        };
        let trim = TrimParameters {
            closed_after: chance.between(6.0, 14.0),
            short_time: chance.between(0.8, 2.0),
            long_at_start: 0.03 * chance.normal(),
            foresight: chance.between(0.5, 0.85),
            noise: chance.between(0.005, 0.015),
            load_at_start: chance.between(0.05, 0.5),
        };
        let mut parameters = Self {
            seed,
            hard,
            fault: None,
            second: None,
            severity: 0.0,
            circuit,
            tank,
            intake,
            engine,
            throttle,
            sensor,
            purge,
            trim,
            habits: draw_habits(&mut chance, hard),
            unit: UnitParameters::draw(&mut chance, hard),
            identity: Identity::draw(&mut chance, altitude),
            adapter: AdapterParameters::draw(&mut chance, hard),
            vent_factor: 1.0,
            leak_share: 0.0,
            hole_mm: 0.0,
        };
        fault_injection::inject(&mut parameters, fault, severity);
        parameters
    }
}

/// Standard atmosphere, Pa (US Standard Atmosphere 1976, layer below 11 km).
fn pressure_at(altitude: f64) -> f64 {
    101_325.0 * (1.0 - 0.0065 * altitude / 288.15).powf(5.255_88)
}

fn draw_tank(chance: &mut Chance, hard: bool) -> Tank {
    let volume = chance.between(45e-3, 75e-3);
    let level = chance.between(0.2, 0.85);
    // What a sealed tank would gain, Pa/s, at the beginning and in the end: warm fuel gives off
    // vapour at tens to hundreds of pascals a minute.
    let most = if hard { 8.0 } else { 3.0 };
    let space = volume * (1.0 - level);
    let flow = |rise: f64| rise * space / 1e5;
    let first = flow(chance.between(0.1, most));
    let last = flow(chance.between(0.1, most));
    let slow = if hard { (60.0, 300.0) } else { (200.0, 900.0) };
    Tank {
        volume,
        level,
        dome: chance.between(3e-3, 6e-3),
        vapour: (first, last, chance.between(slow.0, slow.1)),
        gust: chance.between(0.2, 1.5),
        slosh: chance.between(10.0, 60.0),
    }
}

fn draw_circuit(
    chance: &mut Chance,
    ambient: f64,
    temperature: f64,
    tank: &Tank,
) -> CircuitParameters {
    // About 1 kPa at 40 to 60 L/min (common practice, no source).
    let reference = chance.between(40.0, 60.0) / 6e4;
    let vent = Resistance::through(1000.0, reference, chance.between(0.1, 0.6));
    let loss = chance.scale_between(30.0, 250.0);
    let line = Resistance::through(loss, 50.0 / 6e4, chance.between(0.3, 0.8));
    let tank_volume = tank.volume * (1.0 - tank.level) + tank.dome;
    let capacity = tank_volume / ambient;
    let mut circuit = CircuitParameters {
        ambient,
        temperature,
        tank_volume,
        canister_volume: chance.between(2e-3, 6e-3),
        sudden_exponent: chance.between(1.05, 1.35),
        heat_time: chance.scale_between(0.8, 6.0),
        vent,
        line,
        tank_leak: leak_area(chance.between(0.0, 0.15)),
        seal_leak: leak_area(chance.between(0.0, 0.12)),
        purge_area: 0.0,
        purge_leak: 0.0,
        purge_travel: 1.0,
        relief_vacuum: chance.between(3500.0, 5000.0),
        relief_pressure: chance.between(3500.0, 6000.0),
        evaporation_slope: capacity / chance.scale_between(300.0, 3000.0),
    };
    // Full flow 25 to 60 L/min with the manifold choked.
    let wanted = chance.scale_between(25.0, 60.0) / 6e4;
    circuit.purge_area = wanted / full_purge_flow(&circuit, 1.0);
    circuit
}

/// Choked flow through an effective area, m³/s at ambient density.
pub(super) fn full_purge_flow(circuit: &CircuitParameters, area: f64) -> f64 {
    let density = circuit.ambient / (super::orifice::GAS_CONSTANT * circuit.temperature);
    mass_flow(area, circuit.ambient, 0.3 * circuit.ambient, circuit.temperature) / density
}

fn draw_sensor(chance: &mut Chance, hard: bool) -> SensorParameters {
    let step = if hard { chance.between(25.0, 37.0) } else { chance.scale_between(1.0, 10.0) };
    let drift = if hard { (60.0, 40.0, 240.0) } else { (12.0, 120.0, 500.0) };
    let span = if chance.happens(0.8) { 3750.0 } else { 6500.0 };
    SensorParameters {
        lag: chance.scale_between(0.02, 0.12),
        offset: 25.0 * chance.normal().clamp(-2.5, 2.5),
        noise: chance.scale_between(0.8, if hard { 10.0 } else { 5.0 }),
        wander: (chance.between(0.3, if hard { 4.0 } else { 2.0 }), chance.between(20.0, 120.0)),
        warming: (drift.0 * chance.between(-1.0, 1.0), chance.between(drift.1, drift.2)),
        step,
        interval: chance.scale_between(0.05, if hard { 0.5 } else { 0.2 }),
        span,
        volt: (2.5, 2.0 / span),
        stuck: None,
    }
}

fn draw_habits(chance: &mut Chance, hard: bool) -> Habits {
    if hard {
        Habits {
            reaction: (0.8, 3.0),
            opening: (0.22, 0.7),
            hold: (0.6, 2.0),
            foot: (0.2, 0.8),
            word: (0.2, 1.5),
        }
    } else {
        Habits {
            reaction: (0.8, chance.between(1.6, 3.0)),
            opening: (0.55, 1.0),
            hold: (1.2, 6.0),
            foot: (0.12, 0.4),
            word: (0.1, 0.8),
        }
    }
}
