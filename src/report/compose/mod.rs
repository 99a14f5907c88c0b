//! From a visit's values to the document tree.

mod car;
mod checks;
mod closing;
mod comparison;
mod date;
mod outcome;
mod overlaid;
mod plot;
mod repair;
mod savings;
mod stretch;

pub(super) use date::{date, date_and_time};
pub(super) use outcome::verdict_mark;
pub(super) use repair::{amount, proof_word};

use super::document::{Block, Document, Section};
use super::visit::Visit;
use crate::wording::{Language, number, with_unit};

/// A visit as a document. Everything in it was found elsewhere; this only chooses words, order
/// and drawings.
pub fn compose(visit: &Visit) -> Document {
    let language = visit.style.language;
    let mut sections = vec![outcome::verdict(visit)];
    sections.extend(car::complaint_and_codes(visit));
    sections.extend(checks::checks(visit));
    sections.extend(outcome::why(visit));
    sections.extend(repair::repair(visit));
    sections.extend(repair::proof(visit));
    sections.extend(comparison::comparison(visit));
    sections.push(closing::not_tested(visit));
    sections.push(closing::cautions(visit));
    sections.push(closing::how_obtained(visit));
    sections.retain(|section| !section.blocks.is_empty());
    let number = number(f64::from(visit.number), 0, language);
    Document {
        title: language.of("Vapour system report", "Bericht zum Tankentlüftungssystem").to_owned(),
        subtitle: match language {
            Language::English => {
                format!("{}, visit {number}", visit.shown_text(&visit.vehicle.name))
            }
            Language::German => {
                format!("{}, Besuch {number}", visit.shown_text(&visit.vehicle.name))
            }
        },
        language,
        virtual_mark: virtual_mark(visit),
        written: visit.written,
        footer: language
            .of(
                "Does not replace an inspection by a licensed workshop.",
                "Ersetzt keine Prüfung durch eine zugelassene Werkstatt.",
            )
            .to_owned(),
        page_pattern: language.of("page {page} of {pages}", "Seite {page} von {pages}").to_owned(),
        paper: visit.paper,
        head: head(visit),
        sections,
    }
}

/// The words that mark a virtual car.
fn virtual_mark(visit: &Visit) -> Option<String> {
    let words = visit.style.of(
        "Virtual car: nothing here was measured on a real one",
        "Virtuelles Auto: Nichts hiervon wurde an einem echten gemessen",
    );
    visit.vehicle.is_virtual.then(|| words.to_owned())
}

fn head(visit: &Visit) -> Vec<Block> {
    let language = visit.style.language;
    let mut facts = vec![(
        language.of("Vehicle", "Fahrzeug").to_owned(),
        visit.shown_text(&visit.vehicle.name),
    )];
    let mut add = |label: &str, value: Option<String>| {
        facts.push((label.to_owned(), value.unwrap_or_else(|| "–".to_owned())));
    };
    add(language.of("VIN", "FIN"), visit.shown_vin());
    if let Some(customer) = visit.shown_customer() {
        add(language.of("Customer", "Kunde"), Some(customer.to_owned()));
    }
    let odometer =
        visit.vehicle.odometer_km.map(|km| with_unit(&number(f64::from(km), 0, language), "km"));
    add(language.of("Odometer", "Kilometerstand"), odometer);
    add(language.of("Visit", "Besuch"), Some(date_and_time(&visit.started, language)));
    if visit.written.date_naive() != visit.started.date_naive() {
        add(language.of("Written", "Geschrieben"), Some(date(&visit.written, language)));
    }
    vec![Block::Facts(facts)]
}

/// A section with a heading in the document's language.
fn section(title: &str, blocks: Vec<Block>) -> Section {
    Section { title: title.to_owned(), blocks }
}
