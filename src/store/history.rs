use chrono::{DateTime, Utc};
use rusqlite::{Connection, params};

use super::database::{Store, wall_clock};
use super::summaries::{estimate, last_verdict};
use super::vehicles::LastVerdict;
use super::{StoreError, VehicleId, VisitId};
use crate::evidence::{Check, MeasureName};
use crate::units::Estimate;

/// Something that happened to a vehicle.
#[derive(Clone, Debug, PartialEq)]
pub struct Happening {
    /// When.
    pub at: DateTime<Utc>,
    /// In which visit, unless outside of any.
    pub visit: Option<VisitId>,
    /// What.
    pub what: HappeningKind,
}

/// What happened to a vehicle.
#[derive(Clone, Debug, PartialEq)]
pub enum HappeningKind {
    /// A visit started.
    Visit,
    /// A verdict was given; the newest of its visit.
    Verdict(LastVerdict),
    /// A repair was entered: what was done.
    Repair(String),
    /// Codes were erased.
    CodesCleared,
    /// The tank was filled: note.
    FillUp(String),
    /// A follow-up is or was due: note, and whether it was done.
    FollowUp(String, bool),
}

/// One measure of one visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrendPoint {
    /// Which visit.
    pub visit: VisitId,
    /// When the visit started.
    pub started: DateTime<Utc>,
    /// The number and its bounds, in the measure's unit.
    pub estimate: Estimate,
}

impl Store {
    /// Everything that happened to a vehicle, oldest first.
    pub fn timeline(&self, vehicle: VehicleId) -> Result<Vec<Happening>, StoreError> {
        self.read(|sql| timeline_of(sql, vehicle))
    }

    /// How a measure of a check moved from visit to visit, oldest first: the newest judgement of
    /// each visit.
    pub fn trend(
        &self,
        vehicle: VehicleId,
        check: Check,
        measure: MeasureName,
    ) -> Result<Vec<TrendPoint>, StoreError> {
        self.read(|sql| {
            let mut statement = sql.prepare_cached(
                "SELECT v.id, v.started_unix_us, m.value, m.low, m.high
                 FROM visits AS v JOIN measures AS m ON m.id = (
                   SELECT m.id FROM check_results AS r JOIN measures AS m
                     ON m.check_result_id = r.id AND m.measure = ?3
                   WHERE r.visit_id = v.id AND r.check_name = ?2
                   ORDER BY r.judged_unix_us DESC, r.id DESC LIMIT 1)
                 WHERE v.vehicle_id = ?1 AND v.state <> 'removed'
                 ORDER BY v.started_unix_us, v.uid",
            )?;
            let mut rows = statement.query(params![vehicle, check.name(), measure.name()])?;
            let mut points = Vec::new();
            while let Some(row) = rows.next()? {
                let Some(estimate) = estimate(row)? else { continue };
                let started = wall_clock(row.get("started_unix_us")?)?;
                points.push(TrendPoint { visit: row.get("id")?, started, estimate });
            }
            Ok(points)
        })
    }
}

/// Everything that happened to a vehicle, oldest first.
pub(super) fn timeline_of(
    sql: &Connection,
    vehicle: VehicleId,
) -> Result<Vec<Happening>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT started_unix_us AS at, id AS visit, 'visit' AS kind, '' AS text,
           NULL AS outcome, NULL AS fault, NULL AS probability FROM visits
         WHERE vehicle_id = ?1 AND state <> 'removed'
         UNION ALL SELECT w.judged_unix_us, v.id, 'verdict', '',
           w.outcome, w.fault, w.probability
         FROM visits AS v JOIN verdicts AS w ON w.id = (
           SELECT id FROM verdicts WHERE visit_id = v.id
           ORDER BY judged_unix_us DESC, id DESC LIMIT 1)
         WHERE v.vehicle_id = ?1 AND v.state <> 'removed'
         UNION ALL SELECT r.entered_unix_us, v.id, 'repair', r.part, NULL, NULL, NULL
         FROM visits AS v JOIN repairs AS r ON r.visit_id = v.id
         WHERE v.vehicle_id = ?1 AND v.state <> 'removed' AND r.state = 'kept'
         UNION ALL SELECT c.cleared_unix_us, v.id, 'cleared', '', NULL, NULL, NULL
         FROM visits AS v JOIN code_clearings AS c ON c.visit_id = v.id
         WHERE v.vehicle_id = ?1 AND v.state <> 'removed'
         UNION ALL SELECT filled_unix_us, NULL, 'fill_up', note, NULL, NULL, NULL
         FROM fill_ups WHERE vehicle_id = ?1 AND state = 'kept'
         UNION ALL SELECT due_unix_us, NULL, 'follow_up_' || state, note, NULL, NULL, NULL
         FROM follow_ups WHERE vehicle_id = ?1 AND state <> 'removed'
         ORDER BY at, kind",
    )?;
    let mut rows = statement.query([vehicle])?;
    let mut happenings = Vec::new();
    while let Some(row) = rows.next()? {
        let kind: String = row.get("kind")?;
        let text: String = row.get("text")?;
        let what = match kind.as_str() {
            "visit" => HappeningKind::Visit,
            "repair" => HappeningKind::Repair(text),
            "cleared" => HappeningKind::CodesCleared,
            "fill_up" => HappeningKind::FillUp(text),
            "follow_up_open" => HappeningKind::FollowUp(text, false),
            "follow_up_done" => HappeningKind::FollowUp(text, true),
            _ => match last_verdict(row)? {
                Some(verdict) => HappeningKind::Verdict(verdict),
                None => continue,
            },
        };
        let at = wall_clock(row.get("at")?)?;
        happenings.push(Happening { at, visit: row.get("visit")?, what });
    }
    Ok(happenings)
}
