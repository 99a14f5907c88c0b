use std::collections::BTreeMap;

use super::{CarReport, ConditionLine, LeakTestLine};
use crate::vehicle::{
    Condition, ConditionRow, LeakTestFacts, Outlook, Readiness, Signal, TroubleCode,
    leak_test_outlook,
};
use crate::wording::{self, Language};

/// Whether the car will run its own leak test, from what it says now.
pub(super) fn outlook(
    report: &CarReport,
    readiness: Option<&Readiness>,
    values: &BTreeMap<Signal, f64>,
    language: Language,
) -> LeakTestLine {
    let value = |signal: Signal| values.get(&signal).copied();
    let stored = report.codes.iter().filter(|line| line.stored);
    let codes: Vec<TroubleCode> = stored.filter_map(|line| line.code.parse().ok()).collect();
    // Only a standing engine shows the temperature that it would start with.
    let stands = value(Signal::EngineSpeed) == Some(0.0);
    let facts = LeakTestFacts {
        fuel_level: value(Signal::FuelLevel),
        ambient: value(Signal::AmbientAir),
        coolant_at_start: value(Signal::Coolant).filter(|_| stands),
        barometric: value(Signal::BarometricPressure),
        codes: Some(&codes),
        readiness,
    };
    let (outlook, rows) = leak_test_outlook(&facts);
    LeakTestLine {
        outlook,
        sentence: sentence(outlook, language).to_owned(),
        conditions: rows.iter().map(|row| line(row, language)).collect(),
    }
}

fn sentence(outlook: Outlook, language: Language) -> &'static str {
    match outlook {
        Outlook::NotFitted => language
            .of("This car has no leak test of its own.", "Dieses Auto hat keine Leckprüfung."),
        Outlook::AlreadyRun => language.of(
            "The car's own leak test has run since codes were cleared.",
            "Die Leckprüfung des Autos lief seit dem letzten Löschen.",
        ),
        Outlook::Blocked => language.of(
            "The car's own leak test will not run: a usual condition does not hold.",
            "Die Leckprüfung des Autos läuft so nicht: Eine übliche Bedingung ist nicht erfüllt.",
        ),
        Outlook::Unknown => language.of(
            "Whether the car's own leak test will run cannot be told: it does not say everything.",
            "Ob die Leckprüfung des Autos läuft, ist offen: Es sagt nicht alles.",
        ),
        Outlook::CanRun => language.of(
            "The car's own leak test can run after the next cold start and a drive.",
            "Die Leckprüfung des Autos kann nach Kaltstart und Fahrt laufen.",
        ),
    }
}

fn line(row: &ConditionRow, language: Language) -> ConditionLine {
    let (name, unit) = match row.condition {
        Condition::FuelLevel => (language.of("Fuel level", "Tankfüllung"), "%"),
        Condition::AmbientAir => (language.of("Ambient air", "Außenluft"), "°C"),
        Condition::CoolantAtStart => {
            (language.of("Coolant before the start", "Kühlmittel vor dem Start"), "°C")
        }
        Condition::CoolantOverAmbient => {
            (language.of("Coolant over ambient", "Kühlmittel über Außenluft"), "K")
        }
        Condition::BarometricPressure => (language.of("Air pressure", "Luftdruck"), "kPa"),
        Condition::NoBlockingCode => (
            language.of("No code of a part it needs", "Kein Code eines Teils, das sie braucht"),
            "",
        ),
    };
    let shown = |value: f64| wording::with_unit(&wording::number(value, 1, language), unit);
    let window = match (row.low, row.high, language) {
        (Some(low), Some(high), Language::English) => format!("{} to {}", shown(low), shown(high)),
        (Some(low), Some(high), Language::German) => format!("{} bis {}", shown(low), shown(high)),
        (Some(low), None, _) => format!("≥ {}", shown(low)),
        (None, Some(high), _) => format!("≤ {}", shown(high)),
        (None, None, _) => String::new(),
    };
    ConditionLine {
        name: name.to_owned(),
        value: row.value.map(shown),
        window,
        codes: row.codes.iter().map(ToString::to_string).collect(),
        state: row.state,
    }
}
