//! Bayes over the hypotheses: one fact after the other, each shown with its factor.

use std::borrow::Cow;

use super::likelihood::{self, Fact, density};
use super::population::{Car, cars, pair, with_space};
use super::sealed;
use super::verdict::{Hypothesis, Source, Verdict, VerdictOutcome, Weight};
use super::{next_check, observed, prior};
use crate::evidence::{Check, Findings, MeasureName, Reason};
use crate::units::Estimate;
use crate::vehicle::Fault;

/// A fault is named, and a car called sound, only above this.
pub const NAMED_FROM: f64 = 0.95;

/// Codes name no part: what was measured or seen says so by itself, with odds of at least this.
const NUMBERS_SAY: f64 = 10.0;

/// One hypothesis while facts are weighed: its log odds, and how its possible cars stand.
pub(super) struct Standing {
    pub(super) hypothesis: Hypothesis,
    pub(super) log_weight: f64,
    /// Weight of each possible car, summing to one, by what is weighed apart.
    shares: [Vec<f64>; APART],
    pub(super) cars: Cow<'static, [Car]>,
    /// The second fault of a car that has two.
    second: Option<Fault>,
}

/// What is weighed apart: the path from the valve to the reading, the sensor's zero, a hole to the
/// outside. They know nothing of each other in a car of any one kind; weighed together, few of the
/// possible cars would be left to tell how likely an unusual zero or hole is.
const APART: usize = 3;

/// Which of these a number speaks about.
fn side(name: MeasureName) -> usize {
    match name {
        MeasureName::RestPressure | MeasureName::CapOffPressure => 1,
        MeasureName::SealedHole => 2,
        _ => 0,
    }
}

/// Share of a hypothesis' cars below which one of them is left out: all 6,000 together would be less
/// than a millionth.
const NEGLIGIBLE: f64 = 1e-10;

impl Standing {
    fn new(
        hypothesis: Hypothesis,
        second: Option<Fault>,
        cars: &'static [Car],
        space: Option<Estimate>,
    ) -> Self {
        // Faults of two parts come by themselves: as often together as chance has it.
        let both = second.map_or(1.0, |fault| {
            prior::prior(Hypothesis::Fault(fault)) / prior::prior(Hypothesis::None)
        });
        Self {
            hypothesis,
            log_weight: (prior::prior(hypothesis) * both).ln(),
            shares: std::array::from_fn(|_| vec![1.0 / cars.len() as f64; cars.len()]),
            cars: match space {
                Some(known) => Cow::Owned(with_space(cars, known)),
                None => Cow::Borrowed(cars),
            },
            second,
        }
    }

    /// What either fault makes of a code or an observation: the one that changes more, measured from
    /// `usual`.
    fn farthest(&self, of: impl Fn(Hypothesis) -> f64, usual: f64) -> f64 {
        let own = of(self.hypothesis);
        let distance = |value: f64| (value / usual).ln().abs();
        match self.second.map(|fault| of(Hypothesis::Fault(fault))) {
            Some(other) if distance(other) > distance(own) => other,
            _ => own,
        }
    }

    /// Weight of each possible car by all that was weighed, summing to one.
    pub(super) fn shares(&self) -> Vec<f64> {
        let [path, zero, hole] = &self.shares;
        let mut shares: Vec<f64> = path
            .iter()
            .zip(zero)
            .zip(hole)
            .map(|((path, zero), hole)| path * zero * hole)
            .collect();
        let total: f64 = shares.iter().sum();
        if total > 0.0 {
            shares.iter_mut().for_each(|share| *share /= total);
        }
        shares
    }

    /// Takes a fact in: how it changes the cars' weights, and the hypothesis'.
    fn weigh(&mut self, side: usize, likelihood: impl Fn(&Car) -> f64) {
        let Some(shares) = self.shares.get_mut(side) else { return };
        let mut total = 0.0;
        for (share, car) in shares.iter_mut().zip(self.cars.iter()) {
            // A car with no share left cannot win it back: it costs nothing any more.
            if *share < NEGLIGIBLE {
                *share = 0.0;
                continue;
            }
            *share *= likelihood(car);
            total += *share;
        }
        // A fact that no possible car explains leaves the cars as they were: the floor below keeps
        // one impossible number from deciding alone.
        let floor = 1e-9;
        if total > 1e-300 {
            shares.iter_mut().for_each(|share| *share /= total);
        } else {
            let even = 1.0 / shares.len() as f64;
            shares.fill(even);
        }
        self.log_weight += total.max(floor).ln();
    }
}

