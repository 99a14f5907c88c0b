use std::collections::BTreeMap;
use std::path::Path;

use chrono::{DateTime, Utc};
use rusqlite::{Connection, OptionalExtension, Row, params};

use super::customers::Customer;
use super::database::{Store, wall_clock};
use super::edits::uid_of;
use super::fields::Entity;
use super::judgements::{
    JudgedCheck, JudgedVerdict, checks_of, from_json, later_than_known, verdicts_of,
};
use super::monitors::{MonitorReading, monitors_of};
use super::photos::{Photo, photos_of};
use super::rails::rails_of;
use super::repairs::{Repair, repairs_of_visit};
use super::summaries::given;
use super::upkeep::{FollowUp, follow_up_of_visit};
use super::vehicles::{VehicleSummary, owner, summary};
use super::visits::names;
use super::{StoreError, VehicleId, VisitId};
use crate::checks::Rails;
use crate::evidence::{Check, CheckResult, Observation};
use crate::recording::Recording;

/// Everything that is known of a visit.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitRecord {
    /// Number in this database.
    pub id: VisitId,
    /// Name on every device.
    pub uid: String,
    /// Number within the vehicle, from 1, in order of time.
    pub number: u32,
    /// The vehicle as it stands now.
    pub vehicle: VehicleSummary,
    /// Whose vehicle it is.
    pub customer: Option<Customer>,
    /// When the visit started.
    pub started: DateTime<Utc>,
    /// Whether it was closed.
    pub is_closed: bool,
    /// Whether it was made with a virtual car.
    pub is_virtual: bool,
    /// Names of the complaint's kinds.
    pub complaint_kinds: Vec<String>,
    /// Complaint in own words.
    pub complaint_words: String,
    /// Odometer, km.
    pub odometer_km: Option<u32>,
    /// Adapter in words, once connected.
    pub connected_to: Option<String>,
    /// Notes.
    pub notes: String,
    /// What the car said when it was last read, as the caller saved it.
    pub car_report: Option<serde_json::Value>,
    /// Signals, actions and codes.
    pub recording: Recording,
    /// Checks the person left out.
    pub skipped: Vec<Check>,
    /// Every result of every check, oldest first.
    pub checks: Vec<JudgedCheck>,
    /// The bands that each guided check was held against when it ended last.
    pub rails: BTreeMap<Check, Vec<Rails>>,
    /// What the person observed, and that holds.
    pub observations: Vec<Observation>,
    /// Every verdict, oldest first.
    pub verdicts: Vec<JudgedVerdict>,
    /// Repairs, oldest first.
    pub repairs: Vec<Repair>,
    /// Results of the car's own tests, oldest first.
    pub monitors: Vec<MonitorReading>,
    /// Pictures, oldest first.
    pub photos: Vec<Photo>,
    /// When codes were erased, oldest first.
    pub clearings: Vec<DateTime<Utc>>,
    /// What was planned for later.
    pub follow_up: Option<FollowUp>,
}

impl VisitRecord {
    /// The newest result of each check, in the order of [`Check::ALL`].
    pub fn results(&self) -> Vec<&CheckResult> {
        let newest = |check| self.checks.iter().rev().find(|judged| judged.result.check == check);
        Check::ALL.into_iter().filter_map(newest).map(|judged| &judged.result).collect()
    }

    /// The newest verdict.
    pub fn verdict(&self) -> Option<&JudgedVerdict> {
        self.verdicts.last()
    }
}

impl Store {
    /// Everything that is known of a visit.
    pub fn load_visit(&self, id: VisitId) -> Result<VisitRecord, StoreError> {
        let recording = self.load_recording(id)?;
        self.read(|sql| load(sql, &self.path, id, recording))
    }

    /// Saves what the car said, as JSON. Earlier readings stay in the file.
    pub fn save_car_report(
        &mut self,
        visit: VisitId,
        report: &serde_json::Value,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let json = report.to_string();
        self.write(|writing| {
            uid_of(writing.sql, Entity::Visit, visit.0)?;
            let uid = writing.new_uid()?;
            let at = later_than_known(writing.sql, "car_reports", "read_unix_us", visit, now)?;
            writing.sql.execute(
                "INSERT INTO car_reports (uid, visit_id, read_unix_us, report_json)
                 VALUES (?1, ?2, ?3, ?4)",
                params![uid, visit, at, json],
            )?;
            Ok(())
        })
    }
}

