use super::language::{Language, Style};
use super::measure_value;
use super::number::{number, with_unit};
use super::reason::{Row, reason};
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};
use crate::vehicle::Fault;

/// What the proof of a repair says, in one plain sentence about the part that was at fault. Without
/// a fault, or where the repair is not proven, the check's own reason.
pub fn proof_sentence(result: &CheckResult, fault: Option<Fault>, style: &Style) -> String {
    let of_another_part = fault.is_some_and(|it| !it.same_part(Fault::PurgeValveLeaking));
    if of_another_part && result.reason == Reason::LimitTooCoarse {
        // The valve's number says nothing of it.
        return style
            .of(
                "What failed before does not pass surely enough yet; make that check once more.",
                "Was vorher nicht bestand, besteht noch nicht sicher genug; diese Prüfung noch einmal machen.",
            )
            .to_owned();
    }
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

/// The numbers that tell whether the part of this fault is sound.
pub const fn telling_measures(fault: Option<Fault>) -> &'static [MeasureName] {
    match fault {
        // Stuck is what does not answer: the answer to purge is its number.
        Some(Fault::TankSensorStuck) => &[MeasureName::PurgeVacuum],
        Some(fault) => match row(fault) {
            Some(row) => row.measures,
            None => &[MeasureName::VacuumWithPurgeShut],
        },
        None => &[MeasureName::VacuumWithPurgeShut],
    }
}

/// What the traces before and after a repair show, and from which deed on. `deeds` are the checks
/// whose deed each trace is laid at.
pub const fn proof_caption(deeds: (Check, Check), language: Language) -> &'static str {
    match deeds {
        (Check::IdleZero, Check::ThrottleFollow) => language.of(
            "Before and after on one scale, time downwards: before from the engine's start, after from the throttle's opening, with the purge valve shut.",
            "Vorher und nachher auf einer Skala, Zeit nach unten: vorher ab dem Motorstart, nachher ab dem Gasgeben, bei geschlossenem Regenerierventil.",
        ),
        (Check::ThrottleFollow, Check::IdleZero) => language.of(
            "Before and after on one scale, time downwards: before from the throttle's opening, after from the engine's start, with the purge valve shut.",
            "Vorher und nachher auf einer Skala, Zeit nach unten: vorher ab dem Gasgeben, nachher ab dem Motorstart, bei geschlossenem Regenerierventil.",
        ),
        (Check::ThrottleFollow, _) => language.of(
            "Before and after on one scale, time downwards from the throttle's opening, with the purge valve shut.",
            "Vorher und nachher auf einer Skala, Zeit nach unten ab dem Gasgeben, bei geschlossenem Regenerierventil.",
        ),
        (Check::IdleZero, _) => language.of(
            "Before and after on one scale, time downwards from the engine's start, with the purge valve shut.",
            "Vorher und nachher auf einer Skala, Zeit nach unten ab dem Motorstart, bei geschlossenem Regenerierventil.",
        ),
        (Check::PurgeResponse, _) => language.of(
            "Before and after on one scale, time downwards from where the car opens the purge valve: how far it draws on the tank.",
            "Vorher und nachher auf einer Skala, Zeit nach unten ab dem Öffnen des Regenerierventils durch das Auto: wie weit es am Tank zieht.",
        ),
        (Check::UnplugRecovery, _) => language.of(
            "Before and after on one scale, time downwards from the unplugging of the purge valve: how the tank comes back.",
            "Vorher und nachher auf einer Skala, Zeit nach unten ab dem Abziehen des Regenerierventils: wie der Tank zurückkommt.",
        ),
        (Check::SealedHold, _) => language.of(
            "Before and after on one scale, time downwards from the sealing of the vent: whether the vacuum stays.",
            "Vorher und nachher auf einer Skala, Zeit nach unten ab dem Verschließen der Belüftung: ob der Unterdruck bleibt.",
        ),
        (
            Check::RestZero | Check::CapOffZero | Check::AfterFillUp | Check::RepairProof,
            _,
        ) => language.of(
            "Before and after on one scale, time downwards: what the sensor reads while nothing pulls on the tank.",
            "Vorher und nachher auf einer Skala, Zeit nach unten: was der Sensor zeigt, während nichts am Tank zieht.",
        ),
    }
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
    use crate::evidence::Measure;
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
    fn what_is_not_proven_yet_names_no_limit_that_a_proof_would_pass() {
        let measures = vec![
            Measure {
                name: MeasureName::VacuumWithPurgeShut,
                estimate: Estimate { value: -1.0, low: -7.0, high: 5.0 },
            },
            Measure {
                name: MeasureName::DetectionLimit,
                estimate: Estimate { value: 8.0, low: 8.0, high: 8.0 },
            },
        ];
        let open = CheckResult {
            outcome: Outcome::Inconclusive,
            reason: Reason::LimitTooCoarse,
            ..proven(measures)
        };
        let told = proof_sentence(&open, Some(Fault::PurgeValveLeaking), &Style::default());
        assert!(told.contains("−1\u{a0}Pa (−7 to 5)") && !told.contains("8.0"), "{told}");
        let told = proof_sentence(&open, Some(Fault::VaporLeak), &Style::default());
        assert!(!told.contains("purge valve") && !told.contains("throttle"), "{told}");
    }

    #[test]
    fn a_caption_says_what_each_deed_is() {
        for language in Language::ALL {
            let caption = |check| proof_caption((check, check), language);
            let shown = [
                Check::ThrottleFollow,
                Check::IdleZero,
                Check::PurgeResponse,
                Check::UnplugRecovery,
                Check::SealedHold,
                Check::RestZero,
            ];
            let distinct: std::collections::BTreeSet<_> = shown.map(caption).into();
            assert_eq!(distinct.len(), shown.len());
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
