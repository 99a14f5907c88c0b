use super::check::check_title;
use super::fault::hypothesis_title;
use super::language::{Language, Style};
use super::number::{number, percent, pressure_value, with_unit};
use crate::diagnosis::{Hypothesis, NAMED_FROM, Verdict, VerdictOutcome};
use crate::vehicle::Fault;

/// The verdict's outcome in a word or two, as on the stamp.
pub const fn verdict_outcome_word(outcome: VerdictOutcome, language: Language) -> &'static str {
    match outcome {
        VerdictOutcome::FaultFound => language.of("Fault found", "Fehler gefunden"),
        VerdictOutcome::NoFaultFound => language.of("No fault found", "Kein Fehler gefunden"),
        VerdictOutcome::Inconclusive => language.of("Not certain yet", "Noch nicht sicher"),
    }
}

/// The verdict in one plain sentence: what it is and how sure; while inconclusive, what is still
/// open and what to do next.
pub fn verdict_sentence(verdict: &Verdict, style: &Style) -> String {
    let language = style.language;
    let sure = percent(verdict.probability, language);
    match (verdict.outcome, verdict.fault) {
        (VerdictOutcome::FaultFound, Some(fault)) => {
            let fault = fault_clause(fault, language);
            match (verdict.also, language) {
                (None, Language::English) => format!("{fault} ({sure} sure)."),
                (None, Language::German) => format!("{fault} ({sure} sicher)."),
                (Some((second, share)), Language::English) => format!(
                    "{fault} ({sure} sure). A second fault shows beside it: {} ({} sure); repair the first, then make the checks again.",
                    mid_sentence(Hypothesis::Fault(second), language),
                    percent(share, language)
                ),
                (Some((second, share)), Language::German) => format!(
                    "{fault} ({sure} sicher). Daneben zeigt sich ein zweiter Fehler: {} ({} sicher); erst den ersten beheben, dann die Prüfungen wiederholen.",
                    mid_sentence(Hypothesis::Fault(second), language),
                    percent(share, language)
                ),
            }
        }
        (VerdictOutcome::NoFaultFound, _) => match (smallest_leak(verdict, style), language) {
            (Some(leak), Language::English) => format!(
                "No fault was found in the vapour system ({sure} sure); a leak through the shut valve of {leak} or more would have shown."
            ),
            (Some(leak), Language::German) => format!(
                "Im Tankentlüftungssystem wurde kein Fehler gefunden ({sure} sicher); ein Leck im geschlossenen Ventil ab {leak} wäre aufgefallen."
            ),
            (None, Language::English) => {
                format!("No fault was found in the vapour system ({sure} sure).")
            }
            (None, Language::German) => {
                format!("Im Tankentlüftungssystem wurde kein Fehler gefunden ({sure} sicher).")
            }
        },
        (VerdictOutcome::Inconclusive | VerdictOutcome::FaultFound, _) => {
            let open = still_open(verdict, language);
            let next = verdict.next_check.map(|next| check_title(next.check, language));
            match (next, language) {
                (Some(next), Language::English) => {
                    format!("Not certain yet: {open}; make this check next: {next}.")
                }
                (Some(next), Language::German) => {
                    format!("Noch nicht sicher: {open}; als Nächstes diese Prüfung machen: {next}.")
                }
                (None, Language::English) => format!(
                    "Not certain yet: {open}; no check that is left would settle it, so test the part itself off the car."
                ),
                (None, Language::German) => format!(
                    "Noch nicht sicher: {open}; keine weitere Prüfung entscheidet es, deshalb das Teil selbst ausgebaut prüfen."
                ),
            }
        }
    }
}