/// Weighs everything that was found.
pub fn weigh(findings: &Findings) -> Verdict {
    let mut standings: Vec<Standing> = cars()
        .iter()
        .map(|(hypothesis, cars)| Standing::new(*hypothesis, None, cars, findings.vapour_space))
        .collect();
    let facts = facts(findings);
    let steps = take_in(findings, &facts, &mut standings);
    let alone = standings.iter().map(|standing| standing.log_weight).collect::<Vec<_>>();
    let leading = alone.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(i, _)| i);
    // Two faults at once: the likeliest one together with each other part's. Codes alone are no sign
    // of two.
    let looked = !facts.is_empty() || !findings.observations.is_empty();
    let mut pairs: Vec<Standing> = match standings.get(leading).map(|it| it.hypothesis) {
        Some(Hypothesis::Fault(first)) if looked => Fault::ALL
            .into_iter()
            .filter(|second| !first.same_part(*second))
            .map(|second| {
                let cars = pair(first, second);
                Standing::new(Hypothesis::Fault(first), Some(second), cars, findings.vapour_space)
            })
            .collect(),
        _ => Vec::new(),
    };
    let paired = take_in(findings, &facts, &mut pairs);
    let folded = |mut alone: Vec<f64>, pairs: &[f64]| {
        if let Some(own) = alone.get_mut(leading) {
            let top = pairs.iter().copied().fold(*own, f64::max);
            let sum = pairs.iter().map(|weight| (weight - top).exp()).sum::<f64>();
            *own = top + ((*own - top).exp() + sum).ln();
        }
        alone
    };
    let steps: Vec<Step> = steps
        .into_iter()
        .zip(&paired)
        .map(|(step, pairs)| Step {
            log_weights: folded(step.log_weights, &pairs.log_weights),
            ..step
        })
        .collect();
    let second = pairs.iter().max_by(|a, b| a.log_weight.total_cmp(&b.log_weight)).and_then(|it| {
        let whole = folded(alone, &pairs.iter().map(|it| it.log_weight).collect::<Vec<_>>());
        let share = (it.log_weight - whole.get(leading)?).exp();
        Some((it.second?, share)).filter(|(_, share)| *share >= NAMED_FROM)
    });
    conclude(findings, &standings, &steps, second)
}

/// One source of evidence, and how the hypotheses stood once it was weighed.
struct Step {
    source: Source,
    estimate: Option<Estimate>,
    log_weights: Vec<f64>,
}

/// Takes codes, numbers and observations in, one after the other.
fn take_in(findings: &Findings, facts: &[Fact], standings: &mut [Standing]) -> Vec<Step> {
    fn step(source: Source, estimate: Option<Estimate>, standings: &[Standing]) -> Step {
        let log_weights = standings.iter().map(|standing| standing.log_weight).collect();
        Step { source, estimate, log_weights }
    }
    let mut steps = vec![step(Source::Prior, None, standings)];
    let mut families: Vec<&str> = Vec::new();
    for code in findings.codes.iter().filter(|code| prior::is_known(code)) {
        // Several codes of one cause are one fact told twice: each further one counts by its root.
        let power = 1.0 / (1.0 + families.len() as f64);
        families.push(code);
        for standing in standings.iter_mut() {
            standing.log_weight +=
                power * standing.farthest(|it| prior::code_factor(code, it), 1.0).ln();
        }
        steps.push(step(Source::Code(code.clone()), None, standings));
    }
    for fact in facts {
        if let Some(density) = density(fact) {
            for standing in standings.iter_mut() {
                standing.weigh(side(fact.name), &density);
            }
        }
        steps.push(step(Source::Measure(fact.check, fact.name), Some(fact.estimate), standings));
    }
    for observation in &findings.observations {
        let usual = observed::probability(*observation, Hypothesis::None);
        for standing in standings.iter_mut() {
            standing.log_weight +=
                standing.farthest(|it| observed::probability(*observation, it), usual).ln();
        }
        steps.push(step(Source::Observation(*observation), None, standings));
    }
    steps
}

