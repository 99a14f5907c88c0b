//! What people and cars say on the invented card, in German.

use crate::jobs::{VehicleRow, VisitCard};

/// English words of the invented data and their German.
const WORDS: [(&str, &str); 42] = [
    ("Grey hatchback", "Grauer Kombi"),
    ("Red pickup", "Roter Pick-up"),
    ("Family van", "Familienbus"),
    ("Blue estate", "Blauer Wagen"),
    ("White minibus", "Weißer Bus"),
    ("Practice", "Übung"),
    ("stumbles for a minute, then clears", "stottert eine Minute, dann läuft er rund"),
    ("Garage stick, Bluetooth", "Werkstattstecker, Bluetooth"),
    (
        "Not certain yet: purge valve leaks 71 %; make this check next: Unplug and watch.",
        "Noch nicht sicher: Regenerierventil undicht 71 %; als Nächstes: Abziehen und beobachten.",
    ),
    (
        "Reads −3 Pa with the system open: the sensor is true.",
        "Zeigt −3 Pa bei offenem System: Der Sensor stimmt.",
    ),
    (
        "Next, because the code says it flows while shut, and this shows it directly.",
        "Als Nächstes: Laut Code strömt es geschlossen; das zeigt es unmittelbar.",
    ),
    (
        "Then: tells a leaking valve from a blocked vent.",
        "Danach: trennt ein undichtes Ventil von einer verstopften Belüftung.",
    ),
    ("Only if those two disagree.", "Nur wenn diese beiden sich widersprechen."),
    (
        "It came to rest at −209 Pa, three times of three.",
        "Er kam bei −209 Pa zur Ruhe, dreimal von dreimal.",
    ),
    ("The tank moved 115 Pa with the throttle.", "Der Tank bewegte sich mit dem Gas um 115 Pa."),
    ("Not needed.", "Nicht nötig."),
    (
        "Vapour flows while the purge valve should be shut",
        "Dampf strömt, obwohl das Regenerierventil zu sein sollte",
    ),
    (
        "Made in no country: invented. Check character holds.",
        "In keinem Land gebaut: erfunden. Das Prüfzeichen stimmt.",
    ),
    ("misfire", "Zündaussetzer"),
    ("evaporative", "Tankentlüftung"),
    ("catalyst", "Katalysator"),
    ("oxygen sensor", "Lambdasonde"),
    ("oxygen sensor heater", "Sondenheizung"),
    ("fuel system", "Kraftstoffsystem"),
    ("fuel", "Tank"),
    ("manifold", "Saugrohr"),
    ("Purge monitor", "Spülprüfung"),
    ("Leak of 1.0 mm, 3B/81", "Leck von 1,0 mm, 3B/81"),
    ("Maker's test 05, part 02, in counts", "Test 05 des Herstellers, Teil 02, in Zählschritten"),
    (
        "Ambient air stands at −40 °C, which cars send in place of a missing sensor.",
        "Die Außenluft steht auf −40 °C, was Autos statt eines fehlenden Sensors senden.",
    ),
    ("parameter 32, steps of 0.25 Pa", "Parameter 32, Schritte von 0,25 Pa"),
    ("parameter 54, steps of 1 Pa", "Parameter 54, Schritte von 1 Pa"),
    ("the finest of those that can be right", "der feinste von denen, die stimmen können"),
    ("stands still while another moves", "steht still, während ein anderer sich bewegt"),
    ("Purge valve", "Regenerierventil"),
    ("Dealer counter", "Vertragshändler"),
    ("Parts shop", "Teilehandel"),
    ("Online, new", "Versand, neu"),
    ("Breaker’s yard", "Autoverwerter"),
    ("today", "heute"),
    ("3 days", "3 Tage"),
    ("used", "gebraucht"),
];

/// These words in German, where they have some.
pub(super) fn word(words: &mut String) {
    if let Some((_, german)) = WORDS.iter().find(|(english, _)| english == words) {
        *words = (*german).to_owned();
    }
}

/// The rows of the list in German.
pub(in crate::ui) fn rows(mut rows: Vec<VehicleRow>) -> Vec<VehicleRow> {
    rows.iter_mut().for_each(|row| word(&mut row.name));
    rows
}

/// The card in German.
pub(in crate::ui) fn card(mut card: VisitCard) -> VisitCard {
    let said = [&mut card.vehicle.name, &mut card.complaint_words, &mut card.verdict_sentence];
    said.into_iter().for_each(word);
    card.connected_to.iter_mut().for_each(word);
    card.checks.iter_mut().for_each(|line| word(&mut line.reason));
    if let Some(car) = &mut card.car {
        car.codes.iter_mut().for_each(|line| word(&mut line.meaning));
        car.freeze_frame.iter_mut().for_each(|(name, _)| word(name));
        car.readiness.iter_mut().chain(&mut car.this_cycle).for_each(|it| word(&mut it.name));
        car.monitors.iter_mut().for_each(|line| word(&mut line.name));
        car.vin_note.iter_mut().chain(&mut car.doubts).for_each(word);
        if let Some(source) = &mut car.tank_source {
            word(&mut source.why);
            for option in source.others.iter_mut().chain([&mut source.chosen]) {
                word(&mut option.name);
                option.doubt.iter_mut().for_each(word);
            }
        }
    }
    if let Some(repair) = &mut card.repair {
        word(&mut repair.draft.part);
        for quote in &mut repair.draft.quotes {
            word(&mut quote.seller);
            word(&mut quote.note);
        }
    }
    card
}
