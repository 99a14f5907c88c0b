use chrono::{DateTime, Utc};
use rusqlite::{Connection, params};

use super::database::{Store, micros, wall_clock};
use super::edits::uid_of;
use super::fields::Entity;
use super::{StoreError, VisitId};

/// A result of one of the car's own tests.
#[derive(Clone, Debug, PartialEq)]
pub struct MonitorReading {
    /// When it was read.
    pub read: DateTime<Utc>,
    /// Number of the monitor.
    pub monitor: u8,
    /// The maker's number of the test within it.
    pub test: u8,
    /// Value in `unit`.
    pub value: f64,
    /// Lower limit in `unit`.
    pub low: f64,
    /// Upper limit in `unit`.
    pub high: f64,
    /// Symbol of the unit; empty for raw counts.
    pub unit: String,
}

impl Store {
    /// Saves results of the car's own tests.
    ///
    /// # Errors
    ///
    /// [`StoreError::NotStorable`] if one of the numbers is not a number.
    pub fn save_monitors(
        &mut self,
        visit: VisitId,
        readings: &[MonitorReading],
    ) -> Result<(), StoreError> {
        if readings.iter().any(|it| it.value.is_nan() || it.low.is_nan() || it.high.is_nan()) {
            return Err(StoreError::NotStorable { what: "monitor result" });
        }
        self.write(|writing| {
            uid_of(writing.sql, Entity::Visit, visit.0)?;
            for it in readings {
                let uid = writing.new_uid()?;
                writing.sql.execute(
                    "INSERT INTO monitor_results
                       (uid, visit_id, read_unix_us, monitor, test, value, low, high, unit)
                     VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
                    params![
                        uid,
                        visit,
                        micros(it.read),
                        it.monitor,
                        it.test,
                        it.value,
                        it.low,
                        it.high,
                        it.unit
                    ],
                )?;
            }
            Ok(())
        })
    }
}

/// Results of the car's own tests in a visit, oldest first.
pub(super) fn monitors_of(
    sql: &Connection,
    visit: VisitId,
) -> Result<Vec<MonitorReading>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT * FROM monitor_results WHERE visit_id = ?1 ORDER BY read_unix_us, id",
    )?;
    let mut rows = statement.query([visit])?;
    let mut readings = Vec::new();
    while let Some(row) = rows.next()? {
        readings.push(MonitorReading {
            read: wall_clock(row.get("read_unix_us")?)?,
            monitor: row.get("monitor")?,
            test: row.get("test")?,
            value: row.get("value")?,
            low: row.get("low")?,
            high: row.get("high")?,
            unit: row.get("unit")?,
        });
    }
    Ok(readings)
}
