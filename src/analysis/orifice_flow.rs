//! Gas flow through a small hole, and a hole's size from how a sealed space loses its vacuum.
//!
//! Pressures are absolute in Pa unless said otherwise, lengths in m, temperatures in K, mass flow
//! in kg/s. The formulae are those of one-dimensional isentropic flow of an ideal gas with a
//! discharge coefficient (textbook gas dynamics; ISO 9300 and ISO 6358 for the names).

use super::{Bounded, regression};

/// Ratio of the specific heats of air.
pub const GAMMA_AIR: f64 = 1.4;
/// Specific gas constant of air, J/(kg K): 8.314 462 618 153 24 / 0.028 964 4.
pub const GAS_CONSTANT_AIR: f64 = 8.314_462_618_153_24 / 0.028_964_4;
/// A fair discharge coefficient for a hole whose edge nobody has seen (Weisbach: sharp-edged
/// 0.563 to 0.788 for air).
pub const DISCHARGE_USUAL: f64 = 0.7;
/// A litre per minute in m³/s.
pub const LITRE_PER_MINUTE: f64 = 1e-3 / 60.0;

/// Downstream over upstream pressure below which flow no longer depends on the downstream side:
/// (2/(γ+1))^(γ/(γ−1)).
pub fn critical_ratio(gamma: f64) -> f64 {
    (2.0 / (gamma + 1.0)).powf(gamma / (gamma - 1.0))
}

/// Flow relative to choked flow for air, by the ratio of downstream to upstream pressure: 1 up to
/// the critical ratio, falling to 0 at ratio 1 and staying there beyond (a reversed flow is another
/// case, with the sides exchanged). NaN stays NaN.
pub fn psi(ratio: f64) -> f64 {
    psi_of(ratio, GAMMA_AIR)
}

/// [`psi`] for a gas with another ratio of specific heats.
pub fn psi_of(ratio: f64, gamma: f64) -> f64 {
    if ratio.is_nan() {
        return f64::NAN;
    }
    if ratio >= 1.0 {
        return 0.0;
    }
    if ratio <= critical_ratio(gamma) {
        return 1.0;
    }
    let flow = ratio.powf(2.0 / gamma) - ratio.powf((gamma + 1.0) / gamma);
    let choked = (gamma - 1.0) / 2.0 * (2.0 / (gamma + 1.0)).powf((gamma + 1.0) / (gamma - 1.0));
    (flow / choked).max(0.0).sqrt().min(1.0)
}

/// Slope of [`psi`] for air, per unit of ratio; 0 where flow is choked or reversed.
pub fn psi_slope(ratio: f64) -> f64 {
    let here = psi(ratio);
    if !(here > 0.0) || ratio <= critical_ratio(GAMMA_AIR) {
        return 0.0;
    }
    let g = GAMMA_AIR;
    let choked = (g - 1.0) / 2.0 * (2.0 / (g + 1.0)).powf((g + 1.0) / (g - 1.0));
    let slope = 2.0 / g * ratio.powf(2.0 / g - 1.0) - (g + 1.0) / g * ratio.powf(1.0 / g);
    slope / choked / (2.0 * here)
}

/// A round hole and the air in front of it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Orifice {
    /// Diameter, m.
    pub diameter: f64,
    /// Discharge coefficient.
    pub discharge: f64,
    /// Temperature of the gas upstream, K.
    pub temperature: f64,
}

impl Orifice {
    /// Area, m².
    pub fn area(&self) -> f64 {
        std::f64::consts::PI * self.diameter * self.diameter / 4.0
    }

    /// Isentropic mass flow of air, kg/s; 0 when the pressures do not drive it.
    pub fn mass_flow(&self, upstream: f64, downstream: f64) -> f64 {
        let g = GAMMA_AIR;
        let choked = (g / (GAS_CONSTANT_AIR * self.temperature)).sqrt()
            * (2.0 / (g + 1.0)).powf((g + 1.0) / (2.0 * (g - 1.0)));
        self.discharge * self.area() * upstream * choked * psi(downstream / upstream)
    }

