use super::{Fleet, FleetVehicle};
use crate::diagnosis::VerdictOutcome;
use crate::evidence::Outcome;
use crate::report::chart::{RailsLine, small_rails};
use crate::report::compose::{amount, date, proof_word, verdict_mark};
use crate::report::document::{Block, Document, Figure, LeaderLine, Mark, Section, Table};
use crate::report::visit::masked;
use crate::wording::{Language, fault_title, number, pressure, verdict_outcome_word};

/// Lines of the small rails that one drawing holds: less than half a page, so that a drawing need
/// not leave its heading alone at the foot of the page before.
const LINES_A_DRAWING: usize = 18;

/// The fleet as a document.
pub fn compose_fleet(fleet: &Fleet) -> Document {
    let language = fleet.style.language;
    let sections = vec![
        section(language.of("At a glance", "Auf einen Blick"), glance(fleet)),
        section(language.of("With the purge shut", "Bei geschlossener Spülung"), rails(fleet)),
        section(language.of("Vehicles", "Fahrzeuge"), vehicles(fleet)),
        section(language.of("Rechecks due", "Fällige Nachkontrollen"), due(fleet)),
    ];
    let period = (date(&fleet.from, language), date(&fleet.to, language));
    let period = match language {
        Language::English => format!("{} to {}", period.0, period.1),
        Language::German => format!("{} bis {}", period.0, period.1),
    };
    let has_virtual = fleet.vehicles.iter().any(|vehicle| vehicle.is_virtual);
    let mark = language.of(
        "Holds virtual cars, marked as such: nothing on them was measured",
        "Enthält virtuelle Autos, so gekennzeichnet: An ihnen wurde nichts gemessen",
    );
    let whose = if fleet.name.trim().is_empty() || fleet.private {
        period.clone()
    } else {
        format!("{}, {period}", fleet.name)
    };
    Document {
        title: language.of("Fleet report", "Flottenbericht").to_owned(),
        subtitle: whose,
        language,
        virtual_mark: has_virtual.then(|| mark.to_owned()),
        written: fleet.written,
        footer: language
            .of(
                "Does not replace an inspection by a licensed workshop.",
                "Ersetzt keine Prüfung durch eine zugelassene Werkstatt.",
            )
            .to_owned(),
        page_pattern: language.of("page {page} of {pages}", "Seite {page} von {pages}").to_owned(),
        paper: fleet.paper,
        head: vec![Block::Facts(vec![
            (language.of("Period", "Zeitraum").to_owned(), period),
            (
                language.of("Vehicles", "Fahrzeuge").to_owned(),
                count(fleet.vehicles.len(), language),
            ),
            (language.of("Written", "Geschrieben").to_owned(), date(&fleet.written, language)),
        ])],
        sections: sections.into_iter().filter(|section| !section.blocks.is_empty()).collect(),
    }
}

fn section(title: &str, blocks: Vec<Block>) -> Section {
    Section { title: title.to_owned(), blocks }
}

fn count(number_of: usize, language: Language) -> String {
    number(number_of as f64, 0, language)
}

/// How many vehicles stand at each verdict, and what repairs cost.
fn glance(fleet: &Fleet) -> Vec<Block> {
    let language = fleet.style.language;
    let line =
        |text: &str, amount: String| LeaderLine { text: text.to_owned(), amount, is_total: false };
    let verdicts =
        [VerdictOutcome::FaultFound, VerdictOutcome::NoFaultFound, VerdictOutcome::Inconclusive];
    let mut lines: Vec<LeaderLine> = verdicts
        .into_iter()
        .map(|outcome| {
            let at = fleet.vehicles.iter().filter(|it| it.verdict.is_some_and(|v| v.0 == outcome));
            line(verdict_outcome_word(outcome, language), count(at.count(), language))
        })
        .collect();
    let proven = fleet.vehicles.iter().filter(|it| it.proof == Some(Outcome::Pass)).count();
    if proven > 0 {
        lines.push(line(proof_word(Outcome::Pass, language), count(proven, language)));
    }
    let without = fleet.vehicles.iter().filter(|vehicle| vehicle.verdict.is_none()).count();
    if without > 0 {
        lines.push(line(language.of("No verdict", "Ohne Urteil"), count(without, language)));
    }
    let mut blocks = vec![Block::Leaders(lines)];
    if !fleet.costs.is_empty() {
        let costs = fleet.costs.iter().map(|(currency, cost)| {
            let text = match language {
                Language::English => format!("Repairs, {currency}"),
                Language::German => format!("Reparaturen, {currency}"),
            };
            line(&text, amount(cost, language))
        });
        blocks.push(Block::Leaders(costs.collect()));
    }
    blocks
}

