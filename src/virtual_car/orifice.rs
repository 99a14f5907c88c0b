/// Specific gas constant of dry air, J/(kg K): 8.314462618 / 0.0289644 (US Standard Atmosphere).
pub(super) const GAS_CONSTANT: f64 = 287.058;

/// Ratio of specific heats of air.
const HEAT_RATIO: f64 = 1.4;

/// (2/(k+1))^(k/(k-1)) for k = 1.4: below this ratio of pressures the flow is choked.
const CRITICAL_RATIO: f64 = 0.528_281_787_717_174_2;

/// Pressure difference, as a share of the upstream pressure, below which the flow is taken as
/// linear: the root of the formula has no finite slope at zero, real holes turn laminar there.
const LAMINAR_BELOW: f64 = 4e-6;

/// Mass flow of air through a sharp-edged hole or valve, kg/s, signed: positive from `from` to
/// `to`. Isentropic nozzle formula with discharge coefficient (any handbook of gas dynamics).
///
/// `effective_area` is the area times the discharge coefficient, m²; pressures are absolute, Pa;
/// `temperature` is upstream, K.
pub(super) fn mass_flow(effective_area: f64, from: f64, to: f64, temperature: f64) -> f64 {
    if from >= to {
        one_way(effective_area, from, to, temperature)
    } else {
        -one_way(effective_area, to, from, temperature)
    }
}

fn one_way(effective_area: f64, upstream: f64, downstream: f64, temperature: f64) -> f64 {
    effective_area * upstream / (GAS_CONSTANT * temperature).sqrt()
        * flow_function(downstream / upstream)
}

/// Dimensionless flow at a ratio of downstream to upstream pressure.
fn flow_function(ratio: f64) -> f64 {
    // sqrt(k) * (2/(k+1))^((k+1)/(2(k-1))) for k = 1.4.
    const CHOKED: f64 = 0.684_731_456_6;
    if ratio <= CRITICAL_RATIO {
        CHOKED
    } else if ratio >= 1.0 - LAMINAR_BELOW {
        subsonic(1.0 - LAMINAR_BELOW) * (1.0 - ratio) / LAMINAR_BELOW
    } else {
        subsonic(ratio)
    }
}

fn subsonic(ratio: f64) -> f64 {
    let root = ratio.powf(1.0 / HEAT_RATIO);
    let squared = root * root - root * ratio;
    (2.0 * HEAT_RATIO / (HEAT_RATIO - 1.0) * squared.max(0.0)).sqrt()
}

/// Effective area of a round hole, m².
pub(super) fn round_hole(diameter_mm: f64, discharge: f64) -> f64 {
    discharge * std::f64::consts::PI * (diameter_mm * 1e-3).powi(2) / 4.0
}

/// A path whose pressure loss has a laminar and a turbulent part: dp = a Q + b Q |Q|.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Resistance {
    /// Pa s/m³.
    pub(super) laminar: f64,
    /// Pa s²/m⁶.
    pub(super) turbulent: f64,
}

impl Resistance {
    /// The resistance that loses `pressure` (Pa) at `flow` (m³/s), `turbulent_share` (0 to 1) of
    /// it by turbulence.
    pub(super) fn through(pressure: f64, flow: f64, turbulent_share: f64) -> Self {
        Self {
            laminar: pressure * (1.0 - turbulent_share) / flow,
            turbulent: pressure * turbulent_share / (flow * flow),
        }
    }

    /// Flow at a pressure difference, m³/s, and its slope, m³/(s Pa).
    pub(super) fn flow(&self, pressure: f64) -> (f64, f64) {
        let root = (self.laminar * self.laminar + 4.0 * self.turbulent * pressure.abs()).sqrt();
        // The rationalised root: exact also where the turbulent part is zero.
        (2.0 * pressure / (self.laminar + root), 1.0 / root)
    }

