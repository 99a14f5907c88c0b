//! The proof of a repair as a report gets it, invented.

use stilltank::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use stilltank::report::{ProofNumber, ProofRecord};
use stilltank::units::Instant;

use super::{Noise, at, estimate, measure};

pub(super) fn proof() -> ProofRecord {
    let trace = |leak: f64, seed| {
        let mut noise = Noise(seed);
        (0..260).map(move |tick| {
            let t = f64::from(tick) / 10.0;
            let is_open = [4.3, 11.6, 19.0].iter().any(|start| (*start..start + 1.8).contains(&t));
            (t, leak * if is_open { 0.4 } else { 1.0 } - 3.0 + 7.0 * noise.next())
        })
    };
    ProofRecord {
        result: CheckResult {
            check: Check::RepairProof,
            outcome: Outcome::Pass,
            reason: Reason::ProvenStill,
            measures: vec![
                measure(MeasureName::VacuumWithPurgeShut, -2.0, 6.0),
                measure(MeasureName::DetectionLimit, 9.0, 0.0),
            ],
            window: (Instant::ZERO, Instant::from_seconds(26.0)),
        },
        before_at: Some(at("2026-03-14T09:58:00+01:00")),
        after_at: Some(at("2026-03-14T11:20:00+01:00")),
        deeds: (Check::ThrottleFollow, Check::ThrottleFollow),
        before: trace(-206.0, 3).collect(),
        after: trace(1.0, 9).collect(),
        limit_pa: 20.0,
        shut_vacuum: Some((estimate(-209.0, 7.0), estimate(-2.0, 6.0))),
        numbers: vec![ProofNumber {
            name: MeasureName::VacuumWithPurgeShut,
            before: Some(estimate(-209.0, 7.0)),
            after: estimate(-2.0, 6.0),
        }],
    }
}