/// Every vehicle's newest reading against its own band.
fn rails(fleet: &Fleet) -> Vec<Block> {
    let language = fleet.style.language;
    let lines: Vec<RailsLine> = fleet
        .vehicles
        .iter()
        .map(|vehicle| {
            let band = vehicle.band.filter(|band| band.is_finite() && *band > 0.0);
            let reading = vehicle
                .shut_vacuum
                .zip(band)
                .map(|(vacuum, band)| (vacuum.value / band, vacuum.low / band, vacuum.high / band));
            let unread = language.of("– (no reading)", "– (kein Messwert)");
            let words = vehicle
                .shut_vacuum
                .map_or_else(|| unread.to_owned(), |vacuum| pressure(&vacuum, &fleet.style));
            // What was measured after a repair says how the repair went, not what was wrong before.
            let mark = vehicle.verdict.map(|(outcome, _, _)| verdict_mark(outcome));
            let mark = vehicle.proof.map(Mark::from).or(mark);
            let repaired = language.of(", repaired", ", repariert");
            let note = vehicle.proof.map_or("", |_| repaired);
            RailsLine { name: name(vehicle, language), note, reading, words, mark }
        })
        .collect();
    let caption = language.of(
        "Tank pressure with the purge shut, each against its own car's band. A dot lies inside the rails, a square outside; dashed rails: no reading. The mark on the left is the verdict; after a repair, how its proof ended.",
        "Tankdruck bei geschlossener Spülung, jeweils gegen das Band des eigenen Autos. Ein Punkt liegt innerhalb der Linien, ein Quadrat außerhalb; gestrichelt: kein Messwert. Das Zeichen links ist das Urteil, nach einer Reparatur das Ergebnis des Nachweises.",
    );
    let alternative = language.of(
        "Readings of all vehicles against their bands; the numbers stand beside them.",
        "Messwerte aller Fahrzeuge gegen ihre Bänder; die Zahlen stehen daneben.",
    );
    lines
        .chunks(LINES_A_DRAWING)
        .map(|chunk| {
            Block::Figure(Figure {
                drawing: small_rails(chunk),
                caption: caption.to_owned(),
                alternative: alternative.to_owned(),
            })
        })
        .collect()
}

fn vehicles(fleet: &Fleet) -> Vec<Block> {
    let language = fleet.style.language;
    if fleet.vehicles.is_empty() {
        let none = language.of("No vehicle in this period.", "Kein Fahrzeug in diesem Zeitraum.");
        return vec![Block::Text(none.to_owned())];
    }
    let rows = fleet.vehicles.iter().map(|vehicle| {
        let vin = vehicle
            .vin
            .as_deref()
            .map(|vin| if fleet.private { masked(vin) } else { vin.to_owned() });
        let customer = vehicle.customer.clone().filter(|_| !fleet.private);
        let who: Vec<String> =
            [Some(name(vehicle, language)), vin, customer].into_iter().flatten().collect();
        let visited = vehicle.last_visit.map_or_else(|| "–".to_owned(), |at| date(&at, language));
        let verdict = vehicle.verdict.map_or_else(
            || "–".to_owned(),
            |(outcome, fault, _)| match fault {
                Some(fault) => fault_title(fault, language).to_owned(),
                None => verdict_outcome_word(outcome, language).to_owned(),
            },
        );
        let proof = vehicle.proof.map(|it| proof_word(it, language).to_owned());
        let verdict: Vec<String> = std::iter::once(verdict).chain(proof).collect();
        let codes =
            if vehicle.codes.is_empty() { "–".to_owned() } else { vehicle.codes.join(", ") };
        let costs = vehicle.costs.iter();
        let costs = costs.map(|(currency, cost)| format!("{} {currency}", amount(cost, language)));
        let work: Vec<String> = vehicle.repairs.iter().cloned().chain(costs).collect();
        let work = if work.is_empty() { "–".to_owned() } else { work.join(", ") };
        vec![who.join(", "), visited, verdict.join("; "), codes, work]
    });
    vec![Block::Table(Table {
        head: vec![
            language.of("Vehicle", "Fahrzeug").to_owned(),
            language.of("Last visit", "Letzter Besuch").to_owned(),
            language.of("Verdict", "Urteil").to_owned(),
            language.of("Codes", "Codes").to_owned(),
            language.of("Repair", "Reparatur").to_owned(),
        ],
        rows: rows.collect(),
        widths: vec![0.28, 0.19, 0.2, 0.12, 0.21],
        right: vec![false; 5],
    })]
}

fn due(fleet: &Fleet) -> Vec<Block> {
    let language = fleet.style.language;
    let mut open: Vec<_> =
        fleet.vehicles.iter().filter_map(|it| Some((it.follow_up?, name(it, language)))).collect();
    open.sort();
    let points: Vec<String> =
        open.iter().map(|(at, name)| format!("{}: {name}", date(at, language))).collect();
    if points.is_empty() { Vec::new() } else { vec![Block::List(points)] }
}

/// The vehicle's name; a virtual one says so wherever it stands.
fn name(vehicle: &FleetVehicle, language: Language) -> String {
    if vehicle.is_virtual {
        match language {
            Language::English => format!("{} (virtual)", vehicle.name),
            Language::German => format!("{} (virtuell)", vehicle.name),
        }
    } else {
        vehicle.name.clone()
    }
}
