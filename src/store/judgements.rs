use chrono::{DateTime, Utc};
use rusqlite::{Connection, params};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::database::{Store, micros, wall_clock};
use super::edits::uid_of;
use super::fields::Entity;
use super::{StoreError, VisitId};
use crate::diagnosis::Verdict;
use crate::evidence::CheckResult;

/// The version of the program that judges now.
const PROGRAM_VERSION: &str = env!("CARGO_PKG_VERSION");

/// A check's result and who found it when.
#[derive(Clone, Debug, PartialEq)]
pub struct JudgedCheck {
    /// What was found.
    pub result: CheckResult,
    /// When.
    pub judged: DateTime<Utc>,
    /// By which version of the program.
    pub program_version: String,
}

/// A verdict and who gave it when.
#[derive(Clone, Debug, PartialEq)]
pub struct JudgedVerdict {
    /// The conclusion.
    pub verdict: Verdict,
    /// When.
    pub judged: DateTime<Utc>,
    /// By which version of the program.
    pub program_version: String,
}

impl Store {
    /// Adds a check's result. Earlier results of the same check stay.
    ///
    /// # Errors
    ///
    /// [`StoreError::NotStorable`] if a number in it is not a number.
    pub fn save_check(
        &mut self,
        visit: VisitId,
        result: &CheckResult,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.save_check_of(visit, result, PROGRAM_VERSION, now)
    }

    /// Adds a check's result as another version of the program found it.
    pub(super) fn save_check_of(
        &mut self,
        visit: VisitId,
        result: &CheckResult,
        program_version: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let json = lossless_json("check result", result)?;
        self.write(|writing| {
            uid_of(writing.sql, Entity::Visit, visit.0)?;
            let uid = writing.new_uid()?;
            let at = later_than_known(writing.sql, "check_results", "judged_unix_us", visit, now)?;
            writing
                .sql
                .prepare_cached(
                    "INSERT INTO check_results (uid, visit_id, judged_unix_us, program_version,
                       check_name, outcome, result_json) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
                )?
                .execute(params![
                    uid,
                    visit,
                    at,
                    program_version,
                    result.check.name(),
                    result.outcome.name(),
                    json
                ])?;
            let id = writing.sql.last_insert_rowid();
            for measure in &result.measures {
                let estimate = measure.estimate;
                writing
                    .sql
                    .prepare_cached(
                        "INSERT INTO measures (check_result_id, measure, unit, value, low, high)
                         VALUES (?1, ?2, ?3, ?4, ?5, ?6)
                         ON CONFLICT (check_result_id, measure) DO NOTHING",
                    )?
                    .execute(params![
                        id,
                        measure.name.name(),
                        measure.name.unit(),
                        estimate.value,
                        estimate.low,
                        estimate.high
                    ])?;
            }
            Ok(())
        })
    }

    /// Adds a verdict. Earlier verdicts of the visit stay.
    ///
    /// # Errors
    ///
    /// [`StoreError::NotStorable`] if a number in it is not a number.
    pub fn save_verdict(
        &mut self,
        visit: VisitId,
        verdict: &Verdict,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let json = lossless_json("verdict", verdict)?;
        self.write(|writing| {
            uid_of(writing.sql, Entity::Visit, visit.0)?;
            let uid = writing.new_uid()?;
            let at = later_than_known(writing.sql, "verdicts", "judged_unix_us", visit, now)?;
            writing
                .sql
                .prepare_cached(
                    "INSERT INTO verdicts (uid, visit_id, judged_unix_us, program_version, outcome,
                       fault, probability, verdict_json) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
                )?
                .execute(params![
                    uid,
                    visit,
                    at,
                    PROGRAM_VERSION,
                    verdict.outcome.name(),
                    verdict.fault.map_or("", |fault| fault.name()),
                    verdict.probability,
                    json
                ])?;
            Ok(())
        })
    }

    /// Every result of every check of a visit, oldest first.
    pub fn checks(&self, visit: VisitId) -> Result<Vec<JudgedCheck>, StoreError> {
        self.read(|sql| checks_of(sql, visit))
    }

    /// Every verdict of a visit, oldest first.
    pub fn verdicts(&self, visit: VisitId) -> Result<Vec<JudgedVerdict>, StoreError> {
        self.read(|sql| verdicts_of(sql, visit))
    }
}

pub(super) fn checks_of(sql: &Connection, visit: VisitId) -> Result<Vec<JudgedCheck>, StoreError> {
    judged(
        sql,
        visit,
        "SELECT result_json AS json, judged_unix_us, program_version FROM check_results
         WHERE visit_id = ?1 ORDER BY judged_unix_us, id",
        "check_results.result_json",
        |result, judged, program_version| JudgedCheck { result, judged, program_version },
    )
}

pub(super) fn verdicts_of(
    sql: &Connection,
    visit: VisitId,
) -> Result<Vec<JudgedVerdict>, StoreError> {
    judged(
        sql,
        visit,
        "SELECT verdict_json AS json, judged_unix_us, program_version FROM verdicts
         WHERE visit_id = ?1 ORDER BY judged_unix_us, id",
        "verdicts.verdict_json",
        |verdict, judged, program_version| JudgedVerdict { verdict, judged, program_version },
    )
}

/// Now, as it is to be stored; but no earlier than what the visit holds already. The newest row is the
/// one that counts, also where the wall clock was set back in the middle of a visit.
pub(super) fn later_than_known(
    sql: &Connection,
    table: &'static str,
    column: &'static str,
    visit: VisitId,
    now: DateTime<Utc>,
) -> Result<i64, StoreError> {
    let latest: Option<i64> = sql
        .prepare_cached(&format!("SELECT max({column}) FROM {table} WHERE visit_id = ?1"))?
        .query_row([visit], |row| row.get(0))?;
    let now = micros(now);
    Ok(match latest {
        Some(latest) if latest > now => latest.saturating_add(1),
        _ => now,
    })
}

/// The judgements of a visit that `query` finds, with when and by which version they were made.
fn judged<T: DeserializeOwned, J>(
    sql: &Connection,
    visit: VisitId,
    query: &str,
    column: &'static str,
    judgement: impl Fn(T, DateTime<Utc>, String) -> J,
) -> Result<Vec<J>, StoreError> {
    let mut statement = sql.prepare_cached(query)?;
    let mut rows = statement.query([visit])?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let json: String = row.get("json")?;
        let judged = wall_clock(row.get("judged_unix_us")?)?;
        found.push(judgement(from_json(column, &json)?, judged, row.get("program_version")?));
    }
    Ok(found)
}

/// A value as JSON, if it comes back from it unchanged: JSON knows no infinity and no NaN.
pub(super) fn lossless_json<T>(what: &'static str, value: &T) -> Result<String, StoreError>
where
    T: Serialize + DeserializeOwned + PartialEq,
{
    serde_json::to_string(value)
        .ok()
        .filter(|json| serde_json::from_str::<T>(json).is_ok_and(|back| back == *value))
        .ok_or(StoreError::NotStorable { what })
}

pub(super) fn from_json<T: DeserializeOwned>(
    column: &'static str,
    json: &str,
) -> Result<T, StoreError> {
    serde_json::from_str(json).map_err(|_| StoreError::unreadable(column, json))
}
