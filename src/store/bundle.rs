//! Histories as one file that travels between devices.
//!
//! A bundle is a SQLite file with the tables of its schema (`PRAGMA user_version`), and two more:
//! `bundle_manifest` (name, value: `format`, `format_version`, `created_unix_us`, `scope`,
//! `program_version`, `content_sha256`) and `bundle_photo_files` (sha256, content). Its application
//! id is `STTB`. `content_sha256` is the SHA-256 over every row of every table but the manifest and
//! the search index, tables in order of name, rows in order of id: each value as one letter for its
//! kind (`i`, `r`, `t`, `b`), the length of what follows as 8 bytes, and its bytes; numbers as 8
//! bytes, all little endian.

use std::path::Path;

use chrono::{DateTime, Utc};
use rusqlite::backup::{Backup, StepResult};
use rusqlite::types::ValueRef;
use rusqlite::{Connection, OpenFlags, OptionalExtension, params};
use sha2::{Digest, Sha256};

use super::database::{Store, beside, micros, photo_folder};
use super::merge::{Merged, Refused, merge};
use super::merge_tables::Scope;
use super::photos::{self, photo_file};
use super::readable::read_everything;
use super::recordings::seal_visit;
use super::schema::{self, KNOWN_SCHEMA};
use super::uid::hexadecimal;
use super::{BundleFault, StoreError, VehicleId, VisitId};

/// Marks a file as a bundle, at byte 68 of the file: `STTB`.
const BUNDLE_ID: i32 = 0x5354_5442;

const TABLES: &str = "
CREATE TABLE bundle_manifest (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  value TEXT NOT NULL
) STRICT;
CREATE TABLE bundle_photo_files (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  sha256 TEXT NOT NULL UNIQUE,
  content BLOB NOT NULL
) STRICT;
";

