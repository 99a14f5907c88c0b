use std::collections::BTreeMap;
use std::str::FromStr;

use chrono::{DateTime, Utc};
use rusqlite::{Connection, Row, params};
use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::database::{Store, Writing, micros, wall_clock};
use super::edits::uid_of;
use super::fields::Entity;
use super::judgements::from_json;
use super::{RepairId, StoreError, VehicleId, VisitId, search};
use crate::units::{Currency, Money};
use crate::vehicle::Part;

/// A price asked from a seller, in the repair's currency.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Quote {
    /// Who sells it.
    pub seller: String,
    /// Note such as `in stock, two days`.
    pub note: String,
    /// The price.
    pub amount: Decimal,
    /// Whether this one was bought.
    pub chosen: bool,
}

/// What is entered about a repair. Amounts that were not given are `None`, never zero.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct RepairEntry {
    /// What was replaced or done.
    pub part: String,
    /// ISO 4217 code of all amounts.
    pub currency: String,
    /// Prices asked.
    pub quotes: Vec<Quote>,
    /// Labour cost.
    pub labour: Option<Decimal>,
    /// Cost of the time spent on the diagnosis.
    pub diagnosis: Option<Decimal>,
    /// What a shop's diagnosis would have cost.
    pub shop_diagnosis: Option<Decimal>,
    /// Taxes and fees that no other amount holds.
    pub tax: Option<Decimal>,
    /// What the parts cost that a person who guesses would have bought.
    pub part_prices: BTreeMap<Part, Decimal>,
    /// Notes.
    pub notes: String,
}

impl RepairEntry {
    /// What it cost: the quotes that were bought, labour, diagnosis and tax; `None` if no amount was
    /// given, or if they are too large to add.
    pub fn total(&self) -> Option<Decimal> {
        self.quotes
            .iter()
            .filter(|quote| quote.chosen)
            .map(|quote| quote.amount)
            .chain(self.labour)
            .chain(self.diagnosis)
            .chain(self.tax)
            .map(Some)
            .reduce(|sum, amount| sum?.checked_add(amount?))
            .flatten()
    }

    /// The same as money; `None` also if the currency is none of ISO 4217.
    pub fn total_money(&self) -> Option<Money> {
        Some(Money::new(self.total()?, self.currency.parse::<Currency>().ok()?))
    }
}

/// A stored repair.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Repair {
    /// Number in this database.
    pub id: RepairId,
    /// The visit it belongs to.
    pub visit: VisitId,
    /// When it was entered.
    pub entered: DateTime<Utc>,
    /// What was entered.
    pub entry: RepairEntry,
}

impl Store {
    /// Adds a repair to a visit.
    pub fn add_repair(
        &mut self,
        visit: VisitId,
        entry: &RepairEntry,
        now: DateTime<Utc>,
    ) -> Result<RepairId, StoreError> {
        self.write(|writing| {
            uid_of(writing.sql, Entity::Visit, visit.0)?;
            let uid = writing.new_uid()?;
            writing.sql.execute(
                "INSERT INTO repairs (uid, visit_id, entered_unix_us) VALUES (?1, ?2, ?3)",
                params![uid, visit, micros(now)],
            )?;
            let id = RepairId(writing.sql.last_insert_rowid());
            enter_repair(writing, &uid, entry, now)?;
            search::index_visit(writing.sql, visit)?;
            Ok(id)
        })
    }

    /// Changes a repair; fields that stay the same are not entered again.
    pub fn edit_repair(
        &mut self,
        id: RepairId,
        entry: &RepairEntry,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Repair, id.0)?;
            enter_repair(writing, &uid, entry, now)?;
            search::index_visit(writing.sql, visit_of(writing.sql, id)?)
        })
    }

    /// Takes a repair back.
    pub fn remove_repair(&mut self, id: RepairId, now: DateTime<Utc>) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Repair, id.0)?;
            writing.enter(Entity::Repair, &uid, "state", "removed", now)?;
            search::index_visit(writing.sql, visit_of(writing.sql, id)?)
        })
    }
}

impl Store {
    /// What every repair of a real car saved against a shop's diagnosis, by ISO 4217 code: what the
    /// shop would have asked less what the own diagnosis cost. Repairs without a shop's price say
    /// nothing, and those of virtual cars do not count.
    pub fn diagnosis_saved(&self) -> Result<BTreeMap<String, DiagnosisSaved>, StoreError> {
        self.read(|sql| {
            let mut statement = sql.prepare_cached(
                "SELECT currency_iso4217, diagnosis_amount, shop_diagnosis_amount
                 FROM repairs JOIN visits ON visits.id = visit_id
                 JOIN vehicles ON vehicles.id = vehicle_id
                 WHERE shop_diagnosis_amount <> '' AND repairs.state = 'kept'
                 AND visits.state <> 'removed' AND visits.is_virtual = 0
                 AND vehicles.state = 'kept' AND vehicles.is_virtual = 0",
            )?;
            let mut rows = statement.query([])?;
            let mut saved: BTreeMap<String, DiagnosisSaved> = BTreeMap::new();
            while let Some(row) = rows.next()? {
                let shop = amount(row, "shop_diagnosis_amount")?.unwrap_or_default();
                let own = amount(row, "diagnosis_amount")?.unwrap_or_default();
                let sum = saved.entry(row.get("currency_iso4217")?).or_default();
                let more = shop.checked_sub(own).and_then(|more| sum.amount.checked_add(more));
                sum.amount = more.ok_or(StoreError::NotStorable { what: "sum of savings" })?;
                sum.repairs = sum.repairs.saturating_add(1);
            }
            Ok(saved)
        })
    }
}

