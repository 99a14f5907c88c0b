//! What the store promises, held against real files in a temporary folder. All names, VINs and
//! numbers are invented.

mod clock;
mod compression;
mod crash_safety;
mod damage;
mod histories;
mod merging;
mod merging_orders;
mod mutated_bundles;
mod opening;
mod plain_tables;
mod released_schemas;
mod steps;
mod summaries;
mod survival;

use std::path::PathBuf;

use chrono::{DateTime, Utc};
use tempfile::TempDir;

use super::{NewVehicle, Store, VehicleId, VisitId};
use crate::diagnosis::{Hypothesis, Source, Verdict, VerdictOutcome, Weight};
use crate::evidence::{Check, CheckResult, Measure, MeasureName, Outcome, Reason};
use crate::units::{Estimate, Instant};
use crate::vehicle::{Fault, Signal};

/// A store in a folder that goes away with it.
struct Bench {
    store: Store,
    folder: TempDir,
}

impl Bench {
    fn new(seed: u64) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::open(&folder.path().join("garage.db")).unwrap();
        store.seed_uids(seed);
        Self { store, folder }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("garage.db")
    }

    fn reopen(mut self) -> Self {
        let path = self.path();
        drop(self.store);
        self.store = Store::open(&path).unwrap();
        self
    }

    fn vehicle(&mut self, name: &str, vin: &str) -> VehicleId {
        let vehicle = NewVehicle { name: name.into(), vin: vin.into(), ..NewVehicle::default() };
        self.store.add_vehicle(&vehicle, minute(0)).unwrap()
    }

    fn visit(&mut self, name: &str, vin: &str) -> VisitId {
        let vehicle = self.vehicle(name, vin);
        self.store.start_visit(vehicle, minute(1)).unwrap()
    }
}

/// A wall-clock time, counted in minutes from an arbitrary start.
fn minute(minutes: i64) -> DateTime<Utc> {
    DateTime::from_timestamp(1_700_000_000 + minutes * 60, 123_456_000).unwrap()
}

fn seconds(seconds: f64) -> Instant {
    Instant::from_seconds(seconds)
}

/// One answer a tenth of a second: two signals at one time.
fn batch(number: usize) -> Vec<(Signal, Instant, f64)> {
    let at = Instant::from_micros(number as i64 * 100_000 + (number as i64 * 7919) % 9973);
    vec![
        (Signal::TankPressure, at, (number % 17) as f64 * -6.25),
        (Signal::ManifoldPressure, at, 30.0 + (number % 5) as f64),
    ]
}

fn throttle_follow(vacuum_pa: f64) -> CheckResult {
    let estimate = |value, half| Estimate { value, low: value - half, high: value + half };
    CheckResult {
        check: Check::ThrottleFollow,
        outcome: Outcome::Fail,
        reason: Reason::FollowsThrottle,
        measures: vec![
            Measure { name: MeasureName::VacuumWithPurgeShut, estimate: estimate(vacuum_pa, 7.1) },
            Measure { name: MeasureName::DetectionLimit, estimate: estimate(18.0, 0.1) },
            Measure {
                name: MeasureName::RecoveryTime,
                estimate: Estimate {
                    value: 0.1 + 0.2,
                    low: f64::NEG_INFINITY,
                    high: f64::INFINITY,
                },
            },
        ],
        window: (seconds(1.0), seconds(60.0)),
    }
}

fn purge_valve_verdict(probability: f64) -> Verdict {
    Verdict {
        outcome: VerdictOutcome::FaultFound,
        fault: Some(Fault::PurgeValveLeaking),
        also: None,
        probability,
        probabilities: vec![
            (Hypothesis::Fault(Fault::PurgeValveLeaking), probability),
            (Hypothesis::None, 1.0 - probability),
        ],
        weights: vec![Weight {
            source: Source::Code("P0496".into()),
            factor: 30.0 / 7.0,
            estimate: None,
        }],
        next_check: None,
        smallest_leak_percent: None,
        smallest_leak_pa: Some(18.0),
    }
}
