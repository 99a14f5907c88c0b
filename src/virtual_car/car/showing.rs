use super::Car;
use crate::units::{Litre, LitrePerMinute, Millimetre, Pascal, Percent};
use crate::virtual_car::control_unit::{MonitorFacts, Snapshot};
use crate::virtual_car::engine::Engine;
use crate::virtual_car::population::{CarParameters, full_purge_flow};
use crate::virtual_car::sensor::TankSensor;
use crate::virtual_car::truth::Truth;
use crate::virtual_car::vapor_circuit::VaporCircuit;

impl Car {
    /// What the control unit's inputs show now.
    pub(super) fn snapshot(&mut self) -> Snapshot {
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

    /// What is really the matter.
    pub(in crate::virtual_car) fn truth(&self) -> Truth {
        let it = &self.parameters;
        let circuit = &self.circuit.parameters;
        let litres = |flow: f64| LitrePerMinute(flow * 6e4);
        let leak = self.circuit.leak_flow();
        let full = full_purge_flow(circuit, circuit.purge_area);
        let usual = 0.4;
        Truth {
            fault: it.fault,
            second: it.second,
            severity: it.severity,
            leak_share: Percent(100.0 * it.leak_share),
            leak_flow: litres(leak),
            full_purge_flow: litres(full),
            purge_vacuum: Pascal(-circuit.vent.pressure(usual * full) / usual),
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

/// What the control unit holds before the first step.
pub(super) fn first_snapshot(it: &CarParameters, engine: &Engine, sensor: &TankSensor) -> Snapshot {
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
pub(super) fn monitor_facts(it: &CarParameters, circuit: &VaporCircuit) -> MonitorFacts {
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
