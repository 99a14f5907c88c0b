use std::io::Write;
use std::path::{Path, PathBuf};

use chrono::{DateTime, Utc};
use rusqlite::{Connection, OptionalExtension, params};
use sha2::{Digest, Sha256};

use super::database::{Store, beside, micros, photo_folder, wall_clock};
use super::edits::uid_of;
use super::fields::Entity;
use super::uid::hexadecimal;
use super::{PhotoId, StoreError, VisitId};

/// A picture taken in a visit. The picture itself is a file beside the database.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Photo {
    /// Number in this database.
    pub id: PhotoId,
    /// When it was added.
    pub added: DateTime<Utc>,
    /// SHA-256 of the file's content, 64 hexadecimal digits.
    pub sha256: String,
    /// The file.
    pub path: PathBuf,
    /// Length of the file in bytes.
    pub size_byte: u64,
    /// What it shows.
    pub caption: String,
}

impl Store {
    /// Adds a picture to a visit; `extension` names its format, such as `jpg`.
    ///
    /// # Errors
    ///
    /// [`StoreError::NotStorable`] if the extension is not up to five letters or digits.
    pub fn add_photo(
        &mut self,
        visit: VisitId,
        content: &[u8],
        extension: &str,
        caption: &str,
        now: DateTime<Utc>,
    ) -> Result<PhotoId, StoreError> {
        if !is_extension(extension) {
            return Err(StoreError::NotStorable { what: "photo's file name" });
        }
        let digest = digest_of(content);
        // The file first: a row without its picture would promise something that is not there.
        write_file(&photo_folder(&self.path), &digest, extension, content)?;
        self.write(|writing| {
            uid_of(writing.sql, Entity::Visit, visit.0)?;
            let uid = writing.new_uid()?;
            writing.sql.execute(
                "INSERT INTO photos (uid, visit_id, added_unix_us, sha256, extension, size_byte)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![uid, visit, micros(now), digest, extension, content.len() as i64],
            )?;
            let id = PhotoId(writing.sql.last_insert_rowid());
            writing.enter(Entity::Photo, &uid, "caption", caption, now)?;
            Ok(id)
        })
    }

    /// Takes a picture out of its visit. The file stays.
    pub fn remove_photo(&mut self, id: PhotoId, now: DateTime<Utc>) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Photo, id.0)?;
            writing.enter(Entity::Photo, &uid, "state", "removed", now)
        })
    }

    /// A picture's content.
    ///
    /// # Errors
    ///
    /// [`StoreError::Damaged`] if the file is not the one that was added.
    pub fn read_photo(&self, id: PhotoId) -> Result<Vec<u8>, StoreError> {
        let found: Option<(String, String)> = self.read(|sql| {
            Ok(sql
                .query_row("SELECT sha256, extension FROM photos WHERE id = ?1", [id], |row| {
                    Ok((row.get("sha256")?, row.get("extension")?))
                })
                .optional()?)
        })?;
        let (digest, extension) =
            found.ok_or(StoreError::Unknown { what: Entity::Photo.name(), id: id.0 })?;
        let path = photo_file(&photo_folder(&self.path), &digest, &extension);
        let content = std::fs::read(&path).map_err(|error| StoreError::file(&path, error))?;
        if digest_of(&content) != digest {
            return Err(StoreError::Damaged { path, detail: "another picture".to_owned() });
        }
        Ok(content)
    }
}

/// The pictures of a visit, oldest first.
pub(super) fn photos_of(
    sql: &Connection,
    database: &Path,
    visit: VisitId,
) -> Result<Vec<Photo>, StoreError> {
    let folder = photo_folder(database);
    let mut statement = sql.prepare_cached(
        "SELECT * FROM photos WHERE visit_id = ?1 AND state = 'kept' ORDER BY added_unix_us, uid",
    )?;
    let mut rows = statement.query([visit])?;
    let mut photos = Vec::new();
    while let Some(row) = rows.next()? {
        let (sha256, extension): (String, String) = (row.get("sha256")?, row.get("extension")?);
        photos.push(Photo {
            id: row.get("id")?,
            added: wall_clock(row.get("added_unix_us")?)?,
            path: photo_file(&folder, &sha256, &extension),
            sha256,
            size_byte: u64::try_from(row.get::<_, i64>("size_byte")?).unwrap_or(0),
            caption: row.get("caption")?,
        });
    }
    Ok(photos)
}

/// Where a picture with this digest lies.
pub(super) fn photo_file(folder: &Path, digest: &str, extension: &str) -> PathBuf {
    folder.join(format!("{digest}.{extension}"))
}

/// Writes a picture under its digest, whole or not at all.
pub(super) fn write_file(
    folder: &Path,
    digest: &str,
    extension: &str,
    content: &[u8],
) -> Result<(), StoreError> {
    let path = photo_file(folder, digest, extension);
    if path.exists() {
        return Ok(());
    }
    let unfinished = beside(&path, ".unfinished");
    std::fs::create_dir_all(folder)
        .and_then(|()| std::fs::File::create(&unfinished))
        .and_then(|mut file| file.write_all(content).and_then(|()| file.sync_all()))
        .and_then(|()| std::fs::rename(&unfinished, &path))
        .map_err(|error| StoreError::file(&path, error))
}

/// SHA-256 as hexadecimal digits.
pub(super) fn digest_of(content: &[u8]) -> String {
    hexadecimal(&Sha256::digest(content))
}

/// Whether a text can end a file name without leading anywhere.
pub(super) fn is_extension(text: &str) -> bool {
    (1..=5).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_alphanumeric())
}
