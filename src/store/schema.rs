use rusqlite::Connection;

use super::StoreError;

/// Marks a file as this program's, at byte 68 of the file: `STTK`.
pub(super) const APPLICATION_ID: i32 = 0x5354_544B;

/// The steps from one schema to the next; step n leads to schema n. A released step never changes.
const MIGRATIONS: [&str; 5] = [
    include_str!("migrations/0001_histories.sql"),
    include_str!("migrations/0002_rails.sql"),
    include_str!("migrations/0003_money.sql"),
    include_str!("migrations/0004_sources.sql"),
    include_str!("migrations/0005_summaries.sql"),
];

/// The newest schema this program knows.
pub(super) const KNOWN_SCHEMA: u32 = MIGRATIONS.len() as u32;

/// The schema a connection's file has; 0 for an empty file.
pub(super) fn schema_version(connection: &Connection) -> rusqlite::Result<u32> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Brings a file to the newest schema, each step whole or not at all.
pub(super) fn migrate(connection: &mut Connection) -> Result<(), StoreError> {
    let from = schema_version(connection)?;
    for (version, step) in (1_u32..).zip(MIGRATIONS).filter(|(version, _)| *version > from) {
        let transaction =
            connection.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?;
        transaction.execute_batch(step)?;
        transaction.pragma_update(None, "application_id", APPLICATION_ID)?;
        transaction.pragma_update(None, "user_version", version)?;
        transaction.commit()?;
    }
    Ok(())
}

/// Every table, index and trigger of a file as written, in a fixed order.
pub(super) fn objects(connection: &Connection) -> rusqlite::Result<Vec<(String, String, String)>> {
    let mut statement = connection.prepare(
        "SELECT type, name, coalesce(sql, '') AS sql FROM sqlite_schema
         WHERE name NOT LIKE 'sqlite_stat%' ORDER BY type, name",
    )?;
    let rows =
        statement.query_map([], |row| Ok((row.get("type")?, row.get("name")?, row.get("sql")?)))?;
    rows.collect()
}

/// What [`objects`] says of an untouched file of this schema with these tables added.
pub(super) fn expected_objects(
    version: u32,
    added: &str,
) -> Result<Vec<(String, String, String)>, StoreError> {
    let connection = Connection::open_in_memory()?;
    for step in MIGRATIONS.iter().take(version as usize) {
        connection.execute_batch(step)?;
    }
    connection.execute_batch(added)?;
    Ok(objects(&connection)?)
}
