use super::chance::{Chance, Wander};
use super::intake::Intake;

/// The engine's fixed habits. Speeds in rpm, temperatures in °C.
#[derive(Clone, Debug)]
pub(super) struct EngineParameters {
    /// Warm idle speed.
    pub(super) idle_speed: f64,
    /// Manifold pressure at warm idle, Pa absolute.
    pub(super) idle_pressure: f64,
    /// Acceleration that the idle torque would give without friction, rpm/s.
    pub(super) liveliness: f64,
    /// Speed that the control unit allows in Park.
    pub(super) park_limit: f64,
    /// Unevenness of idle speed.
    pub(super) roughness: f64,
    /// Coolant when the visit begins.
    pub(super) coolant_at_start: f64,
    /// Outside air.
    pub(super) outside: f64,
}

/// Where the key and the engine are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Running {
    KeyOff,
    KeyOn,
    Cranking { left: f64 },
    Runs { seconds: f64 },
}

/// Crankshaft, idle control and warmth.
#[derive(Clone, Debug)]
pub(super) struct Engine {
    pub(super) parameters: EngineParameters,
    state: Running,
    speed: f64,
    /// Integral part of the idle control, as a share of the warm idle area.
    idle_trim: f64,
    /// Extra air that keeps the engine from stalling after a release, as a share.
    cushion: f64,
    cut: bool,
    coolant: f64,
    unevenness: Wander,
    supply: f64,
}

impl Engine {
    pub(super) fn new(parameters: EngineParameters) -> Self {
        Self {
            state: Running::KeyOn,
            speed: 0.0,
            idle_trim: 0.0,
            cushion: 0.0,
            cut: false,
            coolant: parameters.coolant_at_start,
            unevenness: Wander::new(1.0, 0.15),
            supply: 12.5,
            parameters,
        }
    }

    pub(super) fn state(&self) -> Running {
        self.state
    }

    /// Seconds since it runs by itself, while it does.
    pub(super) fn seconds_running(&self) -> Option<f64> {
        match self.state {
            Running::Runs { seconds } => Some(seconds),
            _ => None,
        }
    }

    pub(super) fn key_is_on(&self) -> bool {
        self.state != Running::KeyOff
    }

    /// Whether the engine is at work or still turning.
    pub(super) fn turns(&self) -> bool {
        self.speed > 0.0 || matches!(self.state, Running::Cranking { .. } | Running::Runs { .. })
    }

    /// rpm.
    pub(super) fn speed(&self) -> f64 {
        self.speed
    }

    /// °C.
    pub(super) fn coolant(&self) -> f64 {
        self.coolant
    }

    /// V.
    pub(super) fn supply(&self) -> f64 {
        self.supply
    }

    /// Whether fuel is cut because the engine runs down or over its limit.
    pub(super) fn fuel_is_cut(&self) -> bool {
        self.cut
    }

    pub(super) fn turn_key_on(&mut self) {
        if self.state == Running::KeyOff {
            self.state = Running::KeyOn;
        }
    }

    pub(super) fn turn_key_off(&mut self) {
        self.state = Running::KeyOff;
    }

    /// Cranks for `seconds`, then runs.
    pub(super) fn start(&mut self, seconds: f64) {
        if !matches!(self.state, Running::Runs { .. }) {
            self.state = Running::Cranking { left: seconds };
        }
    }

    /// Stops the engine; the key stays on.
    pub(super) fn stop(&mut self) {
        if self.state != Running::KeyOff {
            self.state = Running::KeyOn;
        }
    }

    /// Moves on by `seconds` with the engine at rest and the manifold at ambient pressure.
    pub(super) fn rest(&mut self, seconds: f64) {
        self.supply += (12.5 - self.supply) * seconds / 2.0;
        self.coolant += (self.parameters.outside - self.coolant) * seconds / 4000.0;
        self.idle_trim = 0.0;
    }

