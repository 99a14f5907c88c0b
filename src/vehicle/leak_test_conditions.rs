use serde::{Deserialize, Serialize};

use super::{Monitor, Readiness, TroubleCode, code_catalogue};

/// Something that must hold for the car to run its own leak test.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Condition {
    /// Fuel level, %.
    FuelLevel,
    /// Ambient temperature, °C.
    AmbientAir,
    /// Coolant temperature at the start, °C.
    CoolantAtStart,
    /// Coolant at the start less ambient, K: how well the car has cooled.
    CoolantOverAmbient,
    /// Barometric pressure, kPa: altitude.
    BarometricPressure,
    /// No stored code of a part that the test needs.
    NoBlockingCode,
}

/// Whether a condition holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ConditionState {
    /// It holds.
    Met,
    /// It does not.
    NotMet,
    /// The car does not say.
    Unknown,
}

/// A condition, its window and where the car stands.
#[derive(Clone, Debug, PartialEq)]
pub struct ConditionRow {
    /// Which.
    pub condition: Condition,
    /// What was read.
    pub value: Option<f64>,
    /// Least value that lets the test run.
    pub low: Option<f64>,
    /// Largest value that lets it run.
    pub high: Option<f64>,
    /// Codes that keep it from running.
    pub codes: Vec<TroubleCode>,
    /// Whether it holds.
    pub state: ConditionState,
}

/// Whether the car will run its own leak test on the next cold start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Outlook {
    /// The car has no such test.
    NotFitted,
    /// It has run since codes were cleared.
    AlreadyRun,
    /// At least one condition does not hold.
    Blocked,
    /// What is known holds, but not all is known.
    Unknown,
    /// Everything holds; it needs a cold start and a drive.
    CanRun,
}

/// What is known of the car, in the signals' units.
#[derive(Clone, Copy, Debug, Default)]
pub struct LeakTestFacts<'a> {
    /// Fuel level, %.
    pub fuel_level: Option<f64>,
    /// Ambient temperature, °C.
    pub ambient: Option<f64>,
    /// Coolant temperature at the start, °C.
    pub coolant_at_start: Option<f64>,
    /// Barometric pressure, kPa.
    pub barometric: Option<f64>,
    /// Stored codes, if they were read.
    pub codes: Option<&'a [TroubleCode]>,
    /// Readiness since codes were cleared.
    pub readiness: Option<&'a Readiness>,
}

struct Window {
    condition: Condition,
    low: Option<f64>,
    high: Option<f64>,
}

/// 13 CCR 1968.2 (d)(4.3.2) in-use counting conditions and (e)(4.3): 40 to 95 °F ambient and
/// coolant, no more than 12 °F above ambient, below 8000 ft (75.3 kPa in the US Standard Atmosphere
/// 1976), at most 85 % level; the lower level is common practice, no source. Makers may be
/// narrower. The temperatures are from memory of the regulation.
const WINDOWS: &[Window] = &[
    Window { condition: Condition::FuelLevel, low: Some(15.0), high: Some(85.0) },
    Window { condition: Condition::AmbientAir, low: Some(4.4), high: Some(35.0) },
    Window { condition: Condition::CoolantAtStart, low: Some(4.4), high: Some(35.0) },
    Window { condition: Condition::CoolantOverAmbient, low: None, high: Some(6.7) },
    Window { condition: Condition::BarometricPressure, low: Some(75.3), high: None },
];

/// Every condition with its state, and what follows from them.
pub fn leak_test_outlook(facts: &LeakTestFacts<'_>) -> (Outlook, Vec<ConditionRow>) {
    let mut rows: Vec<ConditionRow> = WINDOWS.iter().map(|window| held(window, facts)).collect();
    rows.push(codes_row(facts.codes));
    let monitor = facts.readiness.map(|readiness| readiness.complete(Monitor::Evaporative));
    let any = |state: ConditionState| rows.iter().any(|row| row.state == state);
    let outlook = match monitor {
        Some(None) => Outlook::NotFitted,
        Some(Some(true)) => Outlook::AlreadyRun,
        _ if any(ConditionState::NotMet) => Outlook::Blocked,
        None => Outlook::Unknown,
        _ if any(ConditionState::Unknown) => Outlook::Unknown,
        _ => Outlook::CanRun,
    };
    (outlook, rows)
}

fn held(window: &Window, facts: &LeakTestFacts<'_>) -> ConditionRow {
    let value = match window.condition {
        Condition::FuelLevel => facts.fuel_level,
        Condition::AmbientAir => facts.ambient,
        Condition::CoolantAtStart => facts.coolant_at_start,
        Condition::CoolantOverAmbient => {
            facts.coolant_at_start.zip(facts.ambient).map(|(coolant, ambient)| coolant - ambient)
        }
        Condition::BarometricPressure => facts.barometric,
        Condition::NoBlockingCode => None,
    };
    let state = match value {
        None => ConditionState::Unknown,
        Some(value) => {
            let inside = window.low.is_none_or(|low| value >= low)
                && window.high.is_none_or(|high| value <= high);
            if inside { ConditionState::Met } else { ConditionState::NotMet }
        }
    };
    ConditionRow {
        condition: window.condition,
        value,
        low: window.low,
        high: window.high,
        codes: Vec::new(),
        state,
    }
}

