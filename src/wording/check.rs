use super::fault::hypothesis_title;
use super::language::Language;
use crate::checks::Step;
use crate::diagnosis::{NextCheck, WhyNext};
use crate::evidence::{Check, Outcome};
use crate::recording::Action;

/// A check as a heading.
pub const fn check_title(check: Check, language: Language) -> &'static str {
    match check {
        Check::RestZero => language.of("At rest", "In Ruhe"),
        Check::IdleZero => language.of("Idle, purge shut", "Leerlauf, Spülung zu"),
        Check::PurgeResponse => language.of("Purge response", "Antwort auf die Spülung"),
        Check::UnplugRecovery => language.of("Unplug and watch", "Abziehen und beobachten"),
        Check::ThrottleFollow => language.of("Throttle follow", "Gasstoß ohne Stecker"),
        Check::CapOffZero => language.of("Cap off", "Tankdeckel offen"),
        Check::AfterFillUp => language.of("After a fill-up", "Nach dem Tanken"),
        Check::SealedHold => language.of("Sealed hold", "Verschlossen halten"),
        Check::RepairProof => language.of("Proof of the repair", "Nachweis der Reparatur"),
    }
}

/// A check that was given up, with the person's reason; empty if they gave none.
pub fn given_up(reason: &str, language: Language) -> String {
    let reason = reason.trim();
    if reason.is_empty() {
        return language.of("Given up.", "Abgebrochen.").to_owned();
    }
    language.of("Given up: {}", "Abgebrochen: {}").replace("{}", &with_stop(reason))
}

/// Words with a full stop, unless they end with a mark of their own.
fn with_stop(words: &str) -> String {
    let ended = words.ends_with(['.', '!', '?', '…']);
    format!("{words}{}", if ended { "" } else { "." })
}

/// Reasons for giving a check up that a person can choose from.
pub const fn reasons_to_give_up(language: Language) -> [&'static str; 4] {
    match language {
        Language::English => [
            "No time left",
            "It is not safe here",
            "The part is out of reach",
            "The car does not do it",
        ],
        Language::German => [
            "Keine Zeit mehr",
            "Hier ist es nicht sicher",
            "Das Teil ist nicht erreichbar",
            "Das Auto macht es nicht",
        ],
    }
}

/// What a check on the card says that was cut off when the program ended.
pub const fn goes_on(language: Language) -> &'static str {
    language.of(
        "Cut off when the app closed. What was recorded counts; make it to its end.",
        "Mit der App beendet. Was aufgezeichnet ist, zählt; bitte zu Ende führen.",
    )
}

/// Why a check is made again before the proof.
pub const fn again_for_the_proof(language: Language) -> &'static str {
    language.of(
        "It failed before the repair; the proof needs it again.",
        "Vor der Reparatur nicht bestanden; der Nachweis braucht sie noch einmal.",
    )
}

/// What is to be put back after a check that was given up, named by the actions that undo it; `None`
/// where nothing is.
pub fn put_back(undoing: &[Action], language: Language) -> Option<String> {
    let sentences: Vec<&str> = undoing
        .iter()
        .filter_map(|action| match action {
            Action::VentOpened => Some(language.of(
                "Open the vent again now: a tank must not be left sealed.",
                "Jetzt die Belüftung wieder öffnen: Der Tank darf nicht verschlossen bleiben.",
            )),
            Action::CapClosed => {
                Some(language.of("Put the fuel cap back on.", "Den Tankdeckel wieder schließen."))
            }
            Action::PurgePlugged => Some(language.of(
                "Put the purge valve's connector back on.",
                "Den Stecker des Regenerierventils wieder aufstecken.",
            )),
            _ => None,
        })
        .collect();
    (!sentences.is_empty()).then(|| sentences.join(" "))
}

/// What is said after a start of the program whose last end cut a check off.
pub fn cut_off_when_closed(check: Check, language: Language) -> String {
    language
        .of(
            "The check “{}” was cut off when the app closed. Nothing recorded was lost. Connect again, then go on with it.",
            "Die Prüfung „{}“ brach ab, als die App geschlossen wurde. Nichts Aufgezeichnetes ging verloren. Neu verbinden, dann weitermachen.",
        )
        .replace("{}", check_title(check, language))
}

