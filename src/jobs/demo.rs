use std::sync::Arc;
use std::time::Duration;

use rust_decimal::Decimal;
use rust_decimal::prelude::FromPrimitive;

use super::check_plan::CheckPlan;
use super::connect::{self, HurriedClock};
use super::source::Source;
use super::{
    Command, Complaint, Event, JobError, LinkState, Quote, ReadScope, RepairDraft, ReportFormat,
    Workshop, proof,
};
use crate::diagnosis::{Hypothesis, VerdictOutcome};
use crate::evidence::{Check, Outcome, Reason};
use crate::recording::{Action, Series};
use crate::report::Paper;
use crate::store::NewVehicle;
use crate::units::Instant;
use crate::vehicle::{Fault, Part, Signal};
use crate::virtual_car::{Act, CarParameters, Pace};

/// How long the person may take to replace the part, on the car's clock.
const REPAIR_PATIENCE: Duration = Duration::from_secs(600);

/// How many times faster than life a demonstration runs that somebody watches.
const WATCHABLE: u32 = 6;

/// How long the person may take to stop the engine, on the car's clock.
const STOP_PATIENCE: Duration = Duration::from_secs(60);

/// The whole job on the virtual car, as it unfolds: checks until the verdict stands, then the
/// repair and its proof.
#[derive(Clone, Debug)]
pub(super) struct Demo {
    stage: Stage,
    plan: CheckPlan,
}

#[derive(Clone, Debug)]
enum Stage {
    /// Checks are made in the order that the diagnosis recommends.
    Checking,
    /// The person replaces the part.
    Repairing { give_up: Instant },
    /// The repair is proved: these checks are still to be made, the last one first; once more where the
    /// first time left it open.
    Proving { left: Vec<Check>, repeated: bool },
    /// The person stops the engine, without which a car does not let its codes be erased.
    Stopping { give_up: Instant },
    /// Everything is done.
    Over,
}

impl Workshop {
    /// Plays the job fast enough to watch. Without a seed the time of day draws the car, and its
    /// fault too unless that is given.
    pub(super) fn start_demo(
        &mut self,
        fault: Option<Fault>,
        seed: Option<u64>,
    ) -> Result<(), JobError> {
        let Some(seed) = seed else {
            let seed = u64::from(self.date().timestamp_subsec_micros());
            let drawn = usize::try_from(seed % (Fault::ALL.len() as u64 + 1)).unwrap_or(0);
            let fault = fault.or_else(|| Fault::ALL.get(drawn).copied());
            return self.play_demo(fault, seed, Some(WATCHABLE));
        };
        self.play_demo(fault, seed, Some(WATCHABLE))
    }

    /// Sets the virtual car up, connects and reads it; the rest happens turn by turn. With `speed`
    /// the car lives so many times faster than life; without it, as fast as the processor allows.
    ///
    /// # Errors
    /// What keeps the visit from being started.
    pub fn play_demo(
        &mut self,
        fault: Option<Fault>,
        seed: u64,
        speed: Option<u32>,
    ) -> Result<(), JobError> {
        let parameters = CarParameters::draw(fault, None, seed);
        let vehicle = self.virtual_vehicle(&parameters, seed)?;
        self.attempt(Command::StartVisit { vehicle })?;
        let kinds = vec![Complaint::LightOn];
        self.attempt(Command::SetComplaint { kinds, words: String::new() })?;
        let pace = match speed {
            Some(factor) => Pace::RealTime(Arc::new(HurriedClock::new(self.clock, factor))),
            None => Pace::Unbounded,
        };
        let events = self.events.clone();
        let source = connect::virtual_car(parameters, seed, pace, &mut |step| {
            let _nobody_listens = events.send(Event::Link(LinkState::Connecting(step)));
        })?;
        self.join(source, connect::VIRTUAL_CAR.to_owned(), true)?;
        self.attempt(Command::ReadCar(ReadScope::Everything))?;
        self.demo = Some(Demo { stage: Stage::Checking, plan: CheckPlan::default() });
        Ok(())
    }

    /// Whether a demonstration is under way.
    pub fn demo_is_under_way(&self) -> bool {
        self.demo.as_ref().is_some_and(|demo| !matches!(demo.stage, Stage::Over))
    }

    /// Moves the demonstration on when nothing else is under way.
    pub(super) fn advance_demo(&mut self) -> Result<(), JobError> {
        if self.running.is_some() || self.lost_since.is_some() {
            return Ok(());
        }
        // It stays in place meanwhile: what it starts must know that it is a demonstration's.
        let Some(mut demo) = self.demo.clone() else { return Ok(()) };
        let advanced = self.advance_stage(&mut demo);
        if advanced.is_err() {
            demo.stage = Stage::Over;
        }
        self.demo = Some(demo);
        advanced
    }

