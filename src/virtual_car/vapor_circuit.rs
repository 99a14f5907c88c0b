use super::orifice::{GAS_CONSTANT, Resistance, mass_flow, round_hole};

/// The fixed sizes of the vapour system. Volumes m³, pressures Pa, flows m³/s at ambient density.
#[derive(Clone, Debug)]
pub(super) struct CircuitParameters {
    /// Ambient pressure, absolute.
    pub(super) ambient: f64,
    /// Ambient temperature, K.
    pub(super) temperature: f64,
    /// Vapour space of the tank.
    pub(super) tank_volume: f64,
    /// Canister with its lines, as gas that would store as much; the bed keeps it isothermal.
    pub(super) canister_volume: f64,
    /// Ratio of pressure rise to isothermal rise for a sudden change: 1.4 for dry air, less where
    /// wet walls and evaporation hold the temperature.
    pub(super) sudden_exponent: f64,
    /// Seconds in which the gas takes the walls' temperature again.
    pub(super) heat_time: f64,
    /// Bed, vent valve and filter.
    pub(super) vent: Resistance,
    /// Line with roll-over valve between tank and canister.
    pub(super) line: Resistance,
    /// Holes to the outside in the tank's walls: effective area, m².
    pub(super) tank_leak: f64,
    /// What still passes a shut vent: effective area, m².
    pub(super) seal_leak: f64,
    /// Effective area of the purge valve fully open, m².
    pub(super) purge_area: f64,
    /// Effective area that flows with the purge valve shut, m².
    pub(super) purge_leak: f64,
    /// Share of its area that the valve opens on command: 1 sound, 0 stuck shut.
    pub(super) purge_travel: f64,
    /// Relief valve opens at this vacuum (positive number).
    pub(super) relief_vacuum: f64,
    /// Relief valve opens at this pressure.
    pub(super) relief_pressure: f64,
    /// How much evaporation slows down per pascal of tank pressure, m³/(s Pa).
    pub(super) evaporation_slope: f64,
}

/// What acts on the vapour system during one step.
#[derive(Clone, Copy, Debug)]
pub(super) struct CircuitInputs {
    /// Manifold, Pa absolute.
    pub(super) manifold: f64,
    /// Share of this step in which the purge valve stands open, 0 to 1.
    pub(super) purge_open: f64,
    /// Vent shut.
    pub(super) vent_shut: bool,
    /// Cap off.
    pub(super) cap_off: bool,
    /// Vapour made by warm fuel at ambient pressure, m³/s.
    pub(super) vapour: f64,
    /// Pressure of gusts at the vent's mouth, Pa.
    pub(super) gust: f64,
}

/// Canister and tank pressure as differential equations, integrated with the second-order
/// L-stable Rosenbrock scheme ROS2 (Verwer et al., SIAM J. Sci. Comput. 20, 1999): canister and
/// open cap are far faster than the step, the tank is not.
#[derive(Clone, Debug)]
pub(super) struct VaporCircuit {
    pub(super) parameters: CircuitParameters,
    /// Canister, Pa over ambient.
    canister: f64,
    /// Tank, Pa over ambient.
    tank: f64,
    /// How much warmer than its walls the tank's gas is, as a share.
    warmth: f64,
    /// Flow into the manifold in the last step, kg/s.
    purge_flow: f64,
}

/// An opened filler neck: 20 mm across, laminar under a few pascals.
const OPEN_CAP: Resistance = Resistance { laminar: 2.0e3, turbulent: 1.25e7 };

/// Relief valve once open, m³/(s Pa).
const RELIEF_SLOPE: f64 = 4e-7;

/// 1 - 1/√2: makes ROS2 L-stable.
const GAMMA: f64 = 0.292_893_218_813_452_4;

struct Slopes {
    canister: f64,
    tank: f64,
    /// d(canister)/d(canister), d(canister)/d(tank), d(tank)/d(canister), d(tank)/d(tank).
    jacobian: [f64; 4],
    /// Net flow into the tank, m³/s.
    inflow: f64,
    purge: f64,
}