fn codes_row(codes: Option<&[TroubleCode]>) -> ConditionRow {
    let blocks = |code: &TroubleCode| {
        code_catalogue::entry(*code)
            .is_some_and(|entry| entry.family.keeps_leak_test_from_running())
    };
    let blocking: Vec<TroubleCode> =
        codes.unwrap_or_default().iter().copied().filter(blocks).collect();
    let state = match codes {
        None => ConditionState::Unknown,
        Some(_) if blocking.is_empty() => ConditionState::Met,
        Some(_) => ConditionState::NotMet,
    };
    ConditionRow {
        condition: Condition::NoBlockingCode,
        value: None,
        low: None,
        high: None,
        codes: blocking,
        state,
    }
}

#[cfg(test)]
mod tests {
    use super::{Condition, ConditionState, LeakTestFacts, Outlook, leak_test_outlook};
    use crate::vehicle::{Readiness, TroubleCode, hex_bytes};

    fn open() -> Readiness {
        Readiness::from_data(&hex_bytes("00 07 65 04")).unwrap()
    }

    fn cold_morning(readiness: &Readiness) -> LeakTestFacts<'_> {
        LeakTestFacts {
            fuel_level: Some(60.0),
            ambient: Some(15.0),
            coolant_at_start: Some(16.0),
            barometric: Some(98.0),
            codes: Some(&[]),
            readiness: Some(readiness),
        }
    }

    fn blocked_by(facts: &LeakTestFacts<'_>) -> Vec<Condition> {
        let (outlook, rows) = leak_test_outlook(facts);
        let held_back: Vec<Condition> = rows
            .iter()
            .filter(|row| row.state == ConditionState::NotMet)
            .map(|row| row.condition)
            .collect();
        assert_eq!(outlook == Outlook::Blocked, !held_back.is_empty());
        held_back
    }

    #[test]
    fn a_cold_morning_with_half_a_tank_lets_the_test_run() {
        let readiness = open();
        assert_eq!(leak_test_outlook(&cold_morning(&readiness)).0, Outlook::CanRun);
    }

    #[test]
    fn each_condition_blocks_by_itself() {
        let readiness = open();
        let facts = cold_morning(&readiness);
        let full = LeakTestFacts { fuel_level: Some(86.0), ..facts };
        assert_eq!(blocked_by(&full), [Condition::FuelLevel]);
        let frost = LeakTestFacts { ambient: Some(1.0), coolant_at_start: Some(5.0), ..facts };
        assert_eq!(blocked_by(&frost), [Condition::AmbientAir]);
        let warm = LeakTestFacts { coolant_at_start: Some(30.0), ..facts };
        assert_eq!(blocked_by(&warm), [Condition::CoolantOverAmbient]);
        let high = LeakTestFacts { barometric: Some(70.0), ..facts };
        assert_eq!(blocked_by(&high), [Condition::BarometricPressure]);
        let codes: Vec<TroubleCode> =
            ["P0442", "P0461"].iter().map(|code| code.parse().unwrap()).collect();
        let sender = LeakTestFacts { codes: Some(&codes), ..facts };
        assert_eq!(blocked_by(&sender), [Condition::NoBlockingCode]);
        let (_, rows) = leak_test_outlook(&sender);
        assert_eq!(rows.last().unwrap().codes, codes[1..]);
    }

    #[test]
    fn what_the_car_does_not_say_stays_unknown() {
        let readiness = open();
        let facts = cold_morning(&readiness);
        let no_level = LeakTestFacts { fuel_level: None, ..facts };
        assert_eq!(leak_test_outlook(&no_level).0, Outlook::Unknown);
        assert_eq!(
            leak_test_outlook(&LeakTestFacts { readiness: None, ..facts }).0,
            Outlook::Unknown
        );
        assert_eq!(leak_test_outlook(&LeakTestFacts::default()).0, Outlook::Unknown);
    }

    #[test]
    fn a_test_that_ran_or_is_not_fitted_needs_no_conditions() {
        let ran = Readiness::from_data(&hex_bytes("00 07 65 00")).unwrap();
        let facts = LeakTestFacts { readiness: Some(&ran), ..LeakTestFacts::default() };
        assert_eq!(leak_test_outlook(&facts).0, Outlook::AlreadyRun);
        let without = Readiness::from_data(&hex_bytes("00 07 61 00")).unwrap();
        let facts = LeakTestFacts { readiness: Some(&without), ..LeakTestFacts::default() };
        assert_eq!(leak_test_outlook(&facts).0, Outlook::NotFitted);
    }
}
