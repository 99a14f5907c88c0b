use super::CarReport;
use crate::vehicle::{Monitor, MonitorName, Plausibility, Signal, TroubleCode, code_catalogue};
use crate::wording::{self, Language};

/// A trouble code in plain words.
pub(super) fn meaning(code: TroubleCode, language: Language) -> String {
    match code_catalogue::entry(code) {
        Some(entry) => wording::code_meaning(entry, language).to_owned(),
        None if code.is_maker_specific() => language
            .of("the maker's own code; its manual says more", "Code des Herstellers")
            .to_owned(),
        None => language
            .of("not about the vapour system", "betrifft nicht das Tankentlüftungssystem")
            .to_owned(),
    }
}

/// A reading, kept in the language in which it was made, in another one. What a person wrote stays.
pub(super) fn in_language(mut report: CarReport, language: Language) -> CarReport {
    let lines = report.codes.iter_mut().chain(report.codes_at_first.iter_mut().flatten());
    for line in lines {
        if let Ok(code) = line.code.parse()
            && Language::ALL.iter().any(|it| meaning(code, *it) == line.meaning)
        {
            line.meaning = meaning(code, language);
        }
    }
    for line in &mut report.readiness {
        let known = |it: &&Monitor| Language::ALL.iter().any(|of| monitor(**it, *of) == line.name);
        if let Some(known) = Monitor::ALL.iter().find(known) {
            line.name = monitor(*known, language).to_owned();
        }
    }
    report
}

/// One of the car's own monitors.
pub(super) fn monitor(monitor: Monitor, language: Language) -> &'static str {
    match monitor {
        Monitor::Misfire => language.of("Misfire", "Verbrennungsaussetzer"),
        Monitor::FuelSystem => language.of("Fuel system", "Kraftstoffsystem"),
        Monitor::Components => language.of("Components", "Bauteile"),
        Monitor::Catalyst => language.of("Catalyst", "Katalysator"),
        Monitor::HeatedCatalyst => language.of("Heated catalyst", "Beheizter Katalysator"),
        Monitor::Evaporative => language.of("Evaporative system", "Tankentlüftung"),
        Monitor::SecondaryAir => language.of("Secondary air", "Sekundärluft"),
        Monitor::GasolineParticulateFilter => {
            language.of("Gasoline particulate filter", "Ottopartikelfilter")
        }
        Monitor::OxygenSensor => language.of("Oxygen sensors", "Lambdasonden"),
        Monitor::OxygenSensorHeater => {
            language.of("Oxygen sensor heaters", "Heizung der Lambdasonden")
        }
        Monitor::ExhaustGasRecirculation => {
            language.of("Exhaust gas recirculation", "Abgasrückführung")
        }
        Monitor::HydrocarbonCatalyst => {
            language.of("Hydrocarbon catalyst", "Kohlenwasserstoff-Katalysator")
        }
        Monitor::NitrogenOxideCatalyst => {
            language.of("Nitrogen oxide catalyst", "Stickoxid-Katalysator")
        }
        Monitor::BoostPressure => language.of("Boost pressure", "Ladedruck"),
        Monitor::ExhaustGasSensor => language.of("Exhaust gas sensor", "Abgassensor"),
        Monitor::ParticulateFilter => language.of("Particulate filter", "Partikelfilter"),
    }
}

/// What a monitor result is about.
pub(super) fn monitor_result(name: MonitorName, test: u8, language: Language) -> String {
    let what = match name {
        MonitorName::VaporLeakCapOff => language.of("Leak, cap off", "Leck, Deckel offen"),
        MonitorName::VaporLeak090 => language.of("Leak of 2.3 mm", "Leck von 2,3 mm"),
        MonitorName::VaporLeak040 => language.of("Leak of 1.0 mm", "Leck von 1,0 mm"),
        MonitorName::VaporLeak020 => language.of("Leak of 0.5 mm", "Leck von 0,5 mm"),
        MonitorName::PurgeFlow => language.of("Purge flow", "Spülstrom"),
        MonitorName::Other(_) => language.of("Monitor", "Überwachung"),
    };
    format!("{what}, {:02X}/{test:02X}", name.id())
}

