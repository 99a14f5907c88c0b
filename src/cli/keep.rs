use std::path::PathBuf;

use super::arguments::{CustomerOf, FillUp, Rejudge};
use super::{Failure, Output};
use crate::diagnosis::Verdict;
use crate::jobs::{Customer, FillUpDraft, MachineClock, add_fill_up, rejudge, set_customer};
use crate::wording::{self, Language};

/// Keeps a filling of the tank.
pub(super) fn fill_up(
    arguments: &FillUp,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let draft = FillUpDraft {
        litre: arguments.litres.clone(),
        cost: arguments.cost.clone(),
        currency: arguments.currency.clone(),
        odometer_km: arguments.odometer.map(|km| km.to_string()).unwrap_or_default(),
        note: arguments.note.clone(),
    };
    let name = add_fill_up(&database, &arguments.vehicle, &draft, MachineClock::start())?;
    output.message(&format!("Fill-up kept for {name}."));
    Ok(())
}

/// Says whose vehicle it is.
pub(super) fn customer(
    arguments: &CustomerOf,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let customer = Customer {
        name: arguments.name.trim().to_owned(),
        phone: arguments.phone.trim().to_owned(),
        email: arguments.email.trim().to_owned(),
        notes: arguments.notes.trim().to_owned(),
    };
    let name = set_customer(&database, &arguments.vehicle, &customer, MachineClock::start())?;
    output.message(&match customer.name.as_str() {
        "" => format!("{name} has no customer now."),
        whose => format!("{name} belongs to {whose}."),
    });
    Ok(())
}

/// Judges recordings again.
pub(super) fn judge_again(
    arguments: &Rejudge,
    database: PathBuf,
    output: &mut Output,
) -> Result<(), Failure> {
    let judged = rejudge(&database, arguments.visit, MachineClock::start())?;
    let differ = judged.iter().filter(|it| it.differs).count();
    for it in &judged {
        let line = match (&it.before, it.differs) {
            (Some((before, version)), true) => format!(
                "visit {}, {}: was {} (version {version}), is {}; both kept",
                it.visit,
                it.vehicle,
                words(before),
                words(&it.now)
            ),
            _ => format!("visit {}, {}: {}", it.visit, it.vehicle, words(&it.now)),
        };
        output.data(&line);
    }
    output.message(&format!("{} visits judged again, {differ} differ", judged.len()));
    Ok(())
}

fn words(verdict: &Verdict) -> String {
    let sure = wording::percent(verdict.probability, Language::English);
    let word = match verdict.fault {
        Some(fault) => wording::fault_title(fault, Language::English),
        None => wording::verdict_outcome_word(verdict.outcome, Language::English),
    };
    format!("{word} ({sure})")
}
