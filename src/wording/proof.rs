use super::language::{Language, Style};
use super::measure_value;
use super::number::{number, with_unit};
use super::reason::{Row, reason};
use crate::evidence::{CheckResult, MeasureName, Outcome, Reason};
use crate::vehicle::Fault;

/// What the proof of a repair says, in one plain sentence about the part that was at fault. Without
/// a fault, or where the repair is not proven, the check's own reason.
pub fn proof_sentence(result: &CheckResult, fault: Option<Fault>, style: &Style) -> String {
    let row = match (result.outcome, result.reason, fault) {
        (Outcome::Pass, Reason::ProvenStill, Some(fault)) => row(fault),
        _ => None,
    };
    let Some(row) = row else { return reason(result, style) };
    let shown = row.measures.iter().find_map(|name| Some((*name, result.measure(*name)?)));
    let (with, without) = match style.language {
        Language::English => row.english,
        Language::German => row.german,
    };
    let clause = match shown {
        Some((MeasureName::SealedHoleLimit, limit)) => {
            with.replace("{}", &with_unit(&number(limit.value, 2, style.language), "mm"))
        }
        Some((name, value)) => with.replace("{}", &measure_value(name, &value, style)),
        None => without.to_owned(),
    };
    format!("{clause}.")
}

/// The sentence of a repair that is proven; nothing for the valve that leaked, of which the check
/// itself speaks.
const fn row(fault: Fault) -> Option<Row> {
    use MeasureName as M;
    Some(match fault {
        Fault::PurgeValveLeaking => return None,
        Fault::NoPurgeFlow => Row {
            measures: &[M::PurgeVacuum],
            english: (
                "Purge draws on the tank again: full purge moves it by {}",
                "Purge draws on the tank again, as it should",
            ),
            german: (
                "Die Spülung zieht wieder am Tank: Volle Spülung bewegt ihn um {}",
                "Die Spülung zieht wieder am Tank, wie es sein soll",
            ),
        },
        Fault::VentPathRestricted => Row {
            measures: &[M::RecoveryTime],
            english: (
                "The vent path is free again: unplugged, the tank comes back with a time constant of {}",
                "The vent path is free again: unplugged, the tank comes back at once",
            ),
            german: (
                "Der Belüftungsweg ist wieder frei: Nach dem Abziehen kommt der Tank mit einer Zeitkonstante von {} zurück",
                "Der Belüftungsweg ist wieder frei: Nach dem Abziehen kommt der Tank sofort zurück",
            ),
        },
        Fault::TankSensorOffset => Row {
            measures: &[M::CapOffPressure, M::RestPressure],
            english: (
                "The tank pressure sensor is right again: with nothing pulling on the tank it reads {}",
                "The tank pressure sensor is right again: with nothing pulling on the tank it reads zero",
            ),
            german: (
                "Der Tankdrucksensor stimmt wieder: Ohne Sog am Tank zeigt er {}",
                "Der Tankdrucksensor stimmt wieder: Ohne Sog am Tank zeigt er null",
            ),
        },
        Fault::TankSensorSlow => Row {
            measures: &[M::RecoveryTime],
            english: (
                "The tank pressure sensor follows the tank again, with a time constant of {}",
                "The tank pressure sensor follows the tank again without delay",
            ),
            german: (
                "Der Tankdrucksensor folgt dem Tank wieder, mit einer Zeitkonstante von {}",
                "Der Tankdrucksensor folgt dem Tank wieder ohne Verzug",
            ),
        },
        Fault::TankSensorStuck => Row {
            measures: &[],
            english: (
                "The tank pressure sensor moves with the tank again",
                "The tank pressure sensor moves with the tank again",
            ),
            german: (
                "Der Tankdrucksensor bewegt sich wieder mit dem Tank",
                "Der Tankdrucksensor bewegt sich wieder mit dem Tank",
            ),
        },
        Fault::VaporLeak => Row {
            measures: &[M::SealedHoleLimit],
            english: (
                "Sealed, the system now keeps its vacuum; a hole of {} or more would have shown",
                "Sealed, the system now keeps its vacuum",
            ),
            german: (
                "Verschlossen hält das System jetzt seinen Unterdruck; ein Loch ab {} wäre aufgefallen",
                "Verschlossen hält das System jetzt seinen Unterdruck",
            ),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evidence::{Check, Measure};
    use crate::units::{Estimate, Instant};

    fn proven(measures: Vec<Measure>) -> CheckResult {
        CheckResult {
            check: Check::RepairProof,
            outcome: Outcome::Pass,
            reason: Reason::ProvenStill,
            measures,
            window: (Instant::ZERO, Instant::ZERO),
        }
    }

    #[test]
    fn each_repair_is_proven_of_its_own_part() {
        for language in Language::ALL {
            let style = Style { language, ..Style::default() };
            let told: Vec<String> = Fault::ALL
                .into_iter()
                .map(|fault| proof_sentence(&proven(Vec::new()), Some(fault), &style))
                .collect();
            let mut distinct = told.clone();
            distinct.sort();
            distinct.dedup();
            assert_eq!(distinct.len(), Fault::ALL.len(), "{told:?}");
            let valve = language.of("purge valve", "Regenerierventil");
            let of_the_valve = told.iter().filter(|it| it.contains(valve)).count();
            assert_eq!(of_the_valve, 1, "{told:?}");
        }
    }

    #[test]
    fn a_sealed_system_says_the_hole_that_would_have_shown() {
        let limit = Estimate { value: 0.31, low: 0.31, high: 0.31 };
        let result = proven(vec![Measure { name: MeasureName::SealedHoleLimit, estimate: limit }]);
        let said = proof_sentence(&result, Some(Fault::VaporLeak), &Style::default());
        assert_eq!(
            said,
            "Sealed, the system now keeps its vacuum; a hole of 0.31\u{a0}mm or more would have shown."
        );
    }

    #[test]
    fn what_is_not_proven_keeps_the_checks_own_reason() {
        let result = CheckResult {
            outcome: Outcome::Fail,
            reason: Reason::LosesVacuum,
            ..proven(Vec::new())
        };
        let style = Style::default();
        assert_eq!(
            proof_sentence(&result, Some(Fault::VaporLeak), &style),
            reason(&result, &style)
        );
    }
}
