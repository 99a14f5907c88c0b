//! The fleet page, over invented vehicles.

use stilltank::diagnosis::VerdictOutcome;
use stilltank::evidence::Outcome;
use stilltank::report::{
    Block, Fleet, FleetVehicle, Ink, Item, Paper, compose_fleet, fleet_csv, html, pdf, plain_text,
};
use stilltank::units::Estimate;
use stilltank::vehicle::Fault;
use stilltank::wording::{Language, PressureUnit, Style};

use super::visits::at;

pub(super) fn fleet(vehicles: usize) -> Fleet {
    let vehicles = (0..vehicles).map(|place| {
        // Every second leaking valve was replaced, and proven so.
        let leak = if place % 8 == 1 { -180.0 } else { -3.0 };
        let (outcome, fault, probability) = match place % 4 {
            1 => (VerdictOutcome::FaultFound, Some(Fault::PurgeValveLeaking), 0.98),
            3 => (VerdictOutcome::Inconclusive, None, 0.7),
            _ => (VerdictOutcome::NoFaultFound, None, 0.97),
        };
        FleetVehicle {
            name: format!("Van {}", place + 1),
            vin: Some("1ZZPH33T5L2123456".to_owned()),
            customer: Some("B. Example".to_owned()),
            is_virtual: place == 2,
            visits: 1,
            last_visit: Some(at("2026-03-02T08:00:00+01:00")),
            verdict: Some((outcome, fault, probability)),
            codes: if fault.is_some() { vec!["P0496".to_owned()] } else { Vec::new() },
            proof: (place % 8 == 5).then_some(Outcome::Pass),
            shut_vacuum: (place % 5 != 4).then_some(Estimate {
                value: leak,
                low: leak - 9.0,
                high: leak + 9.0,
            }),
            band: Some(20.0),
            repairs: if fault.is_some() { vec!["Purge valve".to_owned()] } else { Vec::new() },
            costs: fault.map(|_| ("EUR".to_owned(), "103.50".to_owned())).into_iter().collect(),
            follow_up: fault.map(|_| at("2026-04-01T08:00:00+02:00")),
        }
    });
    Fleet {
        style: Style { language: Language::English, pressure: PressureUnit::Pascal },
        paper: Paper::A4,
        private: false,
        name: "Example deliveries".to_owned(),
        from: at("2026-01-01T00:00:00+01:00"),
        to: at("2026-03-31T00:00:00+02:00"),
        written: at("2026-04-01T10:00:00+02:00"),
        vehicles: vehicles.collect(),
        costs: vec![("EUR".to_owned(), "310.50".to_owned())],
    }
}

#[test]
fn fleet_page_counts_and_names_its_vehicles() {
    let text = plain_text(&compose_fleet(&fleet(9)));
    assert!(text.contains("Fault found .... 2"), "{text}");
    assert!(text.contains("No fault found .... 5"));
    assert!(text.contains("Not certain yet .... 2"));
    assert!(text.contains("Repairs, EUR .... 310.50"));
    assert!(text.contains("Van 3 (virtual)"));
    assert!(text.contains("Holds virtual cars"));
    assert!(text.contains("1 April 2026: Van 2"));
}

/// A number from after a repair does not stand beside the mark of the fault that was repaired.
#[test]
fn repaired_vehicle_shows_how_its_proof_ended() {
    let document = compose_fleet(&fleet(9));
    let blocks = document.sections.iter().flat_map(|section| &section.blocks);
    let figures = blocks.filter_map(|block| match block {
        Block::Figure(figure) => Some(&figure.drawing.items),
        _ => None,
    });
    let items: Vec<&Item> = figures.flatten().collect();
    let marks = |vehicle: &str| {
        let of = |item: &&Item| matches!(item, Item::Text { text, .. } if text == vehicle);
        let place = items.iter().position(of).unwrap();
        let before = items[..place].iter().rev();
        before.take_while(|item| !matches!(item, Item::Text { .. })).any(|item| {
            let Item::Path { fill, stroke, .. } = item else { return false };
            fill == &Some(Ink::Fail) || stroke.is_some_and(|it| it.ink == Ink::Fail)
        })
    };
    assert!(marks("Van 2") && !marks("Van 6, repaired"));
    let text = plain_text(&document);
    assert!(text.contains("Purge valve leaks; Repair proven"), "{text}");
    assert!(text.contains("Repair proven .... 1"));
    let rows = String::from_utf8(fleet_csv(&fleet(9)).unwrap()).unwrap();
    assert!(rows.lines().next().unwrap().ends_with(",repair_proof"));
    assert_eq!(rows.lines().filter(|row| row.ends_with(",pass")).count(), 1);
}

#[test]
fn fleet_formats_hold_every_vehicle() {
    let fleet = fleet(90);
    let document = compose_fleet(&fleet);
    let page = String::from_utf8(html(&document)).unwrap();
    assert!(page.contains("Van 90") && !page.contains("http"));
    let bytes = pdf(&document).unwrap();
    assert!(bytes.len() <= super::LARGEST, "{}", bytes.len());
    let rows = String::from_utf8(fleet_csv(&fleet).unwrap()).unwrap();
    assert_eq!(rows.lines().count(), 91);
    assert!(rows.contains(",-180,-189,-171,20,Purge valve,103.50,EUR,"));
}

#[test]
fn private_fleet_names_nobody() {
    let mut fleet = fleet(3);
    fleet.private = true;
    let page = String::from_utf8(html(&compose_fleet(&fleet))).unwrap();
    let rows = String::from_utf8(fleet_csv(&fleet).unwrap()).unwrap();
    for text in [page, rows] {
        assert!(!text.contains("B. Example") && !text.contains("1ZZPH33T5L2123456"));
        assert!(text.contains("…123456"));
    }
}

#[test]
fn empty_fleet_says_so() {
    let document = compose_fleet(&fleet(0));
    assert!(plain_text(&document).contains("No vehicle in this period."));
    assert!(pdf(&document).is_ok());
}