    fn advance_stage(&mut self, demo: &mut Demo) -> Result<(), JobError> {
        let visit = self.visit.as_ref().ok_or(JobError::NoVisit)?;
        let now = visit.clock.now();
        match &mut demo.stage {
            Stage::Checking => match demo.plan.take_next(&visit.judgement.verdict) {
                Some(check) => self.start_check(check),
                None => self.end_of_checks(demo, now),
            },
            Stage::Repairing { give_up } => {
                if visit.recording.last_action(Action::PartReplaced).is_some() {
                    let mut left = vec![Check::RepairProof];
                    left.extend(proof::again(visit));
                    let first = left.pop().unwrap_or(Check::RepairProof);
                    self.attempt(Command::SaveRepair(invented_repair(visit.leading())))?;
                    demo.stage = Stage::Proving { left, repeated: false };
                    self.start_check(first)?;
                } else if now > *give_up {
                    demo.stage = Stage::Over;
                }
                Ok(())
            }
            Stage::Proving { left, repeated } => {
                if let Some(check) = left.pop() {
                    return self.start_check(check);
                }
                let open = visit.result(Check::RepairProof).is_some_and(|proof| {
                    proof.outcome == Outcome::Inconclusive && proof.reason == Reason::LimitTooCoarse
                });
                if open && !*repeated {
                    *repeated = true;
                    return self.start_check(Check::RepairProof);
                }
                if let Some(garage) = self.source.as_ref().and_then(Source::garage) {
                    garage.ask(Act::StopEngine);
                }
                demo.stage = Stage::Stopping { give_up: now + STOP_PATIENCE };
                Ok(())
            }
            Stage::Stopping { give_up } => {
                let speed = visit.recording.series(Signal::EngineSpeed).and_then(Series::last);
                let runs = speed.is_some_and(|(_, speed)| speed > 0.0);
                if runs && now <= *give_up {
                    return Ok(());
                }
                self.attempt(Command::ClearCodes { consent: true })?;
                self.attempt(Command::PlanFollowUp { days: 14 })?;
                self.finish(demo)
            }
            Stage::Over => Ok(()),
        }
    }

    /// The verdict stands, or no check would move it further.
    fn end_of_checks(&mut self, demo: &mut Demo, now: Instant) -> Result<(), JobError> {
        let found = self
            .visit
            .as_ref()
            .is_some_and(|visit| visit.judgement.verdict.outcome == VerdictOutcome::FaultFound);
        let garage = self.source.as_ref().and_then(Source::garage);
        match garage.filter(|_| found) {
            Some(garage) => {
                garage.ask(Act::ReplacePart);
                demo.stage = Stage::Repairing { give_up: now + REPAIR_PATIENCE };
                Ok(())
            }
            None => self.finish(demo),
        }
    }

    fn finish(&mut self, demo: &mut Demo) -> Result<(), JobError> {
        demo.stage = Stage::Over;
        self.attempt(Command::WriteReport {
            visit: None,
            format: ReportFormat::Html,
            path: None,
            private: false,
            paper: Paper::default(),
        })?;
        self.disconnect()
    }

    fn virtual_vehicle(&mut self, car: &CarParameters, seed: u64) -> Result<i64, JobError> {
        let vin = car.vin();
        if let Some(known) = self.store.vehicle_by_vin(vin, true)? {
            return Ok(known.0);
        }
        let vehicle = NewVehicle {
            name: format!("Virtual car {seed}"),
            vin: vin.to_owned(),
            tank_litre: Decimal::from_f64(car.tank_litre()),
            is_virtual: true,
            ..NewVehicle::default()
        };
        Ok(self.store.add_vehicle(&vehicle, self.clock.date())?.0)
    }
}

/// A repair with invented prices.
fn invented_repair(leading: Hypothesis) -> RepairDraft {
    let part = match leading {
        Hypothesis::Fault(Fault::PurgeValveLeaking | Fault::NoPurgeFlow) => "Purge valve",
        Hypothesis::Fault(Fault::VentPathRestricted) => "Vent valve and filter",
        Hypothesis::Fault(
            Fault::TankSensorOffset | Fault::TankSensorSlow | Fault::TankSensorStuck,
        ) => "Tank pressure sensor",
        Hypothesis::Fault(Fault::VaporLeak) => "Fuel cap",
        Hypothesis::None => "",
    };
    let quote = |seller: &str, amount: &str, note: &str, chosen| Quote {
        seller: seller.to_owned(),
        note: note.to_owned(),
        amount: amount.to_owned(),
        chosen,
    };
    RepairDraft {
        part: part.to_owned(),
        quotes: vec![
            quote("Seller A", "38.50", "in stock", true),
            quote("Seller B", "54.10", "two days", false),
        ],
        currency: "EUR".to_owned(),
        labour: "25.00".to_owned(),
        diagnosis: "15.00".to_owned(),
        shop_diagnosis: "120.00".to_owned(),
        tax: String::new(),
        part_prices: [
            (Part::PurgeValve, "38.50".to_owned()),
            (Part::VentValve, "46.20".to_owned()),
            (Part::TankSensor, "57.80".to_owned()),
            (Part::FuelCap, "14.90".to_owned()),
        ]
        .into(),
        notes: "Invented prices of a demonstration.".to_owned(),
    }
}
