use super::orifice::{GAS_CONSTANT, mass_flow};

/// Manifold, throttle and the engine's appetite for air.
#[derive(Clone, Debug)]
pub(super) struct IntakeParameters {
    /// Ambient pressure, Pa absolute.
    pub(super) ambient: f64,
    /// Air temperature, K.
    pub(super) temperature: f64,
    /// Manifold volume, m³.
    pub(super) volume: f64,
    /// Swept volume of all cylinders, m³.
    pub(super) displacement: f64,
    /// Share of the cylinders' volume that fills with fresh air.
    pub(super) filling: f64,
    /// Effective area of the throttle wide open, m².
    pub(super) wide_area: f64,
}

/// Manifold pressure by filling and emptying.
#[derive(Clone, Debug)]
pub(super) struct Intake {
    pub(super) parameters: IntakeParameters,
    pressure: f64,
    air_flow: f64,
}

impl Intake {
    pub(super) fn new(parameters: IntakeParameters) -> Self {
        Self { pressure: parameters.ambient, air_flow: 0.0, parameters }
    }

    /// Manifold pressure, Pa absolute.
    pub(super) fn pressure(&self) -> f64 {
        self.pressure
    }

    /// Whether the manifold has filled up to ambient pressure.
    pub(super) fn is_full(&self) -> bool {
        self.pressure > self.parameters.ambient - 2.0
    }

    /// Air drawn by the engine, kg/s.
    pub(super) fn air_flow(&self) -> f64 {
        self.air_flow
    }

    /// Air the engine draws at a manifold pressure and a speed, kg/s. Exhaust left in the
    /// cylinders takes a tenth of ambient pressure.
    pub(super) fn appetite(&self, pressure: f64, speed: f64) -> f64 {
        let it = &self.parameters;
        it.filling * it.displacement * speed / 120.0 * (pressure - 0.1 * it.ambient).max(0.0)
            / (GAS_CONSTANT * it.temperature)
    }

    /// Effective area that holds the engine at a manifold pressure and a speed, m².
    pub(super) fn area_for(&self, pressure: f64, speed: f64) -> f64 {
        let it = &self.parameters;
        let per_area = mass_flow(1.0, it.ambient, pressure, it.temperature);
        self.appetite(pressure, speed) / per_area
    }

    /// Moves on by `seconds`: `opening` is the driver's share of the wide throttle (0 to 1),
    /// `idle_area` the idle control's part, m², `purge` the flow from the canister, kg/s.
    pub(super) fn step(
        &mut self,
        seconds: f64,
        opening: f64,
        idle_area: f64,
        speed: f64,
        purge: f64,
    ) {
        let it = &self.parameters;
        let area = idle_area + it.wide_area * opening.clamp(0.0, 1.0).powf(1.6);
        let gain = GAS_CONSTANT * it.temperature / it.volume;
        let net = |pressure: f64| {
            mass_flow(area, it.ambient, pressure, it.temperature) + purge
                - self.appetite(pressure, speed)
        };
        // Linearly implicit: with the throttle wide open the manifold follows within
        // milliseconds, faster than the step.
        let now = net(self.pressure);
        const NUDGE: f64 = 5.0;
        let slope = ((net(self.pressure + NUDGE) - now) / NUDGE).min(0.0);
        let change = seconds * gain * now / (1.0 - seconds * gain * slope);
        self.air_flow = self.appetite(self.pressure, speed);
        self.pressure = (self.pressure + change).clamp(0.05 * it.ambient, it.ambient);
    }
}

#[cfg(test)]
mod tests {
    use super::{Intake, IntakeParameters};

    fn intake() -> Intake {
        Intake::new(IntakeParameters {
            ambient: 101_325.0,
            temperature: 293.15,
            volume: 4e-3,
            displacement: 2e-3,
            filling: 0.85,
            wide_area: 1.2e-3,
        })
    }

    #[test]
    fn idle_area_holds_the_idle_pressure() {
        let mut intake = intake();
        let area = intake.area_for(31_000.0, 720.0);
        for _ in 0..2000 {
            intake.step(0.005, 0.0, area, 720.0, 0.0);
        }
        assert!((intake.pressure() - 31_000.0).abs() < 20.0, "{}", intake.pressure());
    }

    /// Wide open the manifold comes within a few kPa of ambient, closed at speed it falls below
    /// its idle pressure (common practice, no source).
    #[test]
    fn wide_open_comes_near_ambient_and_overrun_falls_below_idle() {
        let mut intake = intake();
        let area = intake.area_for(31_000.0, 720.0);
        for _ in 0..400 {
            intake.step(0.005, 1.0, area, 2500.0, 0.0);
        }
        assert!((95_000.0..101_300.0).contains(&intake.pressure()), "{}", intake.pressure());
        for _ in 0..400 {
            intake.step(0.005, 0.0, area, 2500.0, 0.0);
        }
        assert!((12_000.0..25_000.0).contains(&intake.pressure()), "{}", intake.pressure());
    }
}
