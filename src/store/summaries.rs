use chrono::{DateTime, Utc};
use rusqlite::{Connection, Row};

use super::StoreError;
use super::database::wall_clock;
use super::repairs::amount;
use super::vehicles::{LastVerdict, VehicleSummary};
use crate::diagnosis::VerdictOutcome;
use crate::units::Estimate;
use crate::vehicle::Fault;

/// The summary's question. What visits say of a vehicle is read from its row of `vehicle_summaries`.
const SUMMARY: &str = "
SELECT v.id, v.uid, v.name, v.vin, v.plate, v.make, v.fuel, v.tank_litre, v.notes,
  v.is_virtual,
  coalesce(s.visit_count, 0) AS visits,
  CASE WHEN s.visit_count > 0 THEN s.last_visit_unix_us END AS last_visit,
  s.odometer_km,
  nullif(s.outcome, '') AS outcome, s.fault, s.probability,
  CASE WHEN s.has_vacuum THEN s.vacuum_pa END AS value,
  s.vacuum_low_pa AS low, s.vacuum_high_pa AS high,
  CASE WHEN s.has_band THEN s.band_pa END AS band,
  CASE WHEN s.has_follow_up THEN s.follow_up_unix_us END AS follow_up
FROM vehicles AS v LEFT JOIN vehicle_summaries AS s ON s.id = v.id
";

/// Makes the summaries of changed vehicles anew. The newest of each kind is found by walking the
/// visits' index from its end to the first visit that has one; joining and sorting all visits took
/// twice as long. The engine takes tables of a cross join in the order written: few vehicles change.
const REFRESH: &str = "
REPLACE INTO vehicle_summaries (id, visit_count, last_visit_unix_us, odometer_km,
  outcome, fault, probability, has_vacuum, vacuum_pa, vacuum_low_pa, vacuum_high_pa,
  has_band, band_pa, has_follow_up, follow_up_unix_us)
SELECT v.id,
  (SELECT count(*) FROM visits WHERE vehicle_id = v.id AND state <> 'removed'),
  coalesce((SELECT max(started_unix_us) FROM visits
            WHERE vehicle_id = v.id AND state <> 'removed'), 0),
  coalesce((SELECT odometer_km FROM visits
            WHERE vehicle_id = v.id AND state <> 'removed' AND odometer_km <> ''
            ORDER BY started_unix_us DESC LIMIT 1), ''),
  coalesce(verdict.outcome, ''), coalesce(verdict.fault, ''), coalesce(verdict.probability, 0.0),
  shut.id IS NOT NULL,
  coalesce(shut.value, 0.0), coalesce(shut.low, 0.0), coalesce(shut.high, 0.0),
  band.id IS NOT NULL, coalesce(band.value, 0.0),
  follow_up.due IS NOT NULL, coalesce(follow_up.due, 0)
FROM changed_vehicles CROSS JOIN vehicles AS v ON v.id = changed_vehicles.id
LEFT JOIN verdicts AS verdict ON verdict.id = (
  SELECT w.id FROM verdicts AS w WHERE w.visit_id = (
    SELECT visits.id FROM visits
    WHERE visits.vehicle_id = v.id AND visits.state <> 'removed'
      AND EXISTS (SELECT 1 FROM verdicts WHERE visit_id = visits.id)
    ORDER BY visits.started_unix_us DESC LIMIT 1)
  ORDER BY w.judged_unix_us DESC, w.id DESC LIMIT 1)
LEFT JOIN measures AS shut ON shut.id = (
  SELECT m.id FROM check_results AS r JOIN measures AS m
    ON m.check_result_id = r.id AND m.measure = 'vacuum_with_purge_shut'
  WHERE r.visit_id = (
    SELECT visits.id FROM visits
    WHERE visits.vehicle_id = v.id AND visits.state <> 'removed'
      AND EXISTS (SELECT 1 FROM check_results AS s JOIN measures AS n
        ON n.check_result_id = s.id AND n.measure = 'vacuum_with_purge_shut'
        WHERE s.visit_id = visits.id)
    ORDER BY visits.started_unix_us DESC LIMIT 1)
  ORDER BY r.judged_unix_us DESC, r.id DESC LIMIT 1)
