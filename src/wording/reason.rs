use super::language::{Language, Style};
use super::measure::signal_name;
use super::number::{measure_value, number, pressure_value, with_unit};
use super::open_reasons;
use crate::evidence::{Check, CheckResult, MeasureName, Outcome, Reason};

/// Why a check ended as it did, in one plain sentence with the numbers behind it. A pass says what
/// it would have shown.
pub fn reason(result: &CheckResult, style: &Style) -> String {
    let language = style.language;
    if let Reason::TooFewSamples(signal) | Reason::SignalMissing(signal) = result.reason {
        let signal = signal_name(signal, language);
        let missing = matches!(result.reason, Reason::SignalMissing(_));
        return match (missing, language) {
            (true, Language::English) => {
                format!("The car lacks a signal for this check: {signal}.")
            }
            (true, Language::German) => format!("Dem Auto fehlt ein nötiges Signal: {signal}."),
            (false, Language::English) => format!("There are too few readings to tell: {signal}."),
            (false, Language::German) => format!("Es gibt zu wenige Messwerte: {signal}."),
        };
    }
    let row = row(result);
    let number = row
        .measures
        .iter()
        .find_map(|name| Some((*name, result.measure(*name)?)))
        .map(|(name, estimate)| measure_value(name, &estimate, style));
    let (with, without) = match language {
        Language::English => row.english,
        Language::German => row.german,
    };
    let clause = number.map_or_else(|| without.to_owned(), |number| with.replace("{}", &number));
    let limit = limit(result, style).unwrap_or_default();
    format!("{clause}{limit}.")
}

/// What a pass would have shown, as a clause that follows a semicolon.
fn limit(result: &CheckResult, style: &Style) -> Option<String> {
    if result.outcome != Outcome::Pass {
        return None;
    }
    let value = match result.reason {
        Reason::StaysStill | Reason::DoesNotFollow | Reason::ProvenStill => {
            let limit = result.measure(MeasureName::DetectionLimit)?;
            pressure_value(limit.value.abs(), style)
        }
        Reason::Holds => {
            let limit = result.measure(MeasureName::SealedHoleLimit)?;
            with_unit(&number(limit.value, 2, style.language), "mm")
        }
        _ => return None,
    };
    Some(match (result.reason, style.language) {
        (Reason::Holds, Language::English) => {
            format!("; a hole of {value} or more would have shown")
        }
        (Reason::Holds, Language::German) => format!("; ein Loch ab {value} wäre aufgefallen"),
        (_, Language::English) => format!("; a leak of {value} or more would have shown"),
        (_, Language::German) => format!("; ein Leck ab {value} wäre aufgefallen"),
    })
}

/// One reason: the measures that can stand in its sentence, the first present one is used, and the
/// sentence with `{}` for the number and without a number, full stop left off.
pub(super) struct Row {
    pub(super) measures: &'static [MeasureName],
    pub(super) english: (&'static str, &'static str),
    pub(super) german: (&'static str, &'static str),
}

/// The measures that checks are judged by.
pub(super) const JUDGED: &[MeasureName] = &[
    MeasureName::VacuumWithPurgeShut,
    MeasureName::RecoveryTime,
    MeasureName::CapOffPressure,
    MeasureName::RestPressure,
    MeasureName::PurgeVacuum,
    MeasureName::IdleChange,
    MeasureName::SealedHole,
    MeasureName::TrimExcursion,
    MeasureName::ChangeAfterRepair,
];

pub(super) const fn plain(english: &'static str, german: &'static str) -> Row {
    Row { measures: &[], english: (english, english), german: (german, german) }
}

