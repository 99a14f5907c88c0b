use chrono::{DateTime, Utc};
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::database::{Store, micros};
use super::edits::uid_of;
use super::fields::Entity;
use super::{CustomerId, StoreError, search};

/// Whose vehicle it is.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Customer {
    /// Name.
    pub name: String,
    /// Telephone number as written.
    pub phone: String,
    /// Mail address.
    pub email: String,
    /// Notes.
    pub notes: String,
}

impl Store {
    /// Adds a customer.
    pub fn add_customer(
        &mut self,
        customer: &Customer,
        now: DateTime<Utc>,
    ) -> Result<CustomerId, StoreError> {
        self.write(|writing| {
            let uid = writing.new_uid()?;
            writing.sql.execute(
                "INSERT INTO customers (uid, added_unix_us) VALUES (?1, ?2)",
                params![uid, micros(now)],
            )?;
            let id = CustomerId(writing.sql.last_insert_rowid());
            for (field, value) in fields(customer) {
                writing.enter(Entity::Customer, &uid, field, value, now)?;
            }
            Ok(id)
        })
    }

    /// Changes a customer; fields that stay the same are not entered again.
    pub fn edit_customer(
        &mut self,
        id: CustomerId,
        customer: &Customer,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Customer, id.0)?;
            for (field, value) in fields(customer) {
                writing.enter(Entity::Customer, &uid, field, value, now)?;
            }
            search::index_customer(writing.sql, &uid)
        })
    }

    /// Every customer in order of name.
    pub fn list_customers(&self) -> Result<Vec<(CustomerId, Customer)>, StoreError> {
        self.read(|sql| {
            let mut statement = sql.prepare(
                "SELECT id, name, phone, email, notes FROM customers WHERE state = 'kept'
                 ORDER BY name, uid",
            )?;
            let rows = statement.query_map([], |row| Ok((row.get("id")?, customer_from(row)?)))?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }

    /// The customer whose row has this name on every device, unless removed.
    pub fn customer_named(&self, uid: &str) -> Result<Option<Customer>, StoreError> {
        self.read(|sql| Ok(customer(sql, uid)?.map(|(_, customer)| customer)))
    }
}

/// The customer with this name on every device, unless removed.
pub(super) fn customer(
    sql: &Connection,
    uid: &str,
) -> Result<Option<(CustomerId, Customer)>, StoreError> {
    Ok(sql
        .prepare_cached(
            "SELECT id, name, phone, email, notes FROM customers
             WHERE uid = ?1 AND state = 'kept'",
        )?
        .query_row([uid], |row| Ok((row.get("id")?, customer_from(row)?)))
        .optional()?)
}

fn customer_from(row: &Row<'_>) -> rusqlite::Result<Customer> {
    Ok(Customer {
        name: row.get("name")?,
        phone: row.get("phone")?,
        email: row.get("email")?,
        notes: row.get("notes")?,
    })
}

fn fields(customer: &Customer) -> [(&'static str, &str); 4] {
    [
        ("name", &customer.name),
        ("phone", &customer.phone),
        ("email", &customer.email),
        ("notes", &customer.notes),
    ]
}
