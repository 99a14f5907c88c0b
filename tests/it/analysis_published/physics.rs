//! Orifice flow against values computed independently (`physics_reference.json`: isentropic flow
//! formulae, decay integrated by an adaptive Runge–Kutta method at 1e-10).

use super::{close, number, published_json};
use stilltank::analysis::{Bounded, orifice_flow as flow};

const AMBIENT: f64 = 101_325.0;
const WARM: f64 = 293.15;

#[test]
fn critical_ratios() {
    let reference = published_json("physics_reference.json");
    for (gamma, expected) in reference["critical_pressure_ratio"].as_object().expect("by gamma") {
        let gamma: f64 = gamma.parse().expect("a number");
        close(flow::critical_ratio(gamma), number(expected), 1e-13, "critical ratio");
    }
    let choke = number(&reference["choke_pressure_fluids_lib_101325_g1.4"]);
    close(AMBIENT * flow::critical_ratio(flow::GAMMA_AIR), choke, 1e-13, "choke pressure");
}

#[test]
fn density_of_air() {
    let reference = published_json("physics_reference.json");
    let air = &reference["air"];
    close(flow::GAS_CONSTANT_AIR, number(&air["R_specific"]), 1e-14, "gas constant");
    close(flow::density(AMBIENT, WARM), number(&air["rho_20C_101325"]), 1e-13, "20 degC");
    close(flow::density(AMBIENT, 273.15), number(&air["rho_0C"]), 1e-13, "0 degC");
}

#[test]
fn flow_through_leak_sized_holes() {
    let reference = published_json("physics_reference.json");
    for row in reference["orifice_flow_inward"].as_array().expect("rows") {
        let orifice = flow::Orifice {
            diameter: number(&row["d_m"]),
            discharge: number(&row["Cd"]),
            temperature: WARM,
        };
        let drop = number(&row["dp_Pa"]);
        let mass = orifice.mass_flow(AMBIENT, AMBIENT - drop);
        // Near ratio 1 the isentropic formula is a difference of nearly equal powers.
        close(mass, number(&row["mdot_kg_s"]), 1e-11, "mass flow");
        let litres = orifice.litres_per_minute(AMBIENT, AMBIENT - drop);
        close(litres, number(&row["Q_L_min_at_ambient"]), 1e-11, "L/min");
        let rho = flow::density(AMBIENT, WARM);
        let simple = flow::incompressible_mass_flow(&orifice, drop, rho);
        close(simple, number(&row["incompressible_mdot"]), 1e-13, "incompressible");
        let back = flow::diameter_of_flow(litres, 0.7, AMBIENT, AMBIENT - drop, WARM);
        close(back.expect("a hole"), orifice.diameter, 1e-13, "and back");
    }
}

#[test]
fn choked_flow() {
    let reference = published_json("physics_reference.json");
    for row in reference["purge_valve_choked"].as_array().expect("rows") {
        let diameter = number(&row["d_mm"]) / 1e3;
        let litres = flow::purge_litres_per_minute(diameter, number(&row["Cd"]), AMBIENT, 30e3);
        close(litres, number(&row["Q_L_min"]), 1e-13, "purge flow");
    }
    let square_millimetre = flow::Orifice {
        diameter: (4e-6 / std::f64::consts::PI).sqrt(),
        discharge: 1.0,
        temperature: WARM,
    };
    let expected = number(&reference["choked_1mm2_Cd1_air_293K_1bar"]);
    close(square_millimetre.mass_flow(1e5, 2e4), expected, 1e-13, "1 mm² at 1 bar");
}

