use std::str::FromStr;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::{JobError, Quote, RepairDraft, RepairReport};
use crate::recording::TANK_LITRE;
use crate::store;

/// What the person entered, with its amounts as exact decimals.
///
/// # Errors
/// [`JobError::NotAnAmount`] with the text that is no amount.
pub(super) fn entry(draft: &RepairDraft) -> Result<store::RepairEntry, JobError> {
    let quotes = draft.quotes.iter().map(|quote| {
        let amount = amount(&quote.amount)?.ok_or_else(|| not_an_amount(&quote.amount))?;
        Ok(store::Quote {
            seller: quote.seller.clone(),
            note: quote.note.clone(),
            amount,
            chosen: quote.chosen,
        })
    });
    Ok(store::RepairEntry {
        part: draft.part.clone(),
        currency: draft.currency.trim().to_uppercase(),
        quotes: quotes.collect::<Result<_, JobError>>()?,
        labour: amount(&draft.labour)?,
        diagnosis: amount(&draft.diagnosis)?,
        shop_diagnosis: amount(&draft.shop_diagnosis)?,
        tax: amount(&draft.tax)?,
        part_prices: draft
            .part_prices
            .iter()
            .filter_map(|(part, text)| Some(amount(text).transpose()?.map(|it| (*part, it))))
            .collect::<Result<_, _>>()?,
        notes: draft.notes.clone(),
    })
}

/// A stored repair with its totals.
pub(super) fn report(entry: &store::RepairEntry) -> RepairReport {
    let text = |amount: Option<Decimal>| amount.map(|it| it.to_string()).unwrap_or_default();
    let draft = RepairDraft {
        part: entry.part.clone(),
        quotes: entry
            .quotes
            .iter()
            .map(|quote| Quote {
                seller: quote.seller.clone(),
                note: quote.note.clone(),
                amount: quote.amount.to_string(),
                chosen: quote.chosen,
            })
            .collect(),
        currency: entry.currency.clone(),
        labour: text(entry.labour),
        diagnosis: text(entry.diagnosis),
        shop_diagnosis: text(entry.shop_diagnosis),
        tax: text(entry.tax),
        part_prices: entry.part_prices.iter().map(|(it, price)| (*it, price.to_string())).collect(),
        notes: entry.notes.clone(),
    };
    RepairReport { draft, total: text(entry.total()), saved: saved(entry).map(|it| it.to_string()) }
}

/// What a shop's diagnosis would have cost beyond the time spent on this one.
fn saved(entry: &store::RepairEntry) -> Option<Decimal> {
    entry.shop_diagnosis?.checked_sub(entry.diagnosis.unwrap_or_default())
}

/// An amount; empty is none. A decimal comma is understood, thousands marks are not.
pub(super) fn amount(text: &str) -> Result<Option<Decimal>, JobError> {
    let trimmed = text.trim();
    if trimmed.is_empty() {
        return Ok(None);
    }
    let number = Decimal::from_str(&trimmed.replace(',', "."));
    number.map(Some).map_err(|_| not_an_amount(text))
}

/// What a tank holds, L; empty is not known.
pub(super) fn tank_size(text: &str) -> Result<Option<Decimal>, JobError> {
    let litre = amount(text)?;
    let fits = |litre: &Decimal| litre.to_f64().is_some_and(|it| TANK_LITRE.contains(&it));
    match litre {
        Some(litre) if !fits(&litre) => Err(JobError::NoTankSize { text: text.trim().to_owned() }),
        litre => Ok(litre),
    }
}

fn not_an_amount(text: &str) -> JobError {
    JobError::NotAnAmount { text: text.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::{entry, report};
    use crate::jobs::{JobError, Quote, RepairDraft};
    use crate::vehicle::Part;

    fn draft(labour: &str) -> RepairDraft {
        let quote = |seller: &str, amount: &str, chosen| Quote {
            seller: seller.to_owned(),
            note: String::new(),
            amount: amount.to_owned(),
            chosen,
        };
        RepairDraft {
            part: "purge valve".to_owned(),
            quotes: vec![quote("one", "38.50", true), quote("two", "54.10", false)],
            currency: "eur".to_owned(),
            labour: labour.to_owned(),
            diagnosis: "0.20".to_owned(),
            shop_diagnosis: "120".to_owned(),
            tax: "7.41".to_owned(),
            part_prices: [(Part::FuelCap, "18,90".to_owned())].into(),
            notes: String::new(),
        }
    }

    #[test]
    fn the_total_is_exact() {
        // 38.50 + 0.10 + 0.20 + 7.41 has no exact binary sum.
        let report = report(&entry(&draft("0.10")).unwrap());
        assert_eq!(report.total, "46.21");
        assert_eq!(report.saved.as_deref(), Some("119.80"));
        assert_eq!(report.draft.currency, "EUR");
        assert_eq!(report.draft.part_prices[&Part::FuelCap], "18.90");
    }

    #[test]
    fn a_decimal_comma_is_understood() {
        assert_eq!(report(&entry(&draft("12,25")).unwrap()).draft.labour, "12.25");
    }

    #[test]
    fn what_is_no_amount_is_named() {
        let Err(JobError::NotAnAmount { text }) = entry(&draft("ten")) else {
            panic!("ten is taken for an amount");
        };
        assert_eq!(text, "ten");
    }
}
