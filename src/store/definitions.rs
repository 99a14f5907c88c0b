use chrono::{DateTime, Utc};
use rusqlite::params;

use super::database::Store;
use super::fields::Entity;
use super::uid::derived_uid;
use super::{StoreError, database::Writing};

/// Something the person defines once and the program remembers; it travels with an export of
/// everything.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Definition {
    /// How the columns of another program's logs are read, by the map's name.
    ColumnMap,
    /// A signal asked for by a request of the maker's own, by the signal's name.
    CustomSignal,
    /// What a maker's own code means, by maker and code.
    CodeNote,
}

impl Definition {
    const fn entity(self) -> Entity {
        match self {
            Self::ColumnMap => Entity::ColumnMap,
            Self::CustomSignal => Entity::CustomSignal,
            Self::CodeNote => Entity::CodeNote,
        }
    }
}

impl Store {
    /// Remembers a definition under its name; an empty one is forgotten.
    pub fn define(
        &mut self,
        definition: Definition,
        name: &str,
        content: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| define(writing, definition.entity(), name, content, now))
    }

    /// Every definition of a kind as name and content, in order of name.
    pub fn definitions(&self, definition: Definition) -> Result<Vec<(String, String)>, StoreError> {
        let table = definition.entity().table();
        self.read(|sql| {
            let mut statement = sql.prepare(&format!(
                "SELECT name, content FROM {table} WHERE content <> '' ORDER BY name"
            ))?;
            let rows =
                statement.query_map([], |row| Ok((row.get("name")?, row.get("content")?)))?;
            Ok(rows.collect::<Result<_, _>>()?)
        })
    }
}

fn define(
    writing: &mut Writing<'_>,
    entity: Entity,
    name: &str,
    content: &str,
    now: DateTime<Utc>,
) -> Result<(), StoreError> {
    let (kind, table) = (entity.name(), entity.table());
    // One name is one definition on every device.
    let uid = derived_uid(&[kind.as_bytes(), name.as_bytes()]);
    writing.sql.execute(
        &format!("INSERT INTO {table} (uid, name) VALUES (?1, ?2) ON CONFLICT DO NOTHING"),
        params![uid, name],
    )?;
    writing.enter(entity, &uid, "content", content, now)
}