/// What a monitor result of a bus before CAN is about: only the maker's manual can say more.
pub(super) fn older_monitor(test: u8, component: u8, language: Language) -> String {
    match language {
        Language::English => format!("Maker's test {test:02X}, part {component:02X}, in counts"),
        Language::German => format!("Herstellertest {test:02X}, Teil {component:02X}, in Zählern"),
    }
}

/// Why a signal's readings cannot be what they claim; nothing where they can.
pub(super) fn doubt(signal: Signal, looks: Plausibility, language: Language) -> Option<String> {
    let name = wording::signal_name(signal, language);
    let shown =
        |value: f64| wording::with_unit(&wording::number(value, 1, language), signal.unit());
    Some(match (looks, language) {
        (Plausibility::Plausible | Plausibility::TooFewReadings, _) => return None,
        (Plausibility::OutOfRange { value }, Language::English) => {
            format!("{name} reads {}, which no sound car gives: do not rely on it.", shown(value))
        }
        (Plausibility::OutOfRange { value }, Language::German) => format!(
            "{name} zeigt {}, was kein heiles Auto liefert: nicht darauf verlassen.",
            shown(value)
        ),
        (Plausibility::Substituted { value }, Language::English) => format!(
            "{name} stands at {}, which cars send in place of a missing sensor.",
            shown(value)
        ),
        (Plausibility::Substituted { value }, Language::German) => format!(
            "{name} steht auf {}, was Autos anstelle eines fehlenden Sensors senden.",
            shown(value)
        ),
        (Plausibility::Frozen { value }, Language::English) => format!(
            "{name} stands at {} to the last digit although the engine runs: it is frozen.",
            shown(value)
        ),
        (Plausibility::Frozen { value }, Language::German) => format!(
            "{name} steht bei laufendem Motor bis zur letzten Stelle auf {}: eingefroren.",
            shown(value)
        ),
    })
}

/// What a polling rate of tank pressure does not allow.
pub(super) fn rate_limits(tank_hz: Option<f64>, language: Language) -> Vec<String> {
    match tank_hz {
        Some(rate) if rate < SLOWEST_FOR_RECOVERY_HZ => vec![
            language
                .of(
                    "Readings come too slowly to time the tank's return; a faster adapter would \
                     show it.",
                    "Die Werte kommen zu langsam, um die Rückkehr des Tanks zu messen; ein \
                     schnellerer Adapter zeigt sie.",
                )
                .to_owned(),
        ],
        _ => Vec::new(),
    }
}

/// A free vent path lets the tank back in well under two seconds; four readings within one time
/// constant of half a second take eight a second, and below half of that only an upper bound is
/// left (common practice, no source).
const SLOWEST_FOR_RECOVERY_HZ: f64 = 4.0;

#[cfg(test)]
mod tests {
    use super::{Language, in_language, meaning, monitor};
    use crate::jobs::{CarReport, CodeLine, ReadinessLine};
    use crate::vehicle::Monitor;

    #[test]
    fn what_was_read_in_english_is_said_in_german_and_notes_stay() {
        let line = |code: &str, meaning: String| CodeLine {
            code: code.to_owned(),
            meaning,
            stored: true,
            pending: false,
            permanent: false,
        };
        let plain = |code: &str, language| line(code, meaning(code.parse().unwrap(), language));
        let readiness = |language| {
            let name = |it: &Monitor| monitor(*it, language).to_owned();
            let lines = Monitor::ALL.iter().map(name);
            lines.map(|name| ReadinessLine { name, complete: true }).collect()
        };
        let noted = line("P1450", "tank cannot bleed vacuum".to_owned());
        let report = |language| CarReport {
            codes: vec![
                plain("P0496", language),
                plain("P1123", language),
                plain("P0700", language),
                noted.clone(),
            ],
            codes_at_first: Some(vec![plain("P0442", language)]),
            readiness: readiness(language),
            ..CarReport::default()
        };
        let (english, german) = (report(Language::English), report(Language::German));
        assert_ne!(english, german);
        assert_eq!(in_language(english.clone(), Language::German), german);
        assert_eq!(in_language(german, Language::English), english);
    }
}