LEFT JOIN measures AS band
  ON band.check_result_id = shut.check_result_id AND band.measure = 'detection_limit'
LEFT JOIN (SELECT vehicle_id, min(due_unix_us) AS due FROM follow_ups
           WHERE state = 'open' AND vehicle_id IN (SELECT id FROM changed_vehicles)
           GROUP BY vehicle_id) AS follow_up ON follow_up.vehicle_id = v.id
";

/// Brings the summaries of vehicles that something changed of up to date.
pub(super) fn refresh(sql: &Connection) -> Result<(), StoreError> {
    let changed: bool = sql
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM changed_vehicles) AS changed")?
        .query_row([], |row| row.get("changed"))?;
    if changed {
        sql.prepare_cached(REFRESH)?.execute([])?;
        sql.prepare_cached("DELETE FROM changed_vehicles")?.execute([])?;
    }
    Ok(())
}

pub(super) fn summaries<P: rusqlite::Params>(
    sql: &Connection,
    condition: &str,
    parameters: P,
) -> Result<Vec<VehicleSummary>, StoreError> {
    let question = format!("{SUMMARY} WHERE {condition} ORDER BY last_visit DESC, v.name, v.uid");
    let mut statement = sql.prepare_cached(&question)?;
    let mut rows = statement.query(parameters)?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        found.push(VehicleSummary {
            id: row.get("id")?,
            uid: row.get("uid")?,
            name: row.get("name")?,
            vin: given(row.get("vin")?),
            plate: given(row.get("plate")?),
            make: row.get("make")?,
            fuel: row.get("fuel")?,
            tank_litre: amount(row, "tank_litre")?,
            notes: row.get("notes")?,
            is_virtual: row.get("is_virtual")?,
            visits: row.get("visits")?,
            last_visit: time(row, "last_visit")?,
            last_verdict: last_verdict(row)?,
            last_shut_vacuum: estimate(row)?,
            band: row.get("band")?,
            odometer_km: row
                .get::<_, Option<String>>("odometer_km")?
                .and_then(|text| text.parse().ok()),
            follow_up: time(row, "follow_up")?,
        });
    }
    Ok(found)
}

/// The columns `outcome`, `fault` and `probability` of a verdict, if the row has one.
pub(super) fn last_verdict(row: &Row<'_>) -> Result<Option<LastVerdict>, StoreError> {
    let Some(outcome) = row.get::<_, Option<String>>("outcome")? else {
        return Ok(None);
    };
    let known =
        [VerdictOutcome::FaultFound, VerdictOutcome::NoFaultFound, VerdictOutcome::Inconclusive];
    let fault: String = row.get("fault")?;
    Ok(Some(LastVerdict {
        outcome: known
            .into_iter()
            .find(|known| known.name() == outcome)
            .ok_or_else(|| StoreError::unreadable("verdicts.outcome", &outcome))?,
        fault: Fault::from_name(&fault),
        probability: row.get("probability")?,
    }))
}

/// The columns `value`, `low` and `high` of a measure, if the row has one.
pub(super) fn estimate(row: &Row<'_>) -> Result<Option<Estimate>, StoreError> {
    let Some(value) = row.get("value")? else {
        return Ok(None);
    };
    Ok(Some(Estimate { value, low: row.get("low")?, high: row.get("high")? }))
}

fn time(row: &Row<'_>, column: &str) -> Result<Option<DateTime<Utc>>, StoreError> {
    row.get::<_, Option<i64>>(column)?.map(wall_clock).transpose()
}

/// A text, unless it is the empty one that stands for unknown.
pub(super) fn given(text: String) -> Option<String> {
    (!text.is_empty()).then_some(text)
}
