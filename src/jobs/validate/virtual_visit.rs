use super::model_errors::{self, Missed};
use crate::checks;
use crate::diagnosis::{Hypothesis, VerdictOutcome};
use crate::evidence::{Check, MeasureName};
use crate::jobs::check_plan::CheckPlan;
use crate::jobs::record::regain;
use crate::jobs::run_check::Instructions;
use crate::jobs::source::Source;
use crate::jobs::visit::is_known;
use crate::jobs::{JobError, Judgement, connect, judge, read_car};
use crate::recording::{Action, ActionAt, Recording};
use crate::units::Estimate;
use crate::vehicle::Fault;
use crate::virtual_car::{CarParameters, Garage, Pace, Truth};
use crate::wording::Language;

/// How one visit ended, beside the truth.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitOutcome {
    /// Draws the same car again: `stilltank demo --fault F --seed N`.
    pub seed: u64,
    /// What the car really has.
    pub truth: Truth,
    /// The verdict's outcome.
    pub outcome: VerdictOutcome,
    /// The fault it names.
    pub named: Option<Fault>,
    /// The second one that it names beside it.
    pub also: Option<Fault>,
    /// The most probable hypothesis.
    pub leading: Hypothesis,
    /// Its probability.
    pub probability: f64,
    /// Whether the leading hypothesis is the truth.
    pub leading_is_true: bool,
    /// Vacuum with the purge shut as measured, Pa at choked flow.
    pub shut_vacuum: Option<Estimate>,
    /// Recovery time as measured, s.
    pub recovery: Option<Estimate>,
    /// How far numbers that are weighed as shares were off.
    pub missed: Vec<Missed>,
    /// Smallest leak that would have shown, Pa.
    pub limit: Option<f64>,
    /// How long the visit took, s.
    pub seconds: f64,
    /// Checks made.
    pub checks: u32,
    /// Whether the fault's signal stands above the sensor's step and noise.
    pub visible: bool,
}

/// What the barometric parameter's step can hide of a wrong zero, Pa.
const HIDDEN_ZERO: f64 = 1_000.0;
/// A check that has not ended after this long is given up, s.
const PATIENCE: f64 = 420.0;

/// Plays one whole visit through the link: reads the codes, makes the checks in the order that the
/// diagnosis recommends until the verdict stands.
///
/// # Errors
/// When the link to the virtual car fails.
pub fn visit_virtual_car(
    fault: Option<Fault>,
    hard: bool,
    seed: u64,
) -> Result<(VisitOutcome, Recording), JobError> {
    visit(drawn(fault, hard, seed), seed)
}

/// The same of a car with two faults at once.
///
/// # Errors
/// When the link to the virtual car fails.
pub fn visit_car_of_two_faults(
    first: Fault,
    second: Fault,
    hard: bool,
    seed: u64,
) -> Result<(VisitOutcome, Recording), JobError> {
    visit(drawn(Some(first), hard, seed).with_another(second), seed)
}

fn drawn(fault: Option<Fault>, hard: bool, seed: u64) -> CarParameters {
    if hard {
        CarParameters::draw_hard(fault, None, seed)
    } else {
        CarParameters::draw(fault, None, seed)
    }
}

fn visit(parameters: CarParameters, seed: u64) -> Result<(VisitOutcome, Recording), JobError> {
    let mut recording = Recording::default();
    recording.set_tank_litre(parameters.tank_is_looked_up().then(|| parameters.tank_litre()));
    let mut source = connect::virtual_car(parameters, seed, Pace::Unbounded, &mut |_| {})?;
    let started = source.now();
    let codes = read_car::read_codes(&mut source.car()?.link, Language::English)?;
    for line in codes {
        recording.push_code(source.now(), &line.code);
    }
    let mut plan = CheckPlan::default();
    let mut judgement = judge(&recording, &[]);
    while let Some(check) = plan.take_next(&judgement.verdict) {
        run(&mut source, &mut recording, check)?;
        judgement = judge(&recording, &[]);
    }
    let truth = source.garage().map(Garage::truth).ok_or(JobError::OnlyARecording)?;
    let seconds = source.now().seconds_since(started);
    let mut outcome = outcome(seed, truth, &judgement, plan.count(), seconds);
    // A zero that was taken from the first reading hides what is wrong with it.
    let zeroed = recording.last_action(Action::TankZeroed).is_some();
    let hidden_zero = zeroed && outcome.truth.fault == Some(Fault::TankSensorOffset);
    outcome.visible &= !hidden_zero || outcome.truth.sensor_offset.0.abs() > HIDDEN_ZERO;
    Ok((outcome, recording))
}

