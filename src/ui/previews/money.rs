use super::date;
use crate::jobs::{
    GuessPart, GuessReport, PhotoLine, PhotoState, Quote, RepairDraft, RepairReport, SmallPicture,
    ToolReport,
};
use crate::vehicle::Part;

/// A drawn picture, one whose file is gone, and one that was changed.
pub(super) fn photos() -> Vec<PhotoLine> {
    let pixels = (0..144_u32).flat_map(|y| (0..192_u32).map(move |x| (x, y)));
    let shade = |(x, y): (u32, u32)| {
        let disc = x.abs_diff(96).pow(2) + y.abs_diff(72).pow(2) < 2500;
        if disc { [70, 74, 70, 255] } else { [180, (150 + y / 3) as u8, 130, 255] }
    };
    let rgba: Vec<u8> = pixels.flat_map(shade).collect();
    let picture = SmallPicture { width: 192, height: 144, rgba: rgba.into() };
    let line = |id, caption: &str, state| PhotoLine {
        id,
        caption: caption.to_owned(),
        added: date(3, 9, 10, 20),
        path: format!("stilltank.db-photos/{id}.jpg").into(),
        size_byte: 2_481_152,
        state,
    };
    vec![
        line(1, "Old purge valve, lets air through", PhotoState::Whole(Some(picture))),
        line(2, "Connector before cleaning", PhotoState::Missing),
        line(3, "", PhotoState::Changed),
    ]
}

pub(super) fn repair() -> RepairReport {
    let quote = |seller: &str, note: &str, amount: &str, chosen| Quote {
        seller: seller.to_owned(),
        note: note.to_owned(),
        amount: amount.to_owned(),
        chosen,
    };
    RepairReport {
        draft: RepairDraft {
            part: "Purge valve".to_owned(),
            quotes: vec![
                quote("Dealer counter", "today", "118.40", false),
                quote("Parts shop", "today", "64.90", true),
                quote("Online, new", "3 days", "53.15", false),
                quote("Breaker’s yard", "used", "25.00", false),
            ],
            currency: "USD".to_owned(),
            labour: "0.00".to_owned(),
            diagnosis: "1.80".to_owned(),
            shop_diagnosis: "140.00".to_owned(),
            tax: "4.20".to_owned(),
            part_prices: [
                (Part::VentValve, "52.30".to_owned()),
                (Part::TankSensor, "71.10".to_owned()),
                (Part::FuelCap, "18.90".to_owned()),
            ]
            .into(),
            notes: String::new(),
        },
        total: "70.90".to_owned(),
        saved: Some("138.20".to_owned()),
    }
}

/// By hand: 18.90 + 0.992 · 64.90, the rest never bought.
pub(super) fn guess() -> GuessReport {
    let part =
        |part, per_mille, price: &str| GuessPart { part, per_mille, price: Some(price.to_owned()) };
    GuessReport {
        parts: vec![
            part(Part::FuelCap, 8, "18.90"),
            part(Part::PurgeValve, 992, "64.90"),
            part(Part::VentValve, 0, "52.30"),
            part(Part::TankSensor, 0, "71.10"),
        ],
        average: Some("83.28".to_owned()),
        saved: Some("18.38".to_owned()),
    }
}

pub(super) fn tool() -> ToolReport {
    ToolReport {
        cost: "189.00".to_owned(),
        currency: "USD".to_owned(),
        saved: "138.20".to_owned(),
        left: Some("50.80".to_owned()),
        repairs: 1,
    }
}