/// The smallest leak through the shut valve that the visit would have shown, where known.
pub fn smallest_leak(verdict: &Verdict, style: &Style) -> Option<String> {
    let language = style.language;
    let pascal = verdict.smallest_leak_pa.filter(|pa| pa.is_finite()).map(f64::abs);
    let share = verdict.smallest_leak_percent.filter(|share| share.is_finite());
    let share =
        share.map(|share| with_unit(&number(share, usize::from(share < 10.0), language), "%"));
    match (share, pascal.map(|pa| pressure_value(pa, style)), language) {
        (Some(share), Some(pa), Language::English) => Some(format!("{share} of purge ({pa})")),
        (Some(share), Some(pa), Language::German) => Some(format!("{share} der Spülung ({pa})")),
        (Some(share), None, Language::English) => Some(format!("{share} of purge")),
        (Some(share), None, Language::German) => Some(format!("{share} der Spülung")),
        (None, pa, _) => pa,
    }
}

/// The hypotheses that are still in play, likeliest first, with their odds: those above one in
/// twenty, at most three.
fn still_open(verdict: &Verdict, language: Language) -> String {
    let mut open = verdict.probabilities.clone();
    open.sort_by(|a, b| b.1.total_cmp(&a.1));
    let shown = open.iter().filter(|(_, share)| *share >= 0.05).take(3);
    let lines: Vec<String> = shown
        .map(|(hypothesis, share)| {
            format!("{} {}", mid_sentence(*hypothesis, language), percent(*share, language))
        })
        .collect();
    if lines.is_empty() {
        return language.of("nothing was read yet", "noch wurde nichts gelesen").to_owned();
    }
    // A fault that could be named by its odds, and is not: its codes made them.
    let by_codes = verdict.probability >= NAMED_FROM && verdict.leading() != Hypothesis::None;
    let codes = language.of(", so far mostly by the codes", ", bisher vor allem nach den Codes");
    format!("{}{}", lines.join(", "), if by_codes { codes } else { "" })
}

/// The heading as it stands inside a sentence. German nouns keep their capital.
fn mid_sentence(hypothesis: Hypothesis, language: Language) -> String {
    let title = hypothesis_title(hypothesis, language);
    match (language, hypothesis) {
        (Language::English, _) => title.to_lowercase(),
        (Language::German, Hypothesis::None) => "kein Fehler".to_owned(),
        (Language::German, Hypothesis::Fault(_)) => title.to_owned(),
    }
}

/// The fault as a sentence without its full stop.
pub const fn fault_clause(fault: Fault, language: Language) -> &'static str {
    match fault {
        Fault::PurgeValveLeaking => language.of(
            "The purge valve leaks when it should be shut",
            "Das Regenerierventil ist undicht, wenn es geschlossen sein sollte",
        ),
        Fault::NoPurgeFlow => language.of(
            "No vapour flows when the car opens the purge valve: the valve sticks shut or its line is blocked",
            "Es strömt kein Dampf, wenn das Auto das Regenerierventil öffnet: Das Ventil klemmt oder seine Leitung ist verstopft",
        ),
        Fault::VentPathRestricted => language.of(
            "The way to the outside is restricted: vent valve, filter or canister",
            "Der Weg nach außen ist verengt: Belüftungsventil, Filter oder Aktivkohlefilter",
        ),
        Fault::TankSensorOffset => language.of(
            "The tank pressure sensor reads wrong by a constant",
            "Der Tankdrucksensor zeigt um einen festen Betrag falsch an",
        ),
        Fault::TankSensorSlow => language.of(
            "The tank pressure sensor follows too slowly",
            "Der Tankdrucksensor folgt zu langsam",
        ),
        Fault::TankSensorStuck => language.of(
            "The tank pressure sensor does not follow at all",
            "Der Tankdrucksensor folgt überhaupt nicht",
        ),
        Fault::VaporLeak => language.of(
            "The vapour system leaks to the outside: cap, hose, canister or tank",
            "Das Tankentlüftungssystem ist nach außen undicht: Deckel, Schlauch, Aktivkohlefilter oder Tank",
        ),
    }
}