/// The numbers that are weighed, in the order of the checks. A number that repeats another one's
/// samples is left out: the throttle check holds the change at idle within it.
fn facts(findings: &Findings) -> Vec<Fact> {
    let of_hold =
        |name| findings.measure(Check::SealedHold, name).map_or(0.0, |estimate| estimate.value);
    let hold = sealed::Hold {
        seconds: of_hold(MeasureName::SealedTime),
        standing: of_hold(MeasureName::SealedStanding),
        rise: of_hold(MeasureName::SealedRise),
        kept: findings
            .measure(Check::SealedHold, MeasureName::SealedHole)
            .is_some_and(|hole| hole.high < likelihood::TIGHT),
        draw_error: findings
            .measure(Check::SealedHold, MeasureName::SealedDraw)
            .map_or(0.0, |draw| draw.standard_error() / draw.value),
        litres: findings.vapour_space.map_or(sealed::USUAL_SPACE, |space| space.value),
    };
    let at_rest =
        |name| findings.measure(Check::RestZero, name).map_or(0.0, |estimate| estimate.value);
    let step = at_rest(MeasureName::Step);
    let (moved, level) = (at_rest(MeasureName::Movement), at_rest(MeasureName::RestPressure));
    let has = |check, name| findings.measure(check, name).is_some();
    let follows = has(Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut);
    let idles = has(Check::IdleZero, MeasureName::IdleChange);
    let purged = has(Check::PurgeResponse, MeasureName::PurgeVacuum);
    let timed = has(Check::UnplugRecovery, MeasureName::RecoveryTime);
    // A reading that hardly ever changes has no noise to speak of.
    let restless = findings
        .measure(Check::RestZero, MeasureName::ChangingReadings)
        .is_none_or(|share| share.value > likelihood::STILL);
    let drew = has(Check::SealedHold, MeasureName::SealedFlow);
    let shared = has(Check::SealedHold, MeasureName::SealedLeak);
    let mut facts = Vec::new();
    for result in &findings.checks {
        for measure in &result.measures {
            let counts = match (result.check, measure.name) {
                (Check::RestZero, MeasureName::RestPressure) => true,
                (Check::RestZero, MeasureName::Noise) => purged && step > 0.0 && restless,
                // Where none ever changed, the movement says so.
                (Check::RestZero, MeasureName::ChangingReadings) => {
                    purged && (step > 0.0 || moved > 0.0)
                }
                // Standing still means something once purge should have moved the tank.
                (Check::RestZero, MeasureName::Movement) => purged,
                (Check::IdleZero, MeasureName::IdleChange) => !follows,
                (Check::PurgeResponse, MeasureName::PurgeVacuum | MeasureName::TrimWithPurge) => {
                    true
                }
                (Check::PurgeResponse, MeasureName::ResponseTime) => !timed,
                (Check::UnplugRecovery, MeasureName::RecoveryTime) => true,
                (Check::UnplugRecovery, MeasureName::ResidualVacuum) => !follows && !idles,
                (Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut) => true,
                (Check::CapOffZero, MeasureName::CapOffPressure | MeasureName::CapOffTime) => true,
                (Check::AfterFillUp, MeasureName::TrimExcursion) => true,
                // A shallow vacuum tells only if purge had its time to build one.
                (Check::SealedHold, MeasureName::SealedVacuum) => {
                    !drew
                        && (measure.estimate.value < -sealed::DEEP
                            || result.reason == Reason::BuildsNoVacuum)
                }
                // The share holds what the drift has of the valve, without the fuel.
                (Check::SealedHold, MeasureName::SealedPull) => !shared,
                (
                    Check::SealedHold,
                    MeasureName::SealedHole
                    | MeasureName::SealedLeak
                    | MeasureName::SealedMovement
                    | MeasureName::SealedFlow
                    | MeasureName::VentedTime
                    | MeasureName::VentTime
                    | MeasureName::GivenBack,
                ) => true,
                _ => false,
            };
            if counts && measure.estimate.value.is_finite() {
                let estimate = measure.estimate;
                let (check, name) = (result.check, measure.name);
                facts.push(Fact { check, name, estimate, step, hold, moved, level });
            }
        }
    }
    facts
}