impl VaporCircuit {
    pub(super) fn new(parameters: CircuitParameters) -> Self {
        Self { parameters, canister: 0.0, tank: 0.0, warmth: 0.0, purge_flow: 0.0 }
    }

    /// Tank pressure over ambient, Pa.
    pub(super) fn tank(&self) -> f64 {
        self.tank
    }

    /// Canister pressure over ambient, Pa.
    #[cfg(test)]
    pub(super) fn canister(&self) -> f64 {
        self.canister
    }

    /// Flow from the canister into the manifold in the last step, kg/s.
    pub(super) fn purge_flow(&self) -> f64 {
        self.purge_flow
    }

    /// Density of ambient air, kg/m³.
    pub(super) fn density(&self) -> f64 {
        self.parameters.ambient / (GAS_CONSTANT * self.parameters.temperature)
    }

    /// Sets both pressures, Pa over ambient.
    #[cfg(test)]
    pub(super) fn set_pressure(&mut self, pressure: f64) {
        self.canister = pressure;
        self.tank = pressure;
    }

    /// Moves on by `seconds`.
    pub(super) fn step(&mut self, seconds: f64, inputs: &CircuitInputs) {
        let first = self.slopes(self.canister, self.tank, inputs);
        let stage = Stage::new(&first.jacobian, GAMMA * seconds);
        let (a, b) = stage.solve(first.canister, first.tank);
        let second = self.slopes(self.canister + seconds * a, self.tank + seconds * b, inputs);
        let (c, d) = stage.solve(second.canister - 2.0 * a, second.tank - 2.0 * b);
        self.canister += seconds * (1.5 * a + 0.5 * c);
        self.tank += seconds * (1.5 * b + 0.5 * d);
        // The gas warms as it is compressed and loses the warmth to the walls; slow beside the
        // step, so the mean inflow of both stages does.
        let inflow = 0.5 * (first.inflow + second.inflow);
        let heating =
            (self.parameters.sudden_exponent - 1.0) * inflow / self.parameters.tank_volume;
        let kept = (-seconds / self.parameters.heat_time).exp();
        self.warmth = self.warmth * kept + heating * seconds;
        self.purge_flow = 0.5 * (first.purge + second.purge);
    }

    fn slopes(&self, canister: f64, tank: f64, inputs: &CircuitInputs) -> Slopes {
        let it = &self.parameters;
        let density = self.density();
        let hole = |area: f64, inside: f64| -> (f64, f64) {
            if area <= 0.0 {
                return (0.0, 0.0);
            }
            let flow = mass_flow(area, it.ambient, it.ambient + inside, it.temperature) / density;
            // Slope of the root law, held finite towards zero.
            (flow, flow.abs() / (2.0 * inside.abs()).max(0.5))
        };

        let (vent, vent_slope) = if inputs.vent_shut {
            hole(it.seal_leak, canister)
        } else {
            it.vent.flow(inputs.gust - canister)
        };
        let (line, line_slope) = it.line.flow(canister - tank);
        let area =
            it.purge_leak + it.purge_area * it.purge_travel * inputs.purge_open.clamp(0.0, 1.0);
        let purge = mass_flow(area, it.ambient + canister, inputs.manifold, it.temperature);
        let (leak, leak_slope) = hole(it.tank_leak, tank);
        let (cap, cap_slope) = if inputs.cap_off { OPEN_CAP.flow(-tank) } else { (0.0, 0.0) };
        let (relief, relief_slope) = if tank < -it.relief_vacuum {
            (RELIEF_SLOPE * (-it.relief_vacuum - tank), RELIEF_SLOPE)
        } else if tank > it.relief_pressure {
            (RELIEF_SLOPE * (it.relief_pressure - tank), RELIEF_SLOPE)
        } else {
            (0.0, 0.0)
        };
        // No vapour condenses in this model: at its slowest, evaporation stops.
        let vapour = (inputs.vapour - it.evaporation_slope * tank).max(0.0);

        let inflow = line + leak + cap + relief + vapour;
        let canister_gain = it.ambient / it.canister_volume;
        let tank_gain = it.ambient * it.sudden_exponent / it.tank_volume;
        let out_of_tank = line_slope + leak_slope + cap_slope + relief_slope + it.evaporation_slope;
        Slopes {
            canister: canister_gain * (vent - line - purge / density),
            tank: tank_gain * inflow - it.ambient * self.warmth / it.heat_time,
            jacobian: [
                -canister_gain * (vent_slope + line_slope),
                canister_gain * line_slope,
                tank_gain * line_slope,
                -tank_gain * out_of_tank,
            ],
            inflow,
            purge,
        }
    }