    /// Flow in L/min, measured at the upstream density.
    pub fn litres_per_minute(&self, upstream: f64, downstream: f64) -> f64 {
        self.mass_flow(upstream, downstream)
            / density(upstream, self.temperature)
            / LITRE_PER_MINUTE
    }
}

/// Density of air, kg/m³.
pub fn density(pressure: f64, temperature: f64) -> f64 {
    pressure / (GAS_CONSTANT_AIR * temperature)
}

/// Bernoulli's mass flow for a pressure difference that is small beside the pressure, kg/s.
pub fn incompressible_mass_flow(orifice: &Orifice, difference: f64, density: f64) -> f64 {
    orifice.discharge * orifice.area() * (2.0 * density * difference.max(0.0)).sqrt()
}

/// ISO 6358 mass flow, kg/s, from sonic conductance `conductance` (m³/(s Pa) at 20 °C, 100 kPa) and
/// critical ratio `b`.
pub fn iso_6358_mass_flow(
    conductance: f64,
    b: f64,
    upstream: f64,
    downstream: f64,
    temperature: f64,
) -> f64 {
    let choked = conductance * upstream * ISO_6358_DENSITY * (293.15 / temperature).sqrt();
    let ratio = downstream / upstream;
    if ratio >= 1.0 {
        0.0
    } else if ratio <= b {
        choked
    } else {
        choked * (1.0 - ((ratio - b) / (1.0 - b)).powi(2)).max(0.0).sqrt()
    }
}

/// Reference density of ISO 6358, kg/m³ (20 °C, 100 kPa, 65 % humidity).
const ISO_6358_DENSITY: f64 = 1.185;

/// Flow that a hole of `diameter` draws from atmosphere into a manifold, L/min at ambient density
/// and 20 °C.
pub fn purge_litres_per_minute(
    diameter: f64,
    discharge: f64,
    atmosphere: f64,
    manifold: f64,
) -> f64 {
    Orifice { diameter, discharge, temperature: 293.15 }.litres_per_minute(atmosphere, manifold)
}

/// The diameter, m, of a hole that passes `litres` per minute (at upstream density) between two
/// pressures; `None` when they do not drive a flow.
pub fn diameter_of_flow(
    litres: f64,
    discharge: f64,
    upstream: f64,
    downstream: f64,
    temperature: f64,
) -> Option<f64> {
    let unit = Orifice { diameter: 1.0, discharge, temperature };
    let of_unit = unit.litres_per_minute(upstream, downstream);
    (of_unit > 0.0 && litres >= 0.0 && litres.is_finite()).then(|| (litres / of_unit).sqrt())
}

/// What is known of a sealed space when its vacuum decays.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SealedSpace {
    /// Vapour volume, m³, with its bounds: the larger part of the answer's uncertainty.
    pub volume: Bounded,
    /// Discharge coefficient with its bounds.
    pub discharge: Bounded,
    /// Atmospheric pressure, Pa.
    pub atmosphere: f64,
    /// Temperature, K.
    pub temperature: f64,
    /// 1 where the walls keep the gas at its temperature (slow decay), 1.4 where they do not.
    pub polytropic: f64,
}

