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
    /// Notes.
    pub notes: String,
}

impl RepairEntry {
    /// What it cost: the quotes that were bought, labour and diagnosis; `None` if no amount was
    /// given, or if they are too large to add.
    pub fn total(&self) -> Option<Decimal> {
        self.quotes
            .iter()
            .filter(|quote| quote.chosen)
            .map(|quote| quote.amount)
            .chain(self.labour)
            .chain(self.diagnosis)
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
    let fields = [
        ("part", entry.part.clone()),
        ("currency", entry.currency.clone()),
        ("quotes", quotes),
        ("labour", amount_text(entry.labour)),
        ("diagnosis", amount_text(entry.diagnosis)),
        ("shop_diagnosis", amount_text(entry.shop_diagnosis)),
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
