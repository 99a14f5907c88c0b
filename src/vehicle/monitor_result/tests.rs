use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::{MonitorName, MonitorOutcome, SCALINGS, UnitAndScaling, decode_monitor_results};
use crate::vehicle::{DecodeError, hex_bytes};

/// Rows of `fixtures/bytes/scalings.csv`: SAE J1979 appendix E, worked by hand.
#[test]
fn every_scaling_is_held_against_hand_written_bytes() {
    let rows = include_str!("../../../fixtures/bytes/scalings.csv");
    let mut held = Vec::new();
    for row in rows.lines().skip(1) {
        let cells: Vec<&str> = row.splitn(5, ',').collect();
        let id = u8::from_str_radix(cells[0], 16).unwrap();
        let scaling = UnitAndScaling::find(id).unwrap();
        let expected: f64 = cells[2].parse().unwrap();
        let found = scaling.value(hex_bytes(cells[1]).try_into().unwrap());
        assert!((found - expected).abs() < 1e-9 * expected.abs().max(1.0), "{row}: {found}");
        assert_eq!(scaling.unit, cells[3], "{row}");
        held.push(id);
    }
    held.dedup();
    assert_eq!(held, SCALINGS.iter().map(|row| row.id).collect::<Vec<_>>());
    assert!(SCALINGS.is_sorted_by(|a, b| a.id < b.id));
}

/// 3C (0.020 in), test 81, scaling FE: −1500 Pa between −2000 and −1000 Pa; test 82, scaling 32:
/// 0.030 in against at most 0.020 in.
#[test]
fn results_carry_their_limits() {
    let bytes = "3C 81 FE E8 90 E0 C0 F0 60 3C 82 32 03 D8 00 00 02 90";
    let results = decode_monitor_results(&hex_bytes(bytes)).unwrap();
    let [pressure, hole] = results.as_slice() else { panic!("{results:?}") };
    assert_eq!(pressure.monitor, MonitorName::VaporLeak020);
    assert_eq!((pressure.value, pressure.low, pressure.high), (-1500.0, -2000.0, -1000.0));
    assert_eq!((pressure.unit, pressure.outcome), (Some("Pa"), MonitorOutcome::Passed));
    assert_eq!((hole.test, hole.outcome), (0x82, MonitorOutcome::Failed));
    assert!((hole.value - 0.030_012).abs() < 1e-12);
}

#[test]
fn limits_are_compared_with_the_sign_of_the_scaling() {
    let outcome = |bytes: &str| decode_monitor_results(&hex_bytes(bytes)).map(|r| r[0].outcome);
    // FFFF is −1 from 80 on and 65535 below.
    assert_eq!(outcome("3D 01 81 FF FF FF FE 00 01"), Ok(MonitorOutcome::Passed));
    assert_eq!(outcome("3D 01 01 FF FF 00 00 FF FE"), Ok(MonitorOutcome::Failed));
    // A scaling off the table is compared as counts, signed by its number.
    assert_eq!(outcome("3D 01 BB FF FF FF FE 00 01"), Ok(MonitorOutcome::Passed));
    let unknown = decode_monitor_results(&hex_bytes("3D 01 BB FF FF FF FE 00 01")).unwrap();
    assert_eq!((unknown[0].unit, unknown[0].value), (None, -1.0));
    assert_eq!(outcome("3D 01 01 00 00 00 00 00 00"), Ok(MonitorOutcome::NotRun));
}

#[test]
fn unsound_answers_are_typed_errors() {
    let error = |bytes: &str| decode_monitor_results(&hex_bytes(bytes)).unwrap_err();
    let record = "3C 81 FE E8 90 E0 C0 F0 60";
    assert_eq!(error(""), DecodeError::TooShort { service: 6, needed: 9, found: 0 });
    assert_eq!(error("3C 81"), DecodeError::TooShort { service: 6, needed: 9, found: 2 });
    assert_eq!(
        error(&format!("{record} 3C")),
        DecodeError::TooShort { service: 6, needed: 18, found: 10 }
    );
    assert_eq!(error(&format!("{record} {record}")), DecodeError::Repeated { parameter: 0x81 });
    assert_eq!(
        error(&format!("{record} 3D 82 FE 00 00 00 00 00 00")),
        DecodeError::WrongEcho { expected: 0x3C, found: 0x3D }
    );
    assert_eq!(error("3C 81 FE E8 90 F0 60 E0 C0"), DecodeError::LimitsReversed { monitor: 0x3C });
}

#[test]
fn numbers_name_the_vapour_monitors() {
    for id in 0..=u8::MAX {
        assert_eq!(MonitorName::from_id(id).id(), id);
    }
    let holes = MonitorName::VAPOR_SYSTEM.map(|id| MonitorName::from_id(id).hole_inches());
    assert_eq!(holes, [Some(0.150), Some(0.090), Some(0.040), Some(0.020), None]);
}

#[test]
fn random_answers_never_panic_and_pass_only_between_their_limits() {
    let mut random = ChaCha8Rng::seed_from_u64(0x06);
    for _ in 0..50_000 {
        let length = if random.random() { 9 } else { random.random_range(0..30) };
        let bytes: Vec<u8> = (0..length).map(|_| random.random()).collect();
        for result in decode_monitor_results(&bytes).unwrap_or_default() {
            let inside = result.low <= result.value && result.value <= result.high;
            assert_eq!(inside, result.outcome != MonitorOutcome::Failed);
        }
    }
}