#[test]
fn a_sealed_vacuum_decays_as_integrated() {
    let reference = published_json("physics_reference.json");
    for row in reference["tank_vacuum_decay"].as_array().expect("rows") {
        let diameter = if row["orifice"] == "0.020 in" { 0.508e-3 } else { 1.016e-3 };
        let orifice = flow::Orifice { diameter, discharge: 0.7, temperature: WARM };
        let start = number(&row["dp0_Pa"]);
        let volume = number(&row["V_m3"]);
        let half = flow::decay_time(&orifice, volume, AMBIENT, start, 0.5 * start, 1.0);
        let ninety = flow::decay_time(&orifice, volume, AMBIENT, start, 0.1 * start, 1.0);
        close(half.expect("a time"), number(&row["ode"]["t50"]), 1e-7, "t50");
        close(ninety.expect("a time"), number(&row["ode"]["t90drop"]), 1e-7, "t90");
    }
    let orifice = flow::Orifice { diameter: 0.508e-3, discharge: 0.7, temperature: WARM };
    let adiabatic = &reference["tank_vacuum_decay_adiabatic_0.020in_40L_1500Pa"];
    let half = flow::decay_time(&orifice, 0.04, AMBIENT, 1500.0, 750.0, 1.4);
    close(half.expect("a time"), number(&adiabatic["t50"]), 1e-7, "adiabatic t50");
    let outward = &reference["tank_pressure_decay_outflow_0.020in_40L_1500Pa"];
    let half = flow::decay_time(&orifice, 0.04, AMBIENT, -1500.0, -750.0, 1.0);
    close(half.expect("a time"), number(&outward["t50"]), 1e-7, "outward t50");
}

#[test]
fn hole_from_the_slope_of_a_decay() {
    let reference = published_json("physics_reference.json");
    let example = &reference["leak_size_from_slope"]["example"];
    let slope = number(&example["s"]);
    let space = |volume: f64, discharge: f64| flow::SealedSpace {
        volume: Bounded::symmetric(volume, 0.0),
        discharge: Bounded::symmetric(discharge, 0.0),
        atmosphere: AMBIENT,
        temperature: WARM,
        polytropic: 1.0,
    };
    let diameter = |space: &flow::SealedSpace| {
        let hole = flow::hole_from_decay_slope(Bounded::symmetric(slope, 0.0), space);
        hole.expect("a hole").value * 1e3
    };
    close(diameter(&space(0.04, 0.7)), number(&example["d_mm_back"]), 1e-13, "diameter");
    let sensitivity = &reference["leak_size_sensitivity"];
    let other = number(&sensitivity["d_if_Cd_0_6_mm"]);
    close(diameter(&space(0.04, 0.6)), other, 1e-13, "with Cd 0.6");
    let larger = number(&sensitivity["d_if_V_plus10pct_mm"]);
    close(diameter(&space(0.044, 0.7)), larger, 1e-13, "with a tenth more volume");
}

#[test]
fn psi_is_flat_when_choked_and_gone_at_equal_pressure() {
    assert_eq!(flow::psi(0.3), 1.0);
    assert_eq!(flow::psi(0.528), 1.0);
    assert_eq!(flow::psi(1.0), 0.0);
    assert_eq!(flow::psi(1.2), 0.0);
    assert!(flow::psi(f64::NAN).is_nan());
    // psi is mass flow over choked mass flow, whose values stand in the published tables.
    let hole = flow::Orifice { diameter: 1e-3, discharge: 0.7, temperature: WARM };
    for ratio in [0.55, 0.7, 0.85, 0.95, 0.99] {
        let share = hole.mass_flow(AMBIENT, ratio * AMBIENT) / hole.mass_flow(AMBIENT, 0.0);
        close(flow::psi(ratio), share, 1e-12, "psi");
        let step = 1e-6;
        let slope = (flow::psi(ratio + step) - flow::psi(ratio - step)) / (2.0 * step);
        close(flow::psi_slope(ratio), slope, 1e-5, "slope");
    }
}

#[test]
fn iso_6358_meets_the_isentropic_form_when_choked() {
    // C of a hole is its choked mass flow over (pressure · reference density); ISO 6358, from memory.
    let hole = flow::Orifice { diameter: 2e-3, discharge: 1.0, temperature: WARM };
    let conductance = hole.mass_flow(1e5, 2e4) / (1e5 * 1.185);
    let choked = flow::iso_6358_mass_flow(conductance, 0.528, AMBIENT, 40e3, WARM);
    close(choked, hole.mass_flow(AMBIENT, 40e3), 1e-12, "choked");
    // The ellipse stays within 1.5 % of the isentropic curve.
    for ratio in [0.6, 0.7, 0.8, 0.9] {
        let ellipse = flow::iso_6358_mass_flow(conductance, 0.528, AMBIENT, ratio * AMBIENT, WARM);
        close(ellipse, hole.mass_flow(AMBIENT, ratio * AMBIENT), 0.015, "ellipse");
    }
}