/// What the diagnoses of several repairs saved.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct DiagnosisSaved {
    /// The sum.
    pub amount: Decimal,
    /// Of how many repairs.
    pub repairs: u32,
}

/// The repairs of a vehicle by visit, oldest first.
pub(super) fn repairs_of_vehicle(
    sql: &Connection,
    vehicle: VehicleId,
) -> Result<BTreeMap<VisitId, Vec<Repair>>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT repairs.* FROM repairs JOIN visits ON visits.id = visit_id
         WHERE vehicle_id = ?1 AND repairs.state = 'kept'
         ORDER BY entered_unix_us, repairs.uid",
    )?;
    let mut rows = statement.query([vehicle])?;
    let mut repairs: BTreeMap<VisitId, Vec<Repair>> = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let repair = repair_from(row)?;
        repairs.entry(repair.visit).or_default().push(repair);
    }
    Ok(repairs)
}

/// The repairs of a visit, oldest first.
pub(super) fn repairs_of_visit(
    sql: &Connection,
    visit: VisitId,
) -> Result<Vec<Repair>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT * FROM repairs WHERE visit_id = ?1 AND state = 'kept'
         ORDER BY entered_unix_us, uid",
    )?;
    let mut rows = statement.query([visit])?;
    let mut repairs = Vec::new();
    while let Some(row) = rows.next()? {
        repairs.push(repair_from(row)?);
    }
    Ok(repairs)
}

fn repair_from(row: &Row<'_>) -> Result<Repair, StoreError> {
    Ok(Repair {
        id: row.get("id")?,
        visit: row.get("visit_id")?,
        entered: wall_clock(row.get("entered_unix_us")?)?,
        entry: RepairEntry {
            part: row.get("part")?,
            currency: row.get("currency_iso4217")?,
            quotes: from_json("repairs.quotes_json", &row.get::<_, String>("quotes_json")?)?,
            labour: amount(row, "labour_amount")?,
            diagnosis: amount(row, "diagnosis_amount")?,
            shop_diagnosis: amount(row, "shop_diagnosis_amount")?,
            tax: amount(row, "tax_amount")?,
            part_prices: match row.get::<_, String>("part_prices_json")?.as_str() {
                "" => BTreeMap::new(),
                json => from_json("repairs.part_prices_json", json)?,
            },
            notes: row.get("notes")?,
        },
    })
}

/// An exact decimal, or nothing where the text is empty.
pub(super) fn amount(row: &Row<'_>, column: &'static str) -> Result<Option<Decimal>, StoreError> {
    let text: String = row.get(column)?;
    if text.is_empty() {
        return Ok(None);
    }
    Decimal::from_str(&text).map(Some).map_err(|_| StoreError::unreadable(column, &text))
}

/// An amount as stored.
pub(super) fn amount_text(amount: Option<Decimal>) -> String {
    amount.map(|amount| amount.to_string()).unwrap_or_default()
}

fn enter_repair(
    writing: &mut Writing<'_>,
    uid: &str,
    entry: &RepairEntry,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    let quotes = if entry.quotes.is_empty() {
        "[]".to_owned()
    } else {
        serde_json::to_string(&entry.quotes)
            .map_err(|_| StoreError::NotStorable { what: "quotes" })?
    };
    let part_prices = if entry.part_prices.is_empty() {
        String::new()
    } else {
        serde_json::to_string(&entry.part_prices)
            .map_err(|_| StoreError::NotStorable { what: "prices of parts" })?
    };
    let fields = [
        ("part", entry.part.clone()),
        ("currency", entry.currency.clone()),
        ("quotes", quotes),
        ("labour", amount_text(entry.labour)),
        ("diagnosis", amount_text(entry.diagnosis)),
        ("shop_diagnosis", amount_text(entry.shop_diagnosis)),
        ("tax", amount_text(entry.tax)),
        ("part_prices", part_prices),
        ("notes", entry.notes.clone()),
    ];
    for (field, value) in fields {
        writing.enter(Entity::Repair, uid, field, &value, now)?;
    }
    Ok(())
}

fn visit_of(sql: &Connection, id: RepairId) -> Result<VisitId, StoreError> {
    Ok(sql
        .query_row("SELECT visit_id FROM repairs WHERE id = ?1", [id], |row| row.get("visit_id"))?)
}
