use std::sync::Mutex;

use super::arguments::Validate;
use super::failure::Failure;
use super::output::Output;
use crate::jobs::{MachineClock, Validation, ValidationPlan, validate, write_model_errors};

/// Misses that are listed; `--json` holds all of them.
const MOST_MISSES: usize = 40;

/// Plays whole virtual visits and prints how often the verdict is right.
pub(super) fn run(arguments: &Validate, output: &mut Output) -> Result<(), Failure> {
    let plan = ValidationPlan {
        cars: arguments.cars,
        hard: arguments.hard,
        double: arguments.double,
        seed: arguments.seed,
    };
    let clock = MachineClock::start();
    let shown = Mutex::new(&mut *output);
    let result = validate(plan, &|done| {
        if let Ok(mut output) = shown.lock() {
            output.progress(&progress(done, plan.cars, clock.now().seconds()));
        }
    })?;
    if let Some(file) = &arguments.model_errors {
        write_model_errors(&result.model_errors, file)?;
    }
    if arguments.json {
        output.json(&result);
    } else {
        output.data(&table(&result));
    }
    Ok(())
}

fn progress(done: u32, cars: u32, elapsed: f64) -> String {
    let left = elapsed / f64::from(done.max(1)) * f64::from(cars - done);
    format!("{done} of {cars} visits, about {left:.0} s left")
}

fn table(result: &Validation) -> String {
    let mut lines = vec![format!(
        "{} {}cars{}, seed {}: fault by verdict",
        result.cars,
        if result.hard { "hard " } else { "" },
        if result.double { " of two faults" } else { "" },
        result.seed
    )];
    lines.push(format!(
        "{:<22} {:>6} {:>7} {:>6} {:>7} {:>7}  wrong part named",
        "car", "cars", "right", "open", "missed", "right %"
    ));
    for (kind, row) in &result.rows {
        let blamed: Vec<String> =
            row.blamed.iter().map(|(fault, count)| format!("{fault} {count}")).collect();
        lines.push(format!(
            "{kind:<22} {:>6} {:>7} {:>6} {:>7} {:>7.1}  {}",
            row.cars,
            row.right,
            row.inconclusive,
            row.missed,
            100.0 * f64::from(row.right) / f64::from(row.cars.max(1)),
            blamed.join(", ")
        ));
    }
    if result.double {
        let both: u32 = result.rows.values().map(|row| row.both).sum();
        lines.push(format!("both faults named: {both}"));
    }
    lines.push(format!(
        "right {:.2} %; {:.2} % where the fault stands above the sensor's step and noise",
        100.0 * result.right_share,
        100.0 * result.right_share_visible
    ));
    lines.push(format!(
        "a good part named: {:.1} in 1,000 (another fault of the same part left out)",
        result.blamed_per_thousand
    ));
    for (name, coverage) in
        [("shut-valve vacuum", result.shut_vacuum), ("recovery time", result.recovery)]
    {
        lines.push(format!(
            "95 % bounds of the {name} held the truth {:.1} % of {} times; squared error {:.2} of \
             what is claimed",
            100.0 * f64::from(coverage.held) / f64::from(coverage.given.max(1)),
            coverage.given,
            coverage.error_ratio
        ));
    }
    for band in result.calibration.iter().filter(|band| band.visits > 0) {
        lines.push(format!(
            "said {:>5.1} %, true {:>5.1} % ({} visits, hidden faults left out)",
            100.0 * band.said,
            100.0 * band.true_share,
            band.visits
        ));
    }
    lines.push(format!(
        "{:<26} {:>6} {:>7} {:>8} {:>7}  (off the truth, as logarithms)",
        "number", "visits", "median", "claimed", "beyond"
    ));
    for row in &result.model_errors {
        lines.push(format!(
            "{:<26} {:>6} {:>7.3} {:>8.3} {:>7.3}",
            row.measure, row.visits, row.bias, row.claimed, row.spread
        ));
    }
    lines.push(format!(
        "leaks above the stated detection limit: {}, of which called sound: {}",
        result.above_limit.1, result.above_limit.0
    ));
    for (name, efficiency) in [
        ("shut-valve vacuum, Pa", result.leak_efficiency),
        ("recovery time, share", result.time_efficiency),
    ] {
        lines.push(format!(
            "spread of the {name}: {:.3}, Cramér–Rao bound {:.3}, ratio {:.2} ({} visits written \
             anew)",
            efficiency.spread, efficiency.bound, efficiency.ratio, efficiency.repetitions
        ));
    }
    lines.push(format!("half of the visits took less than {:.1} min", result.median_minutes));
    if !result.misses.is_empty() {
        lines.push(
            "not right; the same car again with `stilltank demo --fault CAR --seed N`:".to_owned(),
        );
    }
    lines.extend(result.misses.iter().take(MOST_MISSES).map(|miss| {
        let second = miss.second.map(|fault| format!(" + {fault}")).unwrap_or_default();
        format!(
            "  {}{second} {}: {}, leading {} {:.1} %",
            miss.kind,
            miss.seed,
            miss.outcome,
            miss.leading,
            100.0 * miss.probability
        )
    }));
    lines.join("\n")
}