impl Store {
    /// Writes one vehicle, or everything, into a bundle. A file of that name is replaced once the
    /// new one is whole.
    pub fn export(
        &mut self,
        to: &Path,
        vehicle: Option<VehicleId>,
        now: DateTime<Utc>,
    ) -> Result<Merged, StoreError> {
        let scope = vehicle.map_or(Scope::Everything, Scope::Vehicle);
        self.seal_all(scope)?;
        let unfinished = beside(to, ".unfinished");
        match std::fs::remove_file(&unfinished) {
            Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
                return Err(StoreError::file(&unfinished, error));
            }
            _ => {}
        }
        let written = self.write_bundle(&unfinished, scope, now).map_err(|error| error.at(to))?;
        std::fs::File::open(&unfinished)
            .and_then(|file| file.sync_all())
            .and_then(|()| std::fs::rename(&unfinished, to))
            .map_err(|error| StoreError::file(to, error))?;
        Ok(written)
    }

    /// Merges a bundle into this store: nothing doubles, a later entry of a field wins, and entries
    /// made without knowing of each other stay as [`super::Conflict`]s. Two devices that import
    /// each other's bundles hold the same, in whichever order.
    ///
    /// # Errors
    ///
    /// [`StoreError::BadBundle`] if the file is not the one that was written, [`StoreError::Newer`]
    /// if a newer program wrote it; then nothing was changed.
    pub fn import(&mut self, bundle: &Path) -> Result<Merged, StoreError> {
        let from = open_bundle(bundle)?;
        read_everything(&from).map_err(|_| bad(bundle, BundleFault::Unreadable))?;
        let folder = photo_folder(&self.path);
        unpack_photos(&from, bundle, &folder)?;
        self.write(|writing| {
            merge(&from, writing.sql, Scope::Everything).map_err(|refused| match refused {
                Refused::Fault(fault) => bad(bundle, fault),
                Refused::Store(error) => error,
            })
        })
    }

    /// Samples wait uncompressed in the store only; a bundle has chunks.
    fn seal_all(&mut self, scope: Scope) -> Result<(), StoreError> {
        self.write(|writing| {
            let mut statement = writing.sql.prepare(
                "SELECT DISTINCT visit_id FROM sample_tails
                 JOIN recordings ON recordings.id = recording_id
                 JOIN visits ON visits.id = visit_id
                 WHERE ?1 = 'all' OR vehicle_id IN (SELECT value FROM json_each(?1))",
            )?;
            let visits: Vec<VisitId> = statement
                .query_map([scope.parameter()], |row| row.get("visit_id"))?
                .collect::<Result<_, _>>()?;
            visits.into_iter().try_for_each(|visit| seal_visit(writing.sql, visit))
        })?;
        self.recordings.values_mut().for_each(|appending| appending.sealed());
        Ok(())
    }

    fn write_bundle(
        &self,
        to: &Path,
        scope: Scope,
        now: DateTime<Utc>,
    ) -> Result<Merged, StoreError> {
        let mut bundle = Connection::open(to)?;
        bundle.pragma_update(None, "foreign_keys", true)?;
        // Nobody reads the file before it is whole and has its name.
        bundle.pragma_update(None, "synchronous", "OFF")?;
        schema::migrate(&mut bundle)?;
        bundle.execute_batch(TABLES)?;
        bundle.pragma_update(None, "application_id", BUNDLE_ID)?;
        let transaction = bundle.transaction()?;
        let merged =
            merge(&self.connection, &transaction, scope).map_err(|refused| match refused {
                Refused::Fault(fault) => bad(to, fault),
                Refused::Store(error) => error,
            })?;
        // Whoever takes the rows in makes summaries of its own.
        transaction.execute("DELETE FROM changed_vehicles", [])?;
        pack_photos(&transaction, &photo_folder(&self.path))?;
        let scope = match scope {
            Scope::Everything => "everything",
            Scope::Vehicle(_) => "vehicle",
        };
        let manifest = [
            ("format", "stilltank-bundle".to_owned()),
            ("format_version", "1".to_owned()),
            ("created_unix_us", micros(now).to_string()),
            ("scope", scope.to_owned()),
            ("program_version", env!("CARGO_PKG_VERSION").to_owned()),
            ("content_sha256", content_digest(&transaction)?),
        ];
        for (name, value) in manifest {
            transaction.execute(
                "INSERT INTO bundle_manifest (name, value) VALUES (?1, ?2)",
                params![name, value],
            )?;
        }
        transaction.commit()?;
        bundle.execute_batch("VACUUM")?;
        Ok(merged)
    }
}

fn pack_photos(bundle: &Connection, folder: &Path) -> Result<(), StoreError> {
    let mut statement = bundle.prepare("SELECT DISTINCT sha256, extension FROM photos")?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (digest, extension): (String, String) = (row.get("sha256")?, row.get("extension")?);
        // A picture that is gone here may still be on the other device.
        if let Ok(content) = std::fs::read(photo_file(folder, &digest, &extension)) {
            bundle.execute(
                "INSERT INTO bundle_photo_files (sha256, content) VALUES (?1, ?2)
                 ON CONFLICT DO NOTHING",
                params![digest, content],
            )?;
        }
    }
    Ok(())
}

fn unpack_photos(from: &Connection, bundle: &Path, folder: &Path) -> Result<(), StoreError> {
    let mut statement = from.prepare(
        "SELECT DISTINCT photos.sha256, extension, content FROM photos
         JOIN bundle_photo_files ON bundle_photo_files.sha256 = photos.sha256",
    )?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let (digest, extension): (String, String) = (row.get("sha256")?, row.get("extension")?);
        let content: Vec<u8> = row.get("content")?;
        if photos::digest_of(&content) != digest || !photos::is_extension(&extension) {
            return Err(bad(bundle, BundleFault::ImpossibleValue));
        }
        photos::write_file(folder, &digest, &extension, &content)?;
    }
    Ok(())
}

