use super::language::{Language, Style};
use super::measure::signal_name;
use crate::evidence::{Observation, Warning};

/// What the person observed, as a choice on the card and a line of the report.
pub const fn observation(observation: Observation, language: Language) -> &'static str {
    match observation {
        Observation::PurgeValveClicks => language.of(
            "The purge valve clicks when commanded",
            "Das Regenerierventil klickt bei Ansteuerung",
        ),
        Observation::PurgeValveSilent => language.of(
            "The purge valve does not click when commanded",
            "Das Regenerierventil klickt bei Ansteuerung nicht",
        ),
        Observation::PurgeValveHoldsVacuum => language.of(
            "Off the car and unpowered, the purge valve holds vacuum",
            "Ausgebaut und stromlos hält das Regenerierventil Unterdruck",
        ),
        Observation::PurgeValvePassesAir => language.of(
            "Off the car and unpowered, the purge valve lets air through",
            "Ausgebaut und stromlos lässt das Regenerierventil Luft durch",
        ),
        Observation::CoilResistanceInRange => language.of(
            "The purge valve's coil resistance is as the manual says",
            "Der Spulenwiderstand des Regenerierventils ist wie im Handbuch",
        ),
        Observation::CoilResistanceOutOfRange => language.of(
            "The purge valve's coil resistance is not as the manual says",
            "Der Spulenwiderstand des Regenerierventils weicht vom Handbuch ab",
        ),
        Observation::HoseCracked => language.of(
            "A vapour hose is cracked, off or pinched",
            "Ein Dampfschlauch ist rissig, ab oder gequetscht",
        ),
        Observation::CapSealBad => language.of(
            "The cap's seal is torn, dirty or dry",
            "Die Dichtung des Tankdeckels ist rissig, schmutzig oder trocken",
        ),
        Observation::CapSealGood => {
            language.of("The cap's seal is sound", "Die Dichtung des Tankdeckels ist in Ordnung")
        }
        Observation::VentFilterDirty => language.of(
            "The vent filter holds mud, webs or dust",
            "Im Filter der Belüftung sind Schlamm, Spinnweben oder Staub",
        ),
        Observation::VentFilterClean => language.of(
            "The vent filter is clean and passes air",
            "Der Filter der Belüftung ist sauber und lässt Luft durch",
        ),
        Observation::SensorVoltageInRange => language.of(
            "At rest the tank sensor's volts are as the manual says",
            "In Ruhe ist die Spannung des Tankdrucksensors wie im Handbuch",
        ),
        Observation::SensorVoltageOutOfRange => language.of(
            "At rest the tank sensor's volts are not as the manual says",
            "In Ruhe weicht die Spannung des Tankdrucksensors vom Handbuch ab",
        ),
    }
}

/// What weakens the numbers, in one sentence.
pub fn warning(warning: Warning, style: &Style) -> String {
    let language = style.language;
    match warning {
        Warning::StaleValues(signal) => {
            let signal = signal_name(signal, language);
            match language {
                Language::English => format!(
                    "The same values come twice, as if served from a store, so the bounds are wider: {signal}."
                ),
                Language::German => format!(
                    "Dieselben Werte kommen doppelt, wie aus einem Speicher, deshalb sind die Grenzen weiter: {signal}."
                ),
            }
        }
        Warning::StoodIn { missing, used } => {
            let (missing, used) = (signal_name(missing, language), signal_name(used, language));
            match language {
                Language::English => {
                    format!("A signal is missing and another stood in for it, at a loss: {missing} → {used}.")
                }
                Language::German => format!(
                    "Ein Signal fehlt, ein anderes vertritt es mit Abstrichen: {missing} → {used}."
                ),
            }
        }
        Warning::CoarseStep => language
            .of(
                "The car gives the pressure in steps that are coarse against the leak looked for.",
                "Das Auto gibt den Druck in Schritten an, die gegen das gesuchte Leck grob sind.",
            )
            .to_owned(),
        Warning::Driven => language
            .of(
                "The vehicle was driven during the recording; those parts were left out.",
                "Während der Aufzeichnung wurde gefahren; diese Teile blieben außen vor.",
            )
            .to_owned(),
        Warning::AltitudeChanged => language
            .of(
                "The barometric pressure changed during the recording.",
                "Der Luftdruck hat sich während der Aufzeichnung geändert.",
            )
            .to_owned(),
        Warning::FollowsSupply => language
            .of(
                "The tank pressure reading moves with the supply voltage; check the sensor's ground and supply.",
                "Die Anzeige des Tankdrucks bewegt sich mit der Bordspannung; Masse und Versorgung des Sensors prüfen.",
            )
            .to_owned(),
        Warning::Drift => language
            .of(
                "The tank pressure drifts, as it does while fuel warms up.",
                "Der Tankdruck driftet, wie es bei warm werdendem Kraftstoff geschieht.",
            )
            .to_owned(),
        Warning::Gap => language
            .of(
                "The recording has a gap that is too long to bridge.",
                "Die Aufzeichnung hat eine Lücke, die zu lang zum Überbrücken ist.",
            )
            .to_owned(),
        Warning::PoorFit => language
            .of(
                "The model does not explain this recording, so no part is named on it.",
                "Das Modell erklärt diese Aufzeichnung nicht, deshalb wird darauf kein Teil benannt.",
            )
            .to_owned(),
    }
}