    /// Flow through the shut purge valve at a choked manifold, m³/s.
    pub(super) fn leak_flow(&self) -> f64 {
        let it = &self.parameters;
        mass_flow(it.purge_leak, it.ambient, 0.3 * it.ambient, it.temperature) / self.density()
    }
}

/// (I - γ h J) ready to be solved, twice a step.
struct Stage {
    matrix: [f64; 4],
    determinant: f64,
}

impl Stage {
    fn new(jacobian: &[f64; 4], weight: f64) -> Self {
        let [a, b, c, d] = *jacobian;
        let matrix = [1.0 - weight * a, -weight * b, -weight * c, 1.0 - weight * d];
        let determinant = matrix[0] * matrix[3] - matrix[1] * matrix[2];
        Self { matrix, determinant }
    }

    fn solve(&self, x: f64, y: f64) -> (f64, f64) {
        let [a, b, c, d] = self.matrix;
        ((d * x - b * y) / self.determinant, (a * y - c * x) / self.determinant)
    }
}

/// Effective area of a hole to the outside, m²; edges of a crack are sharp.
pub(super) fn leak_area(diameter_mm: f64) -> f64 {
    round_hole(diameter_mm, 0.7)
}

#[cfg(test)]
mod tests {
    use super::{CircuitInputs, CircuitParameters, Resistance, VaporCircuit};
    use crate::virtual_car::orifice::round_hole;

    const STILL: CircuitInputs = CircuitInputs {
        manifold: 101_325.0,
        purge_open: 0.0,
        vent_shut: false,
        cap_off: false,
        vapour: 0.0,
        gust: 0.0,
    };

    /// A tank that obeys the handbook's formulae exactly: isothermal, nothing beside the tank.
    fn plain_tank(litres: f64) -> CircuitParameters {
        CircuitParameters {
            ambient: 101_325.0,
            temperature: 293.15,
            tank_volume: litres * 1e-3,
            canister_volume: 1e-7,
            sudden_exponent: 1.0,
            heat_time: 1.0,
            vent: Resistance::through(1000.0, 50.0 / 6e4, 0.0),
            line: Resistance::through(0.01, 50.0 / 6e4, 0.0),
            tank_leak: 0.0,
            seal_leak: 0.0,
            purge_area: 0.0,
            purge_leak: 0.0,
            purge_travel: 1.0,
            relief_vacuum: 5000.0,
            relief_pressure: 5000.0,
            evaporation_slope: 0.0,
        }
    }

    /// Seconds until the tank pressure has fallen to `share` of where it started.
    fn time_to(
        parameters: CircuitParameters,
        start: f64,
        share: f64,
        inputs: &CircuitInputs,
        step: f64,
    ) -> f64 {
        let mut circuit = VaporCircuit::new(parameters);
        circuit.set_pressure(start);
        let (goal, mut time, mut before) = (start.abs() * share, 0.0, start.abs());
        loop {
            circuit.step(step, inputs);
            time += step;
            let now = circuit.tank().abs();
            if now <= goal {
                return time - step * (goal - now) / (before - now);
            }
            assert!(time < 1000.0, "never reached");
            before = now;
        }
    }

