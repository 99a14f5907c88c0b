use super::language::Language;
use crate::vehicle::CodeEntry;

/// What a code of the catalogue means, as a clause without a full stop.
pub fn code_meaning(entry: &CodeEntry, language: Language) -> &'static str {
    let german = || {
        let place = GERMAN.binary_search_by(|row| row.0.cmp(entry.code)).ok()?;
        GERMAN.get(place).map(|row| row.1)
    };
    match language {
        Language::English => entry.meaning,
        Language::German => german().unwrap_or(entry.meaning),
    }
}

/// The catalogue's meanings in German, by code, in the words of German workshops.
const GERMAN: &[(&str, &str)] = &[
    ("P0068", "Saugrohrdruck oder Luftmasse passt nicht zur Drosselklappe"),
    ("P0070", "Außentemperatursensor: Fehler im Stromkreis"),
    ("P0071", "Außentemperatursensor: Signal außerhalb des Bereichs oder unplausibel"),
    ("P0072", "Außentemperatursensor: Signal zu niedrig"),
    ("P0073", "Außentemperatursensor: Signal zu hoch"),
    ("P0074", "Außentemperatursensor: Signal setzt zeitweise aus"),
    ("P0100", "Luftmassenmesser: Fehler im Stromkreis"),
    ("P0101", "Luftmassenmesser: Signal außerhalb des Bereichs oder unplausibel"),
    ("P0102", "Luftmassenmesser: Signal zu niedrig"),
    ("P0103", "Luftmassenmesser: Signal zu hoch"),
    ("P0104", "Luftmassenmesser: Signal setzt zeitweise aus"),
    ("P0105", "Saugrohrdrucksensor: Fehler im Stromkreis"),
    ("P0106", "Saugrohrdrucksensor: Signal außerhalb des Bereichs oder unplausibel"),
    ("P0107", "Saugrohrdrucksensor: Signal zu niedrig"),
    ("P0108", "Saugrohrdrucksensor: Signal zu hoch"),
    ("P0109", "Saugrohrdrucksensor: Signal setzt zeitweise aus"),
    ("P0110", "Ansauglufttemperatursensor: Fehler im Stromkreis"),
    ("P0111", "Ansauglufttemperatursensor: Signal außerhalb des Bereichs oder unplausibel"),
    ("P0112", "Ansauglufttemperatursensor: Signal zu niedrig"),
    ("P0113", "Ansauglufttemperatursensor: Signal zu hoch"),
    ("P0114", "Ansauglufttemperatursensor: Signal setzt zeitweise aus"),
    ("P0115", "Kühlmitteltemperatursensor: Fehler im Stromkreis"),
    ("P0116", "Kühlmitteltemperatursensor: Signal außerhalb des Bereichs oder unplausibel"),
    ("P0117", "Kühlmitteltemperatursensor: Signal zu niedrig"),
    ("P0118", "Kühlmitteltemperatursensor: Signal zu hoch"),
    ("P0119", "Kühlmitteltemperatursensor: Signal setzt zeitweise aus"),
    ("P0125", "Kühlmittel nicht warm genug für die Lambdaregelung"),
    ("P0128", "Kühlmittel bleibt unter der Regeltemperatur des Thermostats"),
    ("P0170", "Gemischkorrektur außerhalb der Grenzen, Bank 1"),
    ("P0171", "Gemisch zu mager, Bank 1"),
    ("P0172", "Gemisch zu fett, Bank 1"),
    ("P0173", "Gemischkorrektur außerhalb der Grenzen, Bank 2"),
    ("P0174", "Gemisch zu mager, Bank 2"),
    ("P0175", "Gemisch zu fett, Bank 2"),
    ("P0300", "Verbrennungsaussetzer an mehreren Zylindern"),
    ("P0301", "Verbrennungsaussetzer, Zylinder 1"),
    ("P0302", "Verbrennungsaussetzer, Zylinder 2"),
    ("P0303", "Verbrennungsaussetzer, Zylinder 3"),
    ("P0304", "Verbrennungsaussetzer, Zylinder 4"),
    ("P0305", "Verbrennungsaussetzer, Zylinder 5"),
    ("P0306", "Verbrennungsaussetzer, Zylinder 6"),
    ("P0307", "Verbrennungsaussetzer, Zylinder 7"),
    ("P0308", "Verbrennungsaussetzer, Zylinder 8"),
    ("P0309", "Verbrennungsaussetzer, Zylinder 9"),
    ("P0310", "Verbrennungsaussetzer, Zylinder 10"),
    ("P0311", "Verbrennungsaussetzer, Zylinder 11"),
    ("P0312", "Verbrennungsaussetzer, Zylinder 12"),
    ("P043E", "Referenzbohrung der Leckdiagnosepumpe: Durchfluss zu gering"),
    ("P043F", "Referenzbohrung der Leckdiagnosepumpe: Durchfluss zu groß"),
    ("P0440", "Tankentlüftungssystem arbeitet nicht wie vorgesehen, kein Teil benannt"),
    ("P0441", "Spülstrom entspricht nicht der Ansteuerung"),
    ("P0442", "kleines Leck im Tankentlüftungssystem"),
    ("P0443", "Regenerierventil: Fehler im Stromkreis"),
    ("P0444", "Regenerierventil: Unterbrechung im Stromkreis"),
    ("P0445", "Regenerierventil: Kurzschluss im Stromkreis"),
    ("P0446", "Belüftungsventil: Fehler im Steuerstromkreis oder im Belüftungsweg"),
    ("P0447", "Belüftungsventil: Unterbrechung im Steuerstromkreis"),
    ("P0448", "Belüftungsventil: Kurzschluss im Steuerstromkreis"),
    ("P0449", "Belüftungsventil: Ventil oder Spule fehlerhaft"),
    ("P0450", "Tankdrucksensor: Fehler im Stromkreis"),
    ("P0451", "Tankdrucksensor: Signal außerhalb des Bereichs oder unplausibel"),
    ("P0452", "Tankdrucksensor: Signal zu niedrig"),
    ("P0453", "Tankdrucksensor: Signal zu hoch"),
    ("P0454", "Tankdrucksensor: Signal setzt zeitweise aus"),
    ("P0455", "großes Leck im Tankentlüftungssystem, oder kein Unterdruck erreicht"),
    ("P0456", "sehr kleines Leck im Tankentlüftungssystem"),
    ("P0457", "Leck, Tankdeckel lose oder offen"),
    ("P0458", "Regenerierventil: Spannung im Stromkreis zu niedrig"),
    ("P0459", "Regenerierventil: Spannung im Stromkreis zu hoch"),
    ("P0460", "Tankgeber: Fehler im Stromkreis"),
    ("P0461", "Tankgeber: Anzeige außerhalb des Bereichs oder unplausibel"),
    ("P0462", "Tankgeber: Signal zu niedrig"),
    ("P0463", "Tankgeber: Signal zu hoch"),
    ("P0464", "Tankgeber: Signal setzt zeitweise aus"),
    ("P0465", "Spülstromsensor: Fehler im Stromkreis"),
    ("P0466", "Spülstromsensor: Signal außerhalb des Bereichs oder unplausibel"),
    ("P0467", "Spülstromsensor: Signal zu niedrig"),
    ("P0468", "Spülstromsensor: Signal zu hoch"),
    ("P0469", "Spülstromsensor: Signal setzt zeitweise aus"),
    ("P0496", "Spülstrom fließt, obwohl das Regenerierventil zu sein soll"),
    ("P0497", "Spülstrom zu gering"),
    ("P0498", "Belüftungsventil: Spannung im Steuerstromkreis zu niedrig"),
    ("P0499", "Belüftungsventil: Spannung im Steuerstromkreis zu hoch"),
    ("P0500", "Geschwindigkeitssensor fehlerhaft"),
    ("P0505", "Leerlaufregelung arbeitet nicht wie vorgesehen"),
    ("P0506", "Leerlaufdrehzahl zu niedrig"),
    ("P0507", "Leerlaufdrehzahl zu hoch"),
    ("P0560", "Bordspannung fehlerhaft"),
    ("P0562", "Bordspannung zu niedrig"),
    ("P0563", "Bordspannung zu hoch"),
    ("P2177", "Gemisch außerhalb des Leerlaufs zu mager, Bank 1"),
    ("P2178", "Gemisch außerhalb des Leerlaufs zu fett, Bank 1"),
    ("P2179", "Gemisch außerhalb des Leerlaufs zu mager, Bank 2"),
    ("P2180", "Gemisch außerhalb des Leerlaufs zu fett, Bank 2"),
    ("P2187", "Gemisch im Leerlauf zu mager, Bank 1"),
    ("P2188", "Gemisch im Leerlauf zu fett, Bank 1"),
    ("P2189", "Gemisch im Leerlauf zu mager, Bank 2"),
    ("P2190", "Gemisch im Leerlauf zu fett, Bank 2"),
    ("P2226", "Umgebungsdrucksensor: Fehler im Stromkreis"),
    ("P2227", "Umgebungsdrucksensor: Signal außerhalb des Bereichs oder unplausibel"),
    ("P2228", "Umgebungsdrucksensor: Signal zu niedrig"),
    ("P2229", "Umgebungsdrucksensor: Signal zu hoch"),
    ("P2230", "Umgebungsdrucksensor: Signal setzt zeitweise aus"),
    ("P2400", "Leckdiagnosepumpe: Unterbrechung im Steuerstromkreis"),
    ("P2401", "Leckdiagnosepumpe: Spannung im Steuerstromkreis zu niedrig"),
    ("P2402", "Leckdiagnosepumpe: Spannung im Steuerstromkreis zu hoch"),
    ("P2403", "Leckdiagnosepumpe: Unterbrechung im Messstromkreis"),
    ("P2404", "Leckdiagnosepumpe: Messstromkreis unplausibel"),
    ("P2405", "Leckdiagnosepumpe: Spannung im Messstromkreis zu niedrig"),
    ("P2406", "Leckdiagnosepumpe: Spannung im Messstromkreis zu hoch"),
    ("P2407", "Leckdiagnosepumpe: Messstromkreis setzt zeitweise aus"),
    ("P2408", "Tankdeckelsensor: Fehler im Stromkreis"),
    ("P2409", "Tankdeckelsensor: Signal außerhalb des Bereichs oder unplausibel"),
    ("P2410", "Tankdeckelsensor: Spannung im Stromkreis zu niedrig"),
    ("P2411", "Tankdeckelsensor: Spannung im Stromkreis zu hoch"),
    ("P2412", "Tankdeckelsensor: Stromkreis setzt zeitweise aus"),
    ("P2413", "Abgasrückführung arbeitet nicht wie vorgesehen"),
    ("P2414", "Lambdasonde: Messfehler im Abgas, Bank 1 Sonde 1"),
    ("P2415", "Lambdasonde: Messfehler im Abgas, Bank 2 Sonde 1"),
    ("P2416", "Lambdasonden: Signale vertauscht, Bank 1"),
    ("P2417", "Lambdasonden: Signale vertauscht, Bank 2"),
    ("P2418", "Umschaltventil der Leckdiagnose: Unterbrechung im Steuerstromkreis"),
    ("P2419", "Umschaltventil der Leckdiagnose: Spannung im Steuerstromkreis zu niedrig"),
    ("P2420", "Umschaltventil der Leckdiagnose: Spannung im Steuerstromkreis zu hoch"),
    ("P2421", "Belüftungsventil bleibt offen"),
    ("P2422", "Belüftungsventil bleibt geschlossen"),
    ("P2423", "Kohlenwasserstoff-Adsorber, Bank 1"),
    ("P2424", "Kohlenwasserstoff-Adsorber, Bank 2"),
    ("P2450", "Umschaltventil der Leckdiagnose bleibt offen oder arbeitet nicht wie vorgesehen"),
    ("P2451", "Umschaltventil der Leckdiagnose bleibt geschlossen"),
    ("U0100", "keine Verbindung zum Motorsteuergerät"),
    ("U0101", "keine Verbindung zum Getriebesteuergerät"),
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::vehicle::code_catalogue::{CODES, entry};

    #[test]
    fn every_code_has_its_own_german_meaning() {
        let rows: Vec<&str> = GERMAN.iter().map(|row| row.0).collect();
        assert_eq!(rows, CODES.iter().map(|row| row.code).collect::<Vec<_>>());
        for (place, row) in GERMAN.iter().enumerate() {
            assert!(!row.1.is_empty() && !row.1.ends_with('.'), "{row:?}");
            assert!(GERMAN.iter().skip(place + 1).all(|other| other.1 != row.1), "{row:?}");
        }
    }

    #[test]
    fn meaning_is_in_the_language_asked_for() {
        let row = entry("P0442".parse().unwrap()).unwrap();
        assert_eq!(code_meaning(row, Language::English), "small leak in the vapour system");
        assert_eq!(code_meaning(row, Language::German), "kleines Leck im Tankentlüftungssystem");
    }
}
