use chrono::{DateTime, Utc};
use rusqlite::{Connection, Row};

use super::StoreError;
use super::database::wall_clock;
use super::repairs::amount;
use super::vehicles::{LastVerdict, VehicleSummary};
use crate::diagnosis::VerdictOutcome;
use crate::units::Estimate;
use crate::vehicle::Fault;

/// The summary's question. The newest of each kind is found by walking the visits' index from its
/// end to the first visit that has one; joining and sorting all visits took twice as long.
const SUMMARY: &str = "
SELECT v.id, v.uid, v.name, v.vin, v.plate, v.make, v.fuel, v.tank_litre, v.notes,
  v.is_virtual,
  (SELECT count(*) FROM visits WHERE vehicle_id = v.id AND state <> 'removed') AS visits,
  (SELECT max(started_unix_us) FROM visits WHERE vehicle_id = v.id AND state <> 'removed')
    AS last_visit,
  (SELECT odometer_km FROM visits
   WHERE vehicle_id = v.id AND state <> 'removed' AND odometer_km <> ''
   ORDER BY started_unix_us DESC LIMIT 1) AS odometer_km,
  verdict.outcome, verdict.fault, verdict.probability,
  shut.value, shut.low, shut.high, band.value AS band,
  (SELECT min(due_unix_us) FROM follow_ups WHERE vehicle_id = v.id AND state = 'open') AS follow_up
FROM vehicles AS v
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
";

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