    /// Pressure lost at a flow, Pa.
    pub(super) fn pressure(&self, flow: f64) -> f64 {
        self.laminar * flow + self.turbulent * flow * flow.abs()
    }

    /// The same path narrowed so that every flow costs `factor` times the pressure.
    pub(super) fn narrowed(&self, factor: f64) -> Self {
        Self { laminar: self.laminar * factor, turbulent: self.turbulent * factor }
    }
}

#[cfg(test)]
mod tests {
    use super::{Resistance, mass_flow, round_hole};

    /// Density of air at 20 °C and 101325 Pa from the gas law with the constants above.
    const DENSITY: f64 = 101_325.0 / (super::GAS_CONSTANT * 293.15);

    fn litres_per_minute(diameter_mm: f64, vacuum: f64) -> f64 {
        let area = round_hole(diameter_mm, 0.7);
        mass_flow(area, 101_325.0, 101_325.0 - vacuum, 293.15) / DENSITY * 6e4
    }

    /// Flow through sharp holes from ambient air into a vacuum, L/min at ambient density,
    /// discharge coefficient 0.7: computed independently from the isentropic formula
    /// (fixtures/published/physics_reference.json, `orifice_flow_inward`).
    #[test]
    fn holes_flow_what_the_isentropic_formula_says() {
        for (diameter, vacuum, expected) in [
            (0.5, 250.0, 0.167_826_6),
            (0.508, 1000.0, 0.3451),
            (1.0, 2000.0, 1.8810),
            (1.016, 500.0, 0.9787),
            (2.286, 3736.0, 13.309),
        ] {
            let flow = litres_per_minute(diameter, vacuum);
            assert!((flow / expected - 1.0).abs() < 3e-4, "{diameter} mm, {vacuum} Pa: {flow}");
        }
    }

    /// Choked flow into a manifold at 30 kPa, discharge coefficient 0.7 (same file,
    /// `purge_valve_choked`), and 1 mm² at 1 bar and 20 °C (`choked_1mm2_Cd1_air_293K_1bar`).
    #[test]
    fn choked_flow_depends_on_the_upstream_side_alone() {
        for (diameter, expected) in
            [(1.0, 1.314_907_007_756_702_7e-4), (3.0, 1.183_416_306_981_032_5e-3)]
        {
            let area = round_hole(diameter, 0.7);
            let flow = mass_flow(area, 101_325.0, 30_000.0, 293.15);
            assert!((flow / expected - 1.0).abs() < 1e-5, "{diameter} mm: {flow}");
            assert_eq!(flow, mass_flow(area, 101_325.0, 20_000.0, 293.15));
        }
        let flow = mass_flow(1e-6, 1e5, 1e4, 293.15);
        assert!((flow / 2.360_426_632_723_926_8e-4 - 1.0).abs() < 1e-5, "{flow}");
    }

    #[test]
    fn flow_vanishes_smoothly_at_equal_pressures_and_turns_round() {
        let area = round_hole(3.0, 0.7);
        assert_eq!(mass_flow(area, 1e5, 1e5, 293.15), 0.0);
        let (inward, outward) =
            (mass_flow(area, 1e5, 1e5 - 0.1, 293.15), mass_flow(area, 1e5 - 0.1, 1e5, 293.15));
        assert!(inward > 0.0 && (inward + outward).abs() < 1e-12);
    }

    #[test]
    fn resistance_gives_back_the_point_it_was_made_from() {
        for share in [0.0, 0.3, 1.0] {
            let path = Resistance::through(1000.0, 50.0 / 6e4, share);
            let (flow, slope) = path.flow(1000.0);
            assert!((flow * 6e4 - 50.0).abs() < 1e-9);
            assert!((path.pressure(flow) - 1000.0).abs() < 1e-9);
            let (more, _) = path.flow(1000.01);
            assert!(((more - flow) / 0.01 / slope - 1.0).abs() < 1e-4);
        }
    }
}