/// Opens a bundle after making sure that it is what was written.
fn open_bundle(path: &Path) -> Result<Connection, StoreError> {
    let unreadable = |_| bad(path, BundleFault::NotReadable);
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let bundle = Connection::open_with_flags(path, flags).map_err(unreadable)?;
    let version = examine(&bundle, path).map_err(|error| match error {
        StoreError::Database(_) | StoreError::Damaged { .. } => bad(path, BundleFault::NotReadable),
        other => other,
    })?;
    if version == KNOWN_SCHEMA {
        return Ok(bundle);
    }
    // An older bundle is brought to the newest schema in memory; the file stays as it is.
    let mut newest = Connection::open_in_memory()?;
    loop {
        let copying = Backup::new(&bundle, &mut newest)?;
        if copying.step(-1)? == StepResult::Done {
            break;
        }
    }
    schema::migrate(&mut newest)?;
    Ok(newest)
}

fn examine(bundle: &Connection, path: &Path) -> Result<u32, StoreError> {
    bundle.pragma_update(None, "trusted_schema", false)?;
    bundle.pragma_update(None, "cell_size_check", true)?;
    let application: i32 = bundle.pragma_query_value(None, "application_id", |row| row.get(0))?;
    if application != BUNDLE_ID {
        return Err(bad(path, BundleFault::NoManifest));
    }
    let version = schema::schema_version(bundle)?;
    if version > KNOWN_SCHEMA {
        let path = path.to_path_buf();
        return Err(StoreError::Newer { path, found: version, known: KNOWN_SCHEMA });
    }
    if schema::objects(bundle)? != schema::expected_objects(version, TABLES)? {
        return Err(bad(path, BundleFault::OtherTables));
    }
    // The indices as well: a row that its index does not find would be left out of the merge.
    let found: String = bundle.query_row("PRAGMA integrity_check(1)", [], |row| row.get(0))?;
    if found != "ok" {
        return Err(bad(path, BundleFault::NotReadable));
    }
    let stated: Option<String> = bundle
        .query_row("SELECT value FROM bundle_manifest WHERE name = 'content_sha256'", [], |row| {
            row.get("value")
        })
        .optional()?;
    let stated = stated.ok_or_else(|| bad(path, BundleFault::NoManifest))?;
    if content_digest(bundle)? != stated {
        return Err(bad(path, BundleFault::ContentChanged));
    }
    let mut loose = bundle.prepare("PRAGMA foreign_key_check")?;
    if loose.query([])?.next()?.is_some() {
        return Err(bad(path, BundleFault::LooseEnd));
    }
    Ok(version)
}

/// The digest that this module's description defines.
pub(super) fn content_digest(sql: &Connection) -> Result<String, StoreError> {
    let mut tables = sql.prepare(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name <> 'bundle_manifest'
         AND name NOT LIKE 'vehicle_search%' AND name NOT LIKE 'sqlite_%' ORDER BY name",
    )?;
    let names: Vec<String> =
        tables.query_map([], |row| row.get("name"))?.collect::<Result<_, _>>()?;
    let mut digest = Sha256::new();
    for name in names {
        feed(&mut digest, b't', name.as_bytes());
        let mut statement = sql.prepare(&format!("SELECT * FROM \"{name}\" ORDER BY id"))?;
        let width = statement.column_count();
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            for column in 0..width {
                match row.get_ref(column)? {
                    ValueRef::Null => feed(&mut digest, b'n', &[]),
                    ValueRef::Integer(number) => feed(&mut digest, b'i', &number.to_le_bytes()),
                    ValueRef::Real(number) => feed(&mut digest, b'r', &number.to_le_bytes()),
                    ValueRef::Text(text) => feed(&mut digest, b't', text),
                    ValueRef::Blob(bytes) => feed(&mut digest, b'b', bytes),
                }
            }
        }
    }
    Ok(hexadecimal(&digest.finalize()))
}

fn feed(digest: &mut Sha256, kind: u8, bytes: &[u8]) {
    digest.update([kind]);
    digest.update((bytes.len() as u64).to_le_bytes());
    digest.update(bytes);
}

fn bad(path: &Path, fault: BundleFault) -> StoreError {
    StoreError::BadBundle { path: path.to_path_buf(), fault }
}