/// The diameter, m, of the hole that makes √Δp fall at `slope` (√Pa per s, negative or positive:
/// only its size counts), with 95 % bounds from slope, volume and discharge together.
///
/// Small-difference law: d√Δp/dt = −n · p_a · C_d · A / (V · √(2ρ)). Exact to 0.7 % at 2.5 kPa.
pub fn hole_from_decay_slope(slope: Bounded, space: &SealedSpace) -> Option<Bounded> {
    let rho = density(space.atmosphere, space.temperature);
    let per_area = space.polytropic * space.atmosphere * space.discharge.value
        / (space.volume.value * (2.0 * rho).sqrt());
    let diameter = |slope: f64| (4.0 / std::f64::consts::PI * slope.abs() / per_area).sqrt();
    let value = diameter(slope.value);
    if !(value.is_finite() && per_area > 0.0) {
        return None;
    }
    // d goes with the square root of slope · volume / discharge: relative variances add, halved.
    let relative = |bounded: &Bounded| {
        let share = bounded.half_width() / bounded.value.abs();
        if share.is_finite() { share } else { 0.0 }
    };
    let others = relative(&space.volume).hypot(relative(&space.discharge));
    let (low_slope, high_slope) = if slope.low <= 0.0 && slope.high >= 0.0 {
        (0.0, slope.low.abs().max(slope.high.abs()))
    } else {
        (slope.low.abs().min(slope.high.abs()), slope.low.abs().max(slope.high.abs()))
    };
    let of_slope = |end: f64| if slope.value == 0.0 { 0.0 } else { (end / slope.value).abs() };
    let up = if slope.value == 0.0 { 0.0 } else { (of_slope(high_slope) - 1.0).hypot(others) };
    let down = if low_slope == 0.0 { 1.0 } else { (1.0 - of_slope(low_slope)).hypot(others) };
    let high = if slope.value == 0.0 { diameter(high_slope) } else { value * (1.0 + up).sqrt() };
    Some(Bounded { value, low: value * (1.0 - down).max(0.0).sqrt(), high })
}

/// √Δp over time, fitted by a straight line on the samples whose difference stays above `floor`
/// (Pa; below it noise bends the root), weighted for the root's uneven noise. Gives the slope in
/// √Pa per s with its 95 % bounds.
pub fn decay_slope(times: &[f64], differences: &[f64], floor: f64) -> Option<Bounded> {
    let usable = |difference: f64| difference > floor.max(0.0) && difference.is_finite();
    let (mut t, mut root, mut weight) = (Vec::new(), Vec::new(), Vec::new());
    for (time, difference) in times.iter().zip(differences) {
        let size = difference.abs();
        if usable(size) && time.is_finite() {
            t.push(*time);
            root.push(size.sqrt());
            // sd(√Δp) = sd(Δp) / (2 √Δp)
            weight.push(size);
        }
    }
    let ones = vec![1.0; t.len()];
    let fit = regression::weighted(&[&ones, &t], &root, Some(&weight))?;
    Some(fit.bounds(1))
}

/// Time, s, in which a hole lets the difference of a sealed space (positive for vacuum, negative
/// for pressure, Pa) fall from `from` to `to`, by the full isentropic flow; `None` unless `to` lies
/// between zero and `from`.
pub fn decay_time(
    orifice: &Orifice,
    volume: f64,
    atmosphere: f64,
    from: f64,
    to: f64,
    polytropic: f64,
) -> Option<f64> {
    let (start, end) = (from.abs(), to.abs());
    if from * to <= 0.0 || !(end <= start) || !(start < atmosphere) || !(volume > 0.0) {
        return None;
    }
    let rate = |difference: f64| {
        let inner = atmosphere - difference.copysign(from);
        let mass = if from > 0.0 {
            orifice.mass_flow(atmosphere, inner)
        } else {
            orifice.mass_flow(inner, atmosphere)
        };
        polytropic * GAS_CONSTANT_AIR * orifice.temperature / volume * mass
    };
    // In the root of the difference the integrand is smooth down to zero: dt = 2 u du / rate(u²).
    let (low, high) = (end.sqrt(), start.sqrt());
    let panels = 64;
    let h = (high - low) / f64::from(panels);
    let integrand = |u: f64| 2.0 * u / rate(u * u);
    let mut sum = integrand(low) + integrand(high);
    for i in 1..panels {
        let weight = if i % 2 == 1 { 4.0 } else { 2.0 };
        sum += weight * integrand(low + f64::from(i) * h);
    }
    let time = sum * h / 3.0;
    time.is_finite().then_some(time)
}