pub(super) fn load(
    sql: &Connection,
    database: &Path,
    id: VisitId,
    recording: Recording,
) -> Result<VisitRecord, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT v.*, max(v.is_virtual, vehicles.is_virtual) AS any_virtual,
           (SELECT count(*) FROM visits AS w
            WHERE w.vehicle_id = v.vehicle_id AND (w.id = v.id OR (w.state <> 'removed'
              AND (w.started_unix_us, w.uid) < (v.started_unix_us, v.uid)))) AS number
         FROM visits AS v JOIN vehicles ON vehicles.id = v.vehicle_id WHERE v.id = ?1",
    )?;
    let mut rows = statement.query([id])?;
    let unknown = StoreError::Unknown { what: Entity::Visit.name(), id: id.0 };
    let row = rows.next()?.ok_or(unknown)?;
    let vehicle: VehicleId = row.get("vehicle_id")?;
    let uid: String = row.get("uid")?;
    let skipped = names(&row.get::<_, String>("skipped_checks")?);
    Ok(VisitRecord {
        id,
        number: row.get("number")?,
        vehicle: summary(sql, vehicle)?,
        customer: owner(sql, vehicle)?.map(|(_, customer)| customer),
        started: wall_clock(row.get("started_unix_us")?)?,
        is_closed: row.get::<_, String>("state")? == "closed",
        is_virtual: row.get("any_virtual")?,
        complaint_kinds: names(&row.get::<_, String>("complaint_kinds")?),
        complaint_words: row.get("complaint_words")?,
        odometer_km: row.get::<_, String>("odometer_km")?.parse().ok(),
        connected_to: given(row.get("connected_to")?),
        notes: row.get("notes")?,
        car_report: car_report(sql, id)?,
        recording,
        skipped: skipped.iter().filter_map(|name| Check::from_name(name)).collect(),
        checks: checks_of(sql, id)?,
        rails: rails_of(sql, id)?,
        observations: observations(sql, id)?,
        verdicts: verdicts_of(sql, id)?,
        repairs: repairs_of_visit(sql, id)?,
        monitors: monitors_of(sql, id)?,
        photos: photos_of(sql, database, id)?,
        clearings: clearings(sql, id)?,
        follow_up: follow_up_of_visit(sql, &uid)?,
        uid,
    })
}

fn car_report(sql: &Connection, id: VisitId) -> Result<Option<serde_json::Value>, StoreError> {
    let json: Option<String> = sql
        .query_row(
            "SELECT report_json FROM car_reports WHERE visit_id = ?1
             ORDER BY read_unix_us DESC, id DESC LIMIT 1",
            [id],
            |row| row.get("report_json"),
        )
        .optional()?;
    json.map(|json| from_json("car_reports.report_json", &json)).transpose()
}

fn observations(sql: &Connection, id: VisitId) -> Result<Vec<Observation>, StoreError> {
    let mut statement = sql
        .prepare_cached("SELECT observation FROM observations WHERE visit_id = ?1 AND holds = 1")?;
    let held: Vec<String> = statement
        .query_map([id], |row: &Row<'_>| row.get("observation"))?
        .collect::<Result<_, _>>()?;
    let holds =
        |observation: &Observation| held.contains(&super::visits::observation_name(*observation));
    Ok(Observation::ALL.into_iter().filter(holds).collect())
}

fn clearings(sql: &Connection, id: VisitId) -> Result<Vec<DateTime<Utc>>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT cleared_unix_us FROM code_clearings WHERE visit_id = ?1 ORDER BY cleared_unix_us",
    )?;
    let times: Vec<i64> =
        statement.query_map([id], |row| row.get("cleared_unix_us"))?.collect::<Result<_, _>>()?;
    times.into_iter().map(wall_clock).collect()
}
