use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rusqlite::{Connection, params};
use serde::{Deserialize, Serialize};

use super::database::Store;
use super::edits::uid_of;
use super::fields::Entity;
use super::judgements::{from_json, later_than_known, lossless_json};
use super::{StoreError, VisitId};
use crate::checks::Rails;
use crate::evidence::Check;
use crate::units::Instant;

/// One stretch of a band as it lies in the file.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
struct StoredRails {
    from_us: i64,
    until_us: Option<i64>,
    low_pa: f64,
    high_pa: f64,
}

impl From<&Rails> for StoredRails {
    fn from(rails: &Rails) -> Self {
        Self {
            from_us: rails.from.micros(),
            until_us: rails.until.map(Instant::micros),
            low_pa: rails.low,
            high_pa: rails.high,
        }
    }
}

impl From<StoredRails> for Rails {
    fn from(stored: StoredRails) -> Self {
        Self {
            from: Instant::from_micros(stored.from_us),
            until: stored.until_us.map(Instant::from_micros),
            low: stored.low_pa,
            high: stored.high_pa,
        }
    }
}

impl Store {
    /// Keeps the bands that a guided check was held against. Earlier ones of the same check stay in
    /// the file.
    ///
    /// # Errors
    ///
    /// [`StoreError::NotStorable`] if a bound is not a number.
    pub fn save_rails(
        &mut self,
        visit: VisitId,
        check: Check,
        rails: &[Rails],
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let stored: Vec<StoredRails> = rails.iter().map(StoredRails::from).collect();
        let json = lossless_json("rails", &stored)?;
        self.write(|writing| {
            uid_of(writing.sql, Entity::Visit, visit.0)?;
            let uid = writing.new_uid()?;
            let at = later_than_known(writing.sql, "check_rails", "ended_unix_us", visit, now)?;
            writing.sql.execute(
                "INSERT INTO check_rails (uid, visit_id, ended_unix_us, check_name, rails_json)
                 VALUES (?1, ?2, ?3, ?4, ?5)",
                params![uid, visit, at, check.name(), json],
            )?;
            Ok(())
        })
    }
}

/// The newest bands of each check of a visit.
pub(super) fn rails_of(
    sql: &Connection,
    visit: VisitId,
) -> Result<BTreeMap<Check, Vec<Rails>>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT check_name, rails_json FROM check_rails WHERE visit_id = ?1
         ORDER BY ended_unix_us, id",
    )?;
    let mut rows = statement.query([visit])?;
    let mut newest = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let name: String = row.get("check_name")?;
        let json: String = row.get("rails_json")?;
        let stored: Vec<StoredRails> = from_json("check_rails.rails_json", &json)?;
        // A check that only a newer program knows has no place on this one's pages.
        if let Some(check) = Check::from_name(&name) {
            newest.insert(check, stored.into_iter().map(Rails::from).collect());
        }
    }
    Ok(newest)
}