fn row(result: &CheckResult) -> Row {
    use MeasureName as M;
    let check = result.check;
    let stopped = result.measure(M::SealedLeak).is_some();
    match result.reason {
        // The limit of a proof is what it must stay within, not what it would have shown.
        Reason::LimitTooCoarse if check == Check::RepairProof => Row {
            measures: &[M::VacuumWithPurgeShut],
            english: (
                "What failed before does not pass surely enough yet: with the purge valve shut the tank moves by {}; open the throttle more often or poll faster",
                "What failed before does not pass surely enough yet; open the throttle more often or poll faster",
            ),
            german: (
                "Was vorher nicht bestand, besteht noch nicht sicher genug: Bei geschlossenem Regenerierventil bewegt sich der Tank um {}; öfter Gas geben oder schneller abfragen",
                "Was vorher nicht bestand, besteht noch nicht sicher genug; öfter Gas geben oder schneller abfragen",
            ),
        },
        // A hold knows no throttle: what helps there is time and depth.
        Reason::LimitTooCoarse if check == Check::SealedHold => Row {
            measures: &[M::SealedHoleLimit],
            english: (
                "Only a hole from {} would have shown here, which is too coarse; keep it sealed longer, or from a deeper vacuum",
                "A hole that matters might not have shown here; keep it sealed longer, or from a deeper vacuum",
            ),
            german: (
                "Hier wäre erst ein Loch ab {} aufgefallen, das ist zu grob; länger oder aus tieferem Unterdruck verschlossen halten",
                "Ein Loch von Belang wäre hier vielleicht nicht aufgefallen; länger oder aus tieferem Unterdruck verschlossen halten",
            ),
        },
        Reason::ReadsAtmospheric => Row {
            measures: &[M::CapOffPressure, M::RestPressure],
            english: (
                "With nothing pulling on the tank the sensor reads {}, as it should",
                "With nothing pulling on the tank the sensor reads zero, as it should",
            ),
            german: (
                "Ohne Sog am Tank zeigt der Sensor {}, wie es sein soll",
                "Ohne Sog am Tank zeigt der Sensor null, wie es sein soll",
            ),
        },
        Reason::ReadsOffAtmospheric => Row {
            measures: &[M::CapOffPressure, M::RestPressure],
            english: (
                "With nothing pulling on the tank the sensor reads {} instead of zero",
                "With nothing pulling on the tank the sensor does not read zero",
            ),
            german: (
                "Ohne Sog am Tank zeigt der Sensor {} statt null",
                "Ohne Sog am Tank zeigt der Sensor nicht null",
            ),
        },
        Reason::NeverMoves => Row {
            measures: &[M::Movement],
            english: (
                "The reading moved by {} in all, although the tank must have moved further",
                "The reading never moved, although the tank must have",
            ),
            german: (
                "Die Anzeige bewegte sich insgesamt um {}, obwohl der Tank sich weiter bewegt haben muss",
                "Die Anzeige bewegte sich nie, obwohl der Tank sich bewegt haben muss",
            ),
        },
        Reason::StaysStill => Row {
            measures: &[M::VacuumWithPurgeShut, M::IdleChange, M::Movement],
            english: (
                "With the valve shut the tank stays still: {}",
                "With the valve shut the tank stays still",
            ),
            german: (
                "Bei geschlossenem Ventil bleibt der Tank still: {}",
                "Bei geschlossenem Ventil bleibt der Tank still",
            ),
        },
        Reason::MovesWhileShut => Row {
            measures: &[M::VacuumWithPurgeShut, M::IdleChange, M::Movement],
            english: (
                "The tank moves by {} while the valve should be shut",
                "The tank moves while the valve should be shut",
            ),
            german: (
                "Der Tank bewegt sich um {}, während das Ventil geschlossen sein müsste",
                "Der Tank bewegt sich, während das Ventil geschlossen sein müsste",
            ),
        },
        Reason::FollowsPurge => Row {
            measures: &[M::PurgeVacuum],
            english: (
                "Full purge moves the tank by {}, as it should",
                "Purge pulls the tank a little, as it should",
            ),
            german: (
                "Volle Spülung bewegt den Tank um {}, wie es sein soll",
                "Die Spülung zieht den Tank ein wenig, wie es sein soll",
            ),
        },
        Reason::NoAnswerToPurge => Row {
            measures: &[M::PurgeVacuum],
            english: (
                "Purge was commanded and the tank moved by no more than {}",
                "Purge was commanded and the tank felt nothing",
            ),
            german: (
                "Die Spülung wurde angesteuert, und der Tank bewegte sich nur um {}",
                "Die Spülung wurde angesteuert, und der Tank merkte nichts",
            ),
        },
        Reason::PulledTooLow => Row {
            measures: &[M::PurgeVacuum],
            english: (
                "Purge moves the tank by {}, further than a free vent path allows",
                "Purge pulls the tank further than a free vent path allows",
            ),
            german: (
                "Die Spülung bewegt den Tank um {}, weiter als ein freier Belüftungsweg zulässt",
                "Die Spülung zieht den Tank weiter, als ein freier Belüftungsweg zulässt",
            ),
        },
        Reason::ReturnsAtOnce if matches!(check, Check::CapOffZero) => Row {
            measures: &[M::CapOffTime],
            english: (
                "With the cap off the reading comes back with a time constant of {}",
                "With the cap off the reading comes back at once",
            ),
            german: (
                "Bei offenem Deckel kommt die Anzeige mit einer Zeitkonstante von {} zurück",
                "Bei offenem Deckel kommt die Anzeige sofort zurück",
            ),
        },
        Reason::ReturnsAtOnce => Row {
            measures: &[M::RecoveryTime, M::RecoveryT90],
            english: (
                "Unplugged, the tank comes back with a time constant of {}, so its way to the outside is free",
                "Unplugged, the tank comes back at once, so its way to the outside is free",
            ),
            german: (
                "Nach dem Abziehen kommt der Tank mit einer Zeitkonstante von {} zurück, sein Weg nach außen ist also frei",
                "Nach dem Abziehen kommt der Tank sofort zurück, sein Weg nach außen ist also frei",
            ),
        },
        Reason::ReturnsSlowly if matches!(check, Check::CapOffZero) => Row {
            measures: &[M::CapOffTime],
            english: (
                "Even with the cap off the reading comes back slowly, with a time constant of {}",
                "Even with the cap off the reading comes back slowly",
            ),
            german: (
                "Selbst bei offenem Deckel kommt die Anzeige langsam zurück, mit einer Zeitkonstante von {}",
                "Selbst bei offenem Deckel kommt die Anzeige langsam zurück",
            ),
        },
        Reason::ReturnsSlowly => Row {
            measures: &[M::RecoveryTime, M::RecoveryT90],
            english: (
                "Unplugged, the tank comes back slowly, with a time constant of {}",
                "Unplugged, the tank comes back slowly",
            ),
            german: (
                "Nach dem Abziehen kommt der Tank langsam zurück, mit einer Zeitkonstante von {}",
                "Nach dem Abziehen kommt der Tank langsam zurück",
            ),
        },
        Reason::ReturnsPartly => Row {
            measures: &[M::ResidualVacuum],
            english: (
                "Unplugged, the tank does not come all the way back; it stays off rest by {}",
                "Unplugged, the tank does not come all the way back",
            ),
            german: (
                "Nach dem Abziehen kommt der Tank nicht ganz zurück; zur Ruhe fehlen {}",
                "Nach dem Abziehen kommt der Tank nicht ganz zurück",
            ),
        },
        Reason::DoesNotFollow => Row {
            measures: &[M::VacuumWithPurgeShut],
            english: (
                "With the valve unplugged the tank does not follow the throttle: {}",
                "With the valve unplugged the tank does not follow the throttle",
            ),
            german: (
                "Bei abgezogenem Ventil folgt der Tank dem Gas nicht: {}",
                "Bei abgezogenem Ventil folgt der Tank dem Gas nicht",
            ),
        },
        Reason::FollowsThrottle => Row {
            measures: &[M::VacuumWithPurgeShut],
            english: (
                "With the valve unplugged the tank still follows the throttle; the engine moves it by {}",
                "With the valve unplugged the tank still follows the throttle",
            ),
            german: (
                "Bei abgezogenem Ventil folgt der Tank trotzdem dem Gas; der Motor bewegt ihn um {}",
                "Bei abgezogenem Ventil folgt der Tank trotzdem dem Gas",
            ),
        },
        Reason::Holds => plain(
            "Sealed, the system keeps its vacuum",
            "Verschlossen hält das System seinen Unterdruck",
        ),
        Reason::LosesVacuum => Row {
            measures: &[M::SealedHole],
            english: (
                "Sealed, the system loses its vacuum as through a hole of {}",
                "Sealed, the system loses its vacuum",
            ),
            german: (
                "Verschlossen verliert das System Unterdruck wie durch ein Loch von {}",
                "Verschlossen verliert das System seinen Unterdruck",
            ),
        },
        // What the fuel gives off may outdo such a leak, so that no vacuum grows.
        Reason::PullsWhileSealed if stopped => Row {
            measures: &[M::SealedLeak],
            english: (
                "As stopping the engine showed, the shut valve lets through {} of full purge",
                "As stopping the engine showed, the shut valve lets flow through",
            ),
            german: (
                "Wie das Abstellen des Motors zeigte, lässt das geschlossene Ventil {} der vollen \
                 Spülung durch",
                "Wie das Abstellen des Motors zeigte, lässt das geschlossene Ventil Luft durch",
            ),
        },
        Reason::PullsWhileSealed => Row {
            measures: &[M::SealedPull],
            english: (
                "Sealed and with the valve shut, the vacuum still grows, by {}: the valve lets flow \
                 through",
                "Sealed and with the valve shut, the vacuum still grows: the valve lets flow through",
            ),
            german: (
                "Verschlossen und bei geschlossenem Ventil wächst der Unterdruck weiter, um {}: das \
                 Ventil lässt Luft durch",
                "Verschlossen und bei geschlossenem Ventil wächst der Unterdruck weiter: das Ventil \
                 lässt Luft durch",
            ),
        },
        Reason::BuildsNoVacuum => Row {
            measures: &[M::SealedVacuum],
            english: (
                "With the vent sealed the tank only reached {}",
                "With the vent sealed no vacuum could be built",
            ),
            german: (
                "Bei verschlossener Belüftung erreichte der Tank nur {}",
                "Bei verschlossener Belüftung ließ sich kein Unterdruck aufbauen",
            ),
        },
        _ => open_reasons::row(result.reason),
    }
}
