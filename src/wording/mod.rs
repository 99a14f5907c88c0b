//! Plain sentences for what the layers below found, in the person's language.
//!
//! May import: units, vehicle, recording, evidence, checks, diagnosis.
//! Never: computes, decides, or knows a window.

mod check;
mod code_meaning;
mod comparison;
mod entered_field;
mod fault;
mod language;
mod measure;
mod number;
mod observation;
mod open_reasons;
mod proof;
mod reason;
mod repair_help;
mod step;
mod verdict;
mod weight;

#[cfg(test)]
mod tests;

pub use check::{
    again_for_the_proof, check_purpose, check_title, cut_off_when_closed, given_up, goes_on,
    outcome_word, put_back, reasons_to_give_up, step_purpose, why_next,
};
pub use code_meaning::code_meaning;
pub use comparison::{comparison_sentence, comparison_stamp, comparison_wants};
pub use entered_field::entered_field;
pub use fault::{fault_title, hypothesis_title, part_title, with_hypothesis};
pub use language::{Language, PressureUnit, Style};
pub use measure::{action_name, measure_name, signal_name};
pub use number::{
    estimate, measure_unit, measure_value, measure_value_in, money, number, percent, pressure,
    pressure_value, signal_unit, signal_value_in, with_unit,
};
pub use observation::{observation, warning};
pub use proof::{proof_caption, proof_sentence, telling_measures};
pub use reason::reason;
pub use repair_help::{HelpStep, RepairHelp, repair_help};
pub use step::{Instruction, caution, instruction, keep};
pub use verdict::{fault_clause, smallest_leak, verdict_outcome_word, verdict_sentence};
pub use weight::{factor, weight, weight_for, weight_source};
