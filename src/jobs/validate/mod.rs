//! Whole virtual visits, drawn at random: how often the verdict is right, how often a good part is
//! named, how well the bounds hold.

mod efficiency;
mod model_errors;
mod table;
mod virtual_visit;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU32, Ordering};

pub use efficiency::Efficiency;
pub use model_errors::{Missed, ModelError, write_model_errors};
pub use table::{Calibration, Coverage, Miss, Row, Validation};
pub use virtual_visit::{VisitOutcome, visit_car_of_two_faults, visit_virtual_car};

use super::JobError;
use crate::vehicle::Fault;

/// What to validate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ValidationPlan {
    /// How many cars are drawn.
    pub cars: u32,
    /// Whether they are drawn hard: slow adapters, coarse steps, drift, mild faults.
    pub hard: bool,
    /// Whether every faulty car has a fault of another part beside its own.
    pub double: bool,
    /// Draws everything.
    pub seed: u64,
}

/// Plays the visits on every processor core. The result depends on the plan alone. `progress` is
/// told how many visits are done.
///
/// # Errors
/// The first visit, by number, whose link failed.
pub fn validate(
    plan: ValidationPlan,
    progress: &(dyn Fn(u32) + Sync),
) -> Result<Validation, JobError> {
    let next = AtomicU32::new(0);
    let done = AtomicU32::new(0);
    let outcomes = Mutex::new(Vec::with_capacity(plan.cars as usize));
    let cores = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    std::thread::scope(|scope| {
        for _ in 0..cores {
            scope.spawn(|| {
                loop {
                    let number = next.fetch_add(1, Ordering::Relaxed);
                    if number >= plan.cars {
                        return;
                    }
                    let outcome = play(plan, number);
                    if let Ok(mut outcomes) = outcomes.lock() {
                        outcomes.push((number, outcome));
                    }
                    progress(done.fetch_add(1, Ordering::Relaxed) + 1);
                }
            });
        }
    });
    let mut outcomes = outcomes.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    outcomes.sort_by_key(|(number, _)| *number);
    let outcomes: Vec<VisitOutcome> =
        outcomes.into_iter().map(|(_, outcome)| outcome).collect::<Result<_, _>>()?;
    Ok(Validation::new(plan, &outcomes, efficiency::measure(plan.seed)))
}

/// Faults and seed of one car: sound cars and each fault in equal parts.
fn play(plan: ValidationPlan, number: u32) -> Result<VisitOutcome, JobError> {
    let kinds = Fault::ALL.len() as u32 + 1;
    let fault = Fault::ALL.get((number % kinds) as usize).copied();
    let seed = plan.seed.wrapping_mul(1_000_003).wrapping_add(u64::from(number));
    let visit = match fault.filter(|_| plan.double) {
        Some(fault) => {
            let others: Vec<Fault> =
                Fault::ALL.into_iter().filter(|other| !fault.same_part(*other)).collect();
            let second = others[(number / kinds) as usize % others.len()];
            visit_car_of_two_faults(fault, second, plan.hard, seed)
        }
        None => visit_virtual_car(fault, plan.hard, seed),
    };
    visit.map(|(outcome, _)| outcome)
}