/// Why a check is worth making, in one sentence.
pub const fn check_purpose(check: Check, language: Language) -> &'static str {
    match check {
        Check::RestZero => language.of(
            "With the engine off nothing pulls on the tank, so the sensor should read zero.",
            "Bei stehendem Motor zieht nichts am Tank, also müsste der Sensor null zeigen.",
        ),
        Check::IdleZero => language.of(
            "The engine pulls from its first turn; with the purge shut the tank should not feel it.",
            "Der Motor saugt ab der ersten Umdrehung; bei geschlossener Spülung darf der Tank davon nichts merken.",
        ),
        Check::PurgeResponse => language.of(
            "When the car opens the purge valve, the tank should be pulled a little and no more.",
            "Öffnet das Auto das Regenerierventil, sollte der Tank ein wenig gezogen werden, mehr nicht.",
        ),
        Check::UnplugRecovery => language.of(
            "Unplugged, the purge valve is shut: how fast the tank comes back shows whether the vent path is free.",
            "Abgezogen ist das Regenerierventil zu: Wie schnell der Tank zurückkommt, zeigt, ob der Belüftungsweg frei ist.",
        ),
        Check::ThrottleFollow => language.of(
            "With the valve unplugged the throttle takes the engine's pull away; if the tank moves with it, the valve leaks.",
            "Bei abgezogenem Ventil nimmt der Gasstoß den Sog des Motors weg; bewegt sich der Tank mit, ist das Ventil undicht.",
        ),
        Check::CapOffZero => language.of(
            "With the cap off the tank is at atmospheric, which tells a wrong reading from a real vacuum.",
            "Bei offenem Tankdeckel herrscht im Tank Umgebungsdruck; das trennt eine falsche Anzeige von echtem Unterdruck.",
        ),
        Check::AfterFillUp => language.of(
            "A fill-up loads the canister with vapour; an engine that runs rich with the purge shut draws it through the valve.",
            "Tanken füllt den Aktivkohlefilter mit Dampf; läuft der Motor bei geschlossener Spülung fett, zieht er ihn durch das Ventil.",
        ),
        Check::SealedHold => language.of(
            "With the vent sealed a tight system keeps its vacuum; how fast it is lost gives the size of the hole.",
            "Bei verschlossener Belüftung hält ein dichtes System seinen Unterdruck; wie schnell er schwindet, zeigt die Größe des Lochs.",
        ),
        Check::RepairProof => language.of(
            "The same checks on the same car show whether the new part has ended what the old one did.",
            "Dieselben Prüfungen am selben Auto zeigen, ob das neue Teil beendet hat, was das alte verursachte.",
        ),
    }
}

/// Why a step of a check is worth making, where it is not the check's own purpose; `stopped` says
/// whether the engine was stopped for it.
pub const fn step_purpose(
    check: Check,
    step: Step,
    stopped: bool,
    language: Language,
) -> &'static str {
    match (check, step, stopped) {
        (Check::SealedHold, Step::StopEngine, _) | (Check::SealedHold, Step::HoldSealed, true) => {
            language.of(
                "A hole and warm fuel go on without the engine. What changes as it stops is what the shut valve lets through.",
                "Ein Loch und warmer Kraftstoff wirken auch ohne Motor. Was sich mit seinem Stillstand ändert, lässt das geschlossene Ventil durch.",
            )
        }
        _ => check_purpose(check, language),
    }
}

/// How a check ended, in a word.
pub const fn outcome_word(outcome: Outcome, language: Language) -> &'static str {
    match outcome {
        Outcome::Pass => language.of("Pass", "Bestanden"),
        Outcome::Fail => language.of("Fail", "Nicht bestanden"),
        Outcome::Inconclusive => language.of("Inconclusive", "Nicht eindeutig"),
    }
}

/// Why a check comes next, in one sentence.
pub fn why_next(next: &NextCheck, language: Language) -> String {
    match next.why {
        WhyNext::TellsApart(one, other) => {
            let (one, other) = (hypothesis_title(one, language), hypothesis_title(other, language));
            match language {
                Language::English => format!("It tells these two apart: {one} / {other}."),
                Language::German => format!("Das trennt diese beiden: {one} / {other}."),
            }
        }
        WhyNext::NotYetMade => language
            .of(
                "It has not been made yet, and the verdict needs it.",
                "Sie fehlt noch, und das Urteil braucht sie.",
            )
            .to_owned(),
        WhyNext::MoreOfIt => language
            .of(
                "It was made, and a longer or repeated run would narrow the bounds.",
                "Sie wurde gemacht; länger oder noch einmal würde sie die Grenzen enger ziehen.",
            )
            .to_owned(),
        WhyNext::ProvesRepair => {
            language.of("It proves the repair.", "Sie weist die Reparatur nach.").to_owned()
        }
    }
}