    /// Recovery through 1 kPa at 50 L/min, linear: tau = R V / p
    /// (fixtures/published/physics_reference.json, `vent_recovery`).
    #[test]
    fn tank_recovers_through_the_vent_in_its_time_constant() {
        for (litres, tau) in [(15.0, 0.177_646), (40.0, 0.473_723), (60.0, 0.710_585)] {
            let found = time_to(plain_tank(litres), -500.0, (-1.0f64).exp(), &STILL, 0.005);
            assert!((found / tau - 1.0).abs() < 2e-3, "{litres} L: {found} s");
        }
    }

    /// The same point as an orifice, from 1500 Pa to almost zero (`quadratic_variant`): the root
    /// of the pressure falls in a straight line, so 1 % of the pressure is left at 90 % of the
    /// time to zero.
    #[test]
    fn tank_recovers_through_a_turbulent_vent_in_a_straight_line_of_roots() {
        let mut parameters = plain_tank(40.0);
        parameters.vent = Resistance::through(1000.0, 50.0 / 6e4, 1.0);
        let found = time_to(parameters, -1500.0, 0.01, &STILL, 0.005);
        assert!((found / (0.9 * 1.160_357) - 1.0).abs() < 0.01, "{found} s");
    }

    /// Decay of a sealed tank through a hole in its wall (`tank_vacuum_decay`,
    /// `tank_pressure_decay_outflow_0.020in_40L_1500Pa`), solved there to a relative 1e-10.
    #[test]
    fn sealed_tank_loses_its_vacuum_through_a_hole() {
        let sealed = CircuitInputs { vent_shut: true, ..STILL };
        for (diameter, litres, start, share, expected) in [
            (0.508, 40.0, -1500.0, 0.5, 49.269),
            (0.508, 40.0, -1500.0, 0.1, 114.779),
            (0.508, 15.0, -1500.0, 0.5, 18.476),
            (1.016, 40.0, -1500.0, 0.1, 28.695),
            (0.508, 40.0, 1500.0, 0.5, 49.000),
        ] {
            let mut parameters = plain_tank(litres);
            parameters.tank_leak = round_hole(diameter, 0.7);
            let found = time_to(parameters, start, share, &sealed, 0.02);
            assert!((found / expected - 1.0).abs() < 2e-3, "{diameter} mm {litres} L: {found} s");
        }
    }

    /// Without exchange of heat the same decay is 1.4 times faster
    /// (`tank_vacuum_decay_adiabatic_0.020in_40L_1500Pa`).
    #[test]
    fn gas_that_keeps_its_heat_recovers_faster() {
        let mut parameters = plain_tank(40.0);
        parameters.tank_leak = round_hole(0.508, 0.7);
        parameters.sudden_exponent = 1.4;
        parameters.heat_time = 1e12;
        let sealed = CircuitInputs { vent_shut: true, ..STILL };
        let found = time_to(parameters, -1500.0, 0.5, &sealed, 0.02);
        assert!((found / 35.192 - 1.0).abs() < 2e-3, "{found} s");
    }

    #[test]
    fn a_steady_leak_through_the_purge_valve_holds_the_tank_at_flow_times_resistance() {
        let mut parameters = plain_tank(40.0);
        parameters.purge_leak = round_hole(1.0, 0.7);
        let mut circuit = VaporCircuit::new(parameters);
        let idle = CircuitInputs { manifold: 30_000.0, ..STILL };
        for _ in 0..2000 {
            circuit.step(0.005, &idle);
        }
        // 6.552 L/min choked (`purge_valve_choked`, 1 mm) through 1 kPa at 50 L/min; the flow is
        // choked on the canister's side, which stands 0.13 % below ambient.
        assert!((circuit.tank() / (-6.552 * 20.0) - 1.0).abs() < 3e-3, "{}", circuit.tank());
        assert!((circuit.canister() - circuit.tank()).abs() < 1e-3);
        assert!((circuit.leak_flow() * 6e4 - 6.552).abs() < 0.01);
    }
}