    /// Moves on by `seconds` with the driver's throttle at `opening` (0 to 1). `richness` is how
    /// far the mixture is off, as a share of the fuel: it costs torque and evenness. `drag` is
    /// what the road takes, as a share of the idle torque; `None` in Park.
    #[allow(clippy::too_many_arguments, reason = "everything that acts on an engine at once")]
    pub(super) fn step(
        &mut self,
        seconds: f64,
        opening: f64,
        richness: f64,
        drag: Option<f64>,
        intake: &mut Intake,
        purge: f64,
        chance: &mut Chance,
    ) {
        let it = &self.parameters;
        let target = it.idle_speed * (1.0 + 0.004 * (70.0 - self.coolant).max(0.0));
        let mut idle_area = intake.area_for(it.idle_pressure, it.idle_speed);
        match &mut self.state {
            Running::KeyOff | Running::KeyOn => {
                self.speed = (self.speed - 1500.0 * seconds).max(0.0);
                self.rest(seconds);
            }
            Running::Cranking { left } => {
                self.speed += (220.0 - self.speed) * (seconds / 0.15).min(1.0);
                self.supply = 10.4;
                *left -= seconds;
                if *left <= 0.0 {
                    self.state = Running::Runs { seconds: 0.0 };
                    self.cushion = 0.6;
                }
            }
            Running::Runs { seconds: running } => {
                *running += seconds;
                self.supply += (14.1 - self.supply) * seconds / 1.5;
                self.coolant += (90.0 - self.coolant) * seconds / 240.0;
                let miss = (target - self.speed) / target;
                let released = opening < 0.02;
                if released && self.speed < 2.0 * target {
                    self.idle_trim = (self.idle_trim + 0.5 * miss * seconds).clamp(-0.5, 1.0);
                }
                if !released {
                    self.cushion = 0.25;
                }
                self.cushion *= (-seconds / 0.8).exp();
                idle_area *= (1.0 + self.idle_trim + self.cushion + 0.3 * miss).max(0.2);

                let limit = if self.cut { 0.95 * it.park_limit } else { it.park_limit };
                let overrun = if self.cut { target + 350.0 } else { target + 800.0 };
                self.cut = self.speed > limit || (released && self.speed > overrun);
                let load = intake.appetite(intake.pressure(), self.speed)
                    / intake.appetite(it.idle_pressure, self.speed.max(1.0)).max(1e-9);
                // At idle, spark answers a speed error at once; a mixture far off burns badly.
                let spark = if released { (1.0 + 1.5 * miss).clamp(0.6, 1.4) } else { 1.0 };
                let burn = (1.0 - 2.0 * richness * richness).max(0.4);
                let torque = if self.cut { 0.0 } else { load * spark * burn };
                let friction = 0.65 + 0.35 * self.speed / it.idle_speed + drag.unwrap_or(0.0);
                // In gear the whole car is to be moved.
                let inertia = if drag.is_some() { 8.0 } else { 1.0 };
                self.unevenness.step(seconds, chance);
                let rough = it.roughness * (1.0 + 40.0 * (richness.abs() - 0.06).max(0.0));
                self.speed += seconds * it.liveliness / inertia * (torque - friction)
                    + seconds * 12.0 * rough * self.unevenness.value();
                // The starter is not modelled beyond this point: an engine that sags is caught.
                self.speed = self.speed.max(0.45 * it.idle_speed);
            }
        }
        intake.step(seconds, opening, idle_area, self.speed, purge);
    }
}

#[cfg(test)]
mod tests {
    use super::{Engine, EngineParameters};
    use crate::virtual_car::chance::{Chance, Purpose};
    use crate::virtual_car::intake::{Intake, IntakeParameters};

    struct Bench {
        engine: Engine,
        intake: Intake,
        chance: Chance,
    }

    impl Bench {
        fn new() -> Self {
            let engine = Engine::new(EngineParameters {
                idle_speed: 700.0,
                idle_pressure: 31_000.0,
                liveliness: 1300.0,
                park_limit: 4000.0,
                roughness: 10.0,
                coolant_at_start: 80.0,
                outside: 20.0,
            });
            let intake = Intake::new(IntakeParameters {
                ambient: 101_325.0,
                temperature: 293.15,
                volume: 4e-3,
                displacement: 2e-3,
                filling: 0.85,
                wide_area: 1.2e-3,
            });
            Self { engine, intake, chance: Chance::new(1, Purpose::Engine) }
        }

        fn run(&mut self, seconds: f64, opening: f64) {
            for _ in 0..(seconds / 0.005) as usize {
                let (intake, chance) = (&mut self.intake, &mut self.chance);
                self.engine.step(0.005, opening, 0.0, None, intake, 0.0, chance);
            }
        }
    }

    #[test]
    fn engine_starts_idles_revs_and_settles_again() {
        let mut bench = Bench::new();
        bench.run(2.0, 0.0);
        assert_eq!(bench.engine.speed(), 0.0);
        assert!(bench.intake.pressure() > 101_000.0);

        bench.engine.start(0.9);
        bench.run(12.0, 0.0);
        assert!((bench.engine.speed() - 700.0).abs() < 60.0, "{}", bench.engine.speed());
        assert!((bench.intake.pressure() - 31_000.0).abs() < 2500.0, "{}", bench.intake.pressure());

        bench.run(0.5, 1.0);
        assert!(bench.intake.pressure() > 90_000.0, "{}", bench.intake.pressure());
        bench.run(1.5, 1.0);
        assert!((3000.0..4300.0).contains(&bench.engine.speed()), "{}", bench.engine.speed());

        bench.run(0.7, 0.0);
        assert!(bench.intake.pressure() < 27_000.0, "{}", bench.intake.pressure());
        bench.run(10.0, 0.0);
        assert!((bench.engine.speed() - 700.0).abs() < 60.0, "{}", bench.engine.speed());

        bench.engine.stop();
        bench.run(3.0, 0.0);
        assert_eq!(bench.engine.speed(), 0.0);
        assert!(bench.intake.pressure() > 101_000.0);
        assert!(bench.engine.key_is_on());
    }
}