/// Probabilities from log weights.
fn chances(log_weights: &[f64]) -> Vec<f64> {
    let top = log_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = log_weights.iter().map(|weight| (weight - top).exp()).collect();
    let total: f64 = weights.iter().sum();
    weights.iter().map(|weight| weight / total).collect()
}

pub(super) fn probabilities(standings: &[Standing]) -> Vec<f64> {
    chances(&standings.iter().map(|standing| standing.log_weight).collect::<Vec<_>>())
}

fn conclude(
    findings: &Findings,
    standings: &[Standing],
    steps: &[Step],
    also: Option<(Fault, f64)>,
) -> Verdict {
    let chances = steps.last().map_or_else(Vec::new, |step| chances(&step.log_weights));
    let leading =
        chances.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map_or(0, |(index, _)| index);
    let odds = |chances: &[f64]| {
        let own = chances.get(leading).copied().unwrap_or(0.0);
        let others: f64 = chances.iter().sum::<f64>() - own;
        own.max(1e-300) / others.max(1e-15)
    };
    let told = |step: &&Step| matches!(step.source, Source::Prior | Source::Code(_));
    let by_codes = steps.iter().rfind(told).map(|step| odds(&self::chances(&step.log_weights)));
    let by_numbers = odds(&chances) / by_codes.unwrap_or(1.0);
    let mut before = 1.0;
    let mut weights = Vec::with_capacity(steps.len());
    for step in steps {
        let after = odds(&self::chances(&step.log_weights));
        weights.push(Weight {
            source: step.source.clone(),
            factor: after / before,
            estimate: step.estimate,
        });
        before = after;
    }
    let probability = chances.get(leading).copied().unwrap_or(0.0);
    let hypothesis = standings.get(leading).map_or(Hypothesis::None, |s| s.hypothesis);
    let (outcome, fault) = match hypothesis {
        _ if findings.checks.is_empty() => (VerdictOutcome::Inconclusive, None),
        _ if probability < NAMED_FROM => (VerdictOutcome::Inconclusive, None),
        Hypothesis::None if !enough_for_sound(findings) => (VerdictOutcome::Inconclusive, None),
        Hypothesis::None => (VerdictOutcome::NoFaultFound, None),
        Hypothesis::Fault(_) if by_numbers < NUMBERS_SAY => (VerdictOutcome::Inconclusive, None),
        Hypothesis::Fault(fault) => (VerdictOutcome::FaultFound, Some(fault)),
    };
    let limit = |name| {
        [Check::ThrottleFollow, Check::IdleZero]
            .into_iter()
            .find_map(|check| findings.measure(check, name))
            .map(|estimate| estimate.value)
    };
    let probabilities =
        standings.iter().zip(&chances).map(|(s, chance)| (s.hypothesis, *chance)).collect();
    Verdict {
        outcome,
        fault,
        also: also.filter(|_| fault.is_some()),
        probability,
        probabilities,
        weights,
        next_check: next_check::choose(findings, standings, outcome),
        smallest_leak_percent: limit(MeasureName::DetectionLimitShare),
        smallest_leak_pa: limit(MeasureName::DetectionLimit),
    }
}

/// A time constant that is surely below this, s, belongs to a free vent path and a quick sensor.
const QUICK_ENOUGH: f64 = 2.0;

/// A car is called sound only once the valve, the vent path and the sensor have each been looked
/// at: priors alone are no finding.
fn enough_for_sound(findings: &Findings) -> bool {
    let made = |check: Check, name| findings.measure(check, name).is_some();
    let valve = made(Check::ThrottleFollow, MeasureName::VacuumWithPurgeShut)
        || made(Check::IdleZero, MeasureName::IdleChange);
    let quick = |check: Check, name| {
        findings.measure(check, name).is_some_and(|time| time.high < QUICK_ENOUGH)
    };
    let path = made(Check::UnplugRecovery, MeasureName::RecoveryTime)
        || quick(Check::SealedHold, MeasureName::VentedTime)
        || quick(Check::PurgeResponse, MeasureName::ResponseTime);
    let flow = made(Check::PurgeResponse, MeasureName::PurgeVacuum);
    valve && path && flow
}
