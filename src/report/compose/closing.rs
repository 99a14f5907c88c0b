use super::{date, section};
use crate::checks::Caution;
use crate::evidence::Check;
use crate::report::document::{Block, Section};
use crate::report::visit::{Visit, WhyNotMade};
use crate::wording::{Language, caution, check_title, given_up};

/// What this visit did not look at.
pub(super) fn not_tested(visit: &Visit) -> Section {
    let language = visit.style.language;
    let was_given_up = |check| visit.given_up.iter().any(|it| it.0 == check);
    let mut points: Vec<String> = visit.given_up.iter().map(|it| gave_up(visit, it)).collect();
    let others = visit.not_made.iter().filter(|open| !was_given_up(open.check));
    points.extend(others.map(|open| {
        let title = check_title(open.check, language);
        let why = match open.why {
            WhyNotMade::Skipped => language.of("left out by hand", "von Hand ausgelassen"),
            WhyNotMade::NotOffered => language
                .of("the car does not offer what it needs", "das Auto bietet das Nötige nicht"),
            WhyNotMade::NotNeeded => {
                language.of("the verdict did not need it", "für das Urteil nicht nötig")
            }
        };
        format!("{title}: {why}.")
    }));
    points.push(
        language
            .of(
                "Anything outside the vapour system: fuel supply, ignition, exhaust, wiring beyond what a check names.",
                "Alles außerhalb des Tankentlüftungssystems: Kraftstoffversorgung, Zündung, Abgas, Verkabelung über das Genannte hinaus.",
            )
            .to_owned(),
    );
    let mut blocks = vec![Block::List(points)];
    if let Some(due) = &visit.follow_up {
        let due = date(due, language);
        blocks.push(Block::Text(match language {
            Language::English => format!("Recheck due: {due}, best after the next fill-up."),
            Language::German => {
                format!("Nachkontrolle fällig: {due}, am besten nach dem nächsten Tanken.")
            }
        }));
    }
    section(language.of("Not tested", "Nicht geprüft"), blocks)
}

/// A check that was given up, with the person's reason.
fn gave_up(visit: &Visit, (check, reason): &(Check, String)) -> String {
    let language = visit.style.language;
    let sentence = given_up(&visit.shown_text(reason), language);
    format!("{}. {sentence}", check_title(*check, language))
}

/// Hazards of further work, and who decides.
pub(super) fn cautions(visit: &Visit) -> Section {
    let language = visit.style.language;
    let hazards = [Caution::FuelVapour, Caution::CarbonMonoxide, Caution::SetsCircuitCode];
    let lines = hazards.map(|hazard| {
        let (strong, rest) = caution(hazard, language);
        (strong.to_owned(), rest.to_owned())
    });
    let rules = language.of(
        "This report does not replace an inspection by a licensed station or workshop. The manufacturer's manual and local rules come first.",
        "Dieser Bericht ersetzt keine Prüfung durch eine zugelassene Stelle oder Werkstatt. Das Handbuch des Herstellers und die örtlichen Vorschriften gehen vor.",
    );
    let blocks = vec![Block::Cautions(lines.to_vec()), Block::Text(rules.to_owned())];
    section(language.of("Cautions", "Vorsicht"), blocks)
}

/// How the numbers came about, for whoever has to believe them.
pub(super) fn how_obtained(visit: &Visit) -> Section {
    let language = visit.style.language;
    let mut blocks = Vec::new();
    if let Some(adapter) = &visit.connected_to {
        let adapter = visit.shown_text(adapter);
        blocks.push(Block::Small(match language {
            Language::English => format!("Readings through the diagnostic socket: {adapter}."),
            Language::German => format!("Messwerte über die Diagnosebuchse: {adapter}."),
        }));
    }
    let points = [
        (
            "Every number stands with bounds that hold the true value with 95\u{a0}% probability. They follow from the noise and the steps of this car's own readings, from how often they came, and from drift.",
            "Jede Zahl steht mit Grenzen, die den wahren Wert mit 95\u{a0}% Wahrscheinlichkeit einschließen. Sie folgen aus Rauschen und Schritten der Messwerte dieses Autos, aus ihrer Häufigkeit und aus der Drift.",
        ),
        (
            "The two rails on a chart are the band within which the tank counts as still. It was computed from this car before the check judged anything.",
            "Die beiden Linien im Schrieb sind das Band, in dem der Tank als still gilt. Es wurde an diesem Auto berechnet, bevor die Prüfung urteilte.",
        ),
        (
            "A pass means that a leak that matters would have shown: the smallest leak stated is the one this visit finds in 95 of 100 cases.",
            "Bestanden heißt, dass ein Leck von Belang aufgefallen wäre: Das genannte kleinste Leck findet dieser Besuch in 95 von 100 Fällen.",
        ),
        (
            "The verdict multiplies, for every fact, how much likelier it is under one fault than under the others. A fault is named from 95\u{a0}%; below that the report says what is still open.",
            "Das Urteil multipliziert für jede Tatsache, wie viel wahrscheinlicher sie unter einem Fehler ist als unter den anderen. Ein Fehler wird ab 95\u{a0}% benannt; darunter sagt der Bericht, was offen ist.",
        ),
    ];
    for (english, german) in points {
        blocks.push(Block::Small(language.of(english, german).to_owned()));
    }
    let version = env!("CARGO_PKG_VERSION");
    blocks.push(Block::Small(match language {
        Language::English => format!("Written by Stilltank {version}."),
        Language::German => format!("Geschrieben von Stilltank {version}."),
    }));
    section(language.of("How the numbers were obtained", "Wie die Zahlen zustande kamen"), blocks)
}