fn run(source: &mut Source, recording: &mut Recording, check: Check) -> Result<(), JobError> {
    source.poll_for(Some(check));
    let started = source.now();
    let mut procedure = checks::start(check, started, recording);
    let mut instructions = Instructions::default();
    while !procedure.is_done() && source.now().seconds_since(started) < PATIENCE {
        let catch = match source.poll() {
            Ok(catch) => catch,
            // As in a real visit: what is lost is taken up again.
            Err(error) if !regain(source) => return Err(error.into()),
            Err(_) => continue,
        };
        for (signal, at, value) in catch.samples {
            recording.push(signal, at, value);
        }
        for known in catch.actions {
            note(recording, known);
        }
        let now = source.now();
        procedure.handle_time(now, recording);
        while let Some(known) = procedure.poll_noticed() {
            note(recording, known);
        }
        if let Some(garage) = source.garage() {
            instructions.pass_on(&procedure.progress(now), garage);
        }
    }
    Ok(())
}

/// Records an action unless it is already known, by the rule of real visits: the person's word and
/// the program's eye see the same deed.
fn note(recording: &mut Recording, action: ActionAt) {
    if !is_known(recording.actions(), action) {
        recording.push_action(action.at, action.action);
    }
}

fn outcome(
    seed: u64,
    truth: Truth,
    judgement: &Judgement,
    checks: u32,
    seconds: f64,
) -> VisitOutcome {
    let verdict = &judgement.verdict;
    let measure = |check, name| judgement.findings.measure(check, name);
    let leading = match verdict.leading() {
        Hypothesis::None => None,
        Hypothesis::Fault(fault) => Some(fault),
    };
    VisitOutcome {
        seed,
        leading: verdict.leading(),
        outcome: verdict.outcome,
        named: verdict.fault,
        also: verdict.also.map(|(fault, _)| fault),
        probability: verdict.probability,
        leading_is_true: leading == truth.fault || leading.is_some() && leading == truth.second,
        shut_vacuum: measure(Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut)
            .or_else(|| measure(Check::IdleZero, MeasureName::IdleChange)),
        recovery: measure(Check::UnplugRecovery, MeasureName::RecoveryTime),
        missed: model_errors::missed(&judgement.findings, &truth),
        limit: verdict.smallest_leak_pa,
        seconds,
        checks,
        visible: visible(&truth),
        truth,
    }
}

/// Whether a fault's mark on the pressure is larger than what one reading's step and noise hide.
fn visible(truth: &Truth) -> bool {
    let hidden = truth.sensor_step.0.max(3.0 * truth.sensor_noise.0).max(4.0);
    match truth.fault {
        Some(Fault::PurgeValveLeaking) => truth.leak_pressure.0.abs() > hidden,
        Some(Fault::VentPathRestricted) => truth.vent_factor > 4.0,
        Some(Fault::TankSensorOffset) => truth.sensor_offset.0.abs() > 260.0 + hidden,
        Some(Fault::TankSensorSlow) => truth.sensor_lag_seconds > 1.5,
        Some(Fault::VaporLeak) => truth.hole.0 > 0.5,
        Some(Fault::NoPurgeFlow | Fault::TankSensorStuck) | None => true,
    }
}
