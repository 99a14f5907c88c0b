use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use rusqlite::{Connection, params};

use super::database::{Store, micros, wall_clock};
use super::edits::uid_of;
use super::fields::Entity;
use super::repairs::{Repair, repairs_of_vehicle};
use super::summaries::last_verdict;
use super::vehicles::LastVerdict;
use super::{StoreError, VehicleId, VisitId, search};
use crate::evidence::{Check, MeasureName, Observation, Outcome};
use crate::units::Estimate;

/// A visit on its vehicle's page.
#[derive(Clone, Debug, PartialEq)]
pub struct VisitSummary {
    /// Number in this database.
    pub id: VisitId,
    /// Number within the vehicle, from 1, in order of time.
    pub number: u32,
    /// When it started.
    pub started: DateTime<Utc>,
    /// Names of the complaint's kinds.
    pub complaint_kinds: Vec<String>,
    /// Complaint in own words.
    pub complaint_words: String,
    /// Whether it was made with a virtual car.
    pub is_virtual: bool,
    /// Whether it was closed.
    pub is_closed: bool,
    /// Odometer, km.
    pub odometer_km: Option<u32>,
    /// Trouble codes read, each once, in order.
    pub codes: Vec<String>,
    /// Its newest verdict.
    pub verdict: Option<LastVerdict>,
    /// Repairs.
    pub repairs: Vec<Repair>,
    /// Newest vacuum with the purge shut, Pa.
    pub shut_vacuum: Option<Estimate>,
    /// How the newest proof of a repair ended, if one was made.
    pub proof: Option<Outcome>,
    /// Half the detection band it was judged against, Pa.
    pub band: Option<f64>,
    /// Newest recovery time, s.
    pub recovery_time: Option<Estimate>,
    /// Newest change of the short-term trim after a fill-up, per cent.
    pub trim_excursion: Option<Estimate>,
}

impl Store {
    /// Starts a visit.
    pub fn start_visit(
        &mut self,
        vehicle: VehicleId,
        started: DateTime<Utc>,
    ) -> Result<VisitId, StoreError> {
        self.write(|writing| {
            uid_of(writing.sql, Entity::Vehicle, vehicle.0)?;
            let uid = writing.new_uid()?;
            writing.sql.execute(
                "INSERT INTO visits (uid, vehicle_id, started_unix_us) VALUES (?1, ?2, ?3)",
                params![uid, vehicle, micros(started)],
            )?;
            Ok(VisitId(writing.sql.last_insert_rowid()))
        })
    }

    /// Says why the person came: stable names of the kinds, and own words.
    pub fn set_complaint(
        &mut self,
        visit: VisitId,
        kinds: &[&str],
        words: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.enter_visit(
            visit,
            &[("complaint_kinds", &kinds.join(",")), ("complaint_words", words)],
            now,
        )
    }

    /// Says what the odometer shows, km.
    pub fn set_odometer(
        &mut self,
        visit: VisitId,
        kilometres: u32,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.enter_visit(visit, &[("odometer_km", &kilometres.to_string())], now)
    }

    /// Says through which adapter the car was reached, in words, and whether the car is virtual.
    pub fn set_connected_to(
        &mut self,
        visit: VisitId,
        adapter: &str,
        is_virtual: bool,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let mut fields = vec![("connected_to", adapter)];
        if is_virtual {
            fields.push(("is_virtual", "1"));
        }
        self.enter_visit(visit, &fields, now)
    }

    /// Notes on the visit.
    pub fn set_visit_notes(
        &mut self,
        visit: VisitId,
        notes: &str,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.enter_visit(visit, &[("notes", notes)], now)
    }

    /// Says which checks the person left out.
    pub fn set_skipped(
        &mut self,
        visit: VisitId,
        checks: &[Check],
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let names: Vec<_> = checks.iter().map(|check| check.name()).collect();
        self.enter_visit(visit, &[("skipped_checks", &names.join(","))], now)
    }

    /// Says whether an observation holds. Its opposite no longer does.
    pub fn set_observation(
        &mut self,
        visit: VisitId,
        observation: Observation,
        holds: bool,
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        let field = |observation| format!("observation.{}", observation_name(observation));
        let name = field(observation);
        let opposite = observation.opposite().filter(|_| holds).map(field);
        let mut fields = vec![(name.as_str(), if holds { "1" } else { "0" })];
        if let Some(opposite) = &opposite {
            fields.push((opposite, "0"));
        }
        self.enter_visit(visit, &fields, now)
    }

    /// Notes that the car's codes were erased.
    pub fn add_clearing(&mut self, visit: VisitId, at: DateTime<Utc>) -> Result<(), StoreError> {
        self.write(|writing| {
            uid_of(writing.sql, Entity::Visit, visit.0)?;
            let uid = writing.new_uid()?;
            writing.sql.execute(
                "INSERT INTO code_clearings (uid, visit_id, cleared_unix_us) VALUES (?1, ?2, ?3)",
                params![uid, visit, micros(at)],
            )?;
            Ok(())
        })
    }

    /// Closes a visit and compresses what it recorded. It can be opened again.
    pub fn close_visit(&mut self, visit: VisitId, now: DateTime<Utc>) -> Result<(), StoreError> {
        self.enter_visit(visit, &[("state", "closed")], now)?;
        self.finish_recording(visit)
    }

    /// Opens a closed visit again, to go on with it.
    pub fn reopen_visit(&mut self, visit: VisitId, now: DateTime<Utc>) -> Result<(), StoreError> {
        self.enter_visit(visit, &[("state", "open")], now)
    }

    /// Takes a visit out of every list.
    pub fn remove_visit(&mut self, visit: VisitId, now: DateTime<Utc>) -> Result<(), StoreError> {
        self.enter_visit(visit, &[("state", "removed")], now)
    }

    /// Visits that were never closed, newest first; a crash leaves one.
    pub fn open_visits(&self) -> Result<Vec<VisitId>, StoreError> {
        self.read(|sql| {
            let mut statement = sql.prepare(
                "SELECT id FROM visits WHERE state = 'open' ORDER BY started_unix_us DESC, uid",
            )?;
            Ok(statement.query_map([], |row| row.get("id"))?.collect::<Result<_, _>>()?)
        })
    }

    /// The visits of a vehicle, newest first.
    pub fn list_visits(&self, vehicle: VehicleId) -> Result<Vec<VisitSummary>, StoreError> {
        self.read(|sql| visits_of(sql, vehicle))
    }

    fn enter_visit(
        &mut self,
        visit: VisitId,
        fields: &[(&str, &str)],
        now: DateTime<Utc>,
    ) -> Result<(), StoreError> {
        self.write(|writing| {
            let uid = uid_of(writing.sql, Entity::Visit, visit.0)?;
            for (field, value) in fields {
                writing.enter(Entity::Visit, &uid, field, value, now)?;
            }
            search::index_visit(writing.sql, visit)
        })
    }
}

pub(super) fn visits_of(
    sql: &Connection,
    vehicle: VehicleId,
) -> Result<Vec<VisitSummary>, StoreError> {
    let mut repairs = repairs_of_vehicle(sql, vehicle)?;
    let mut codes = codes_of(sql, vehicle)?;
    let mut shut = newest(sql, vehicle, MeasureName::VacuumWithPurgeShut)?;
    let mut recovery = newest(sql, vehicle, MeasureName::RecoveryTime)?;
    let mut trim = newest(sql, vehicle, MeasureName::TrimExcursion)?;
    let mut proofs = proofs_of(sql, vehicle)?;
    let mut statement = sql.prepare_cached(
        "SELECT v.id, v.started_unix_us, v.complaint_kinds, v.complaint_words, v.odometer_km,
           max(v.is_virtual, vehicles.is_virtual) AS is_virtual, v.state,
           row_number() OVER (ORDER BY v.started_unix_us, v.uid) AS number,
           verdict.outcome, verdict.fault, verdict.probability
         FROM visits AS v JOIN vehicles ON vehicles.id = v.vehicle_id
         LEFT JOIN verdicts AS verdict ON verdict.id = (
           SELECT id FROM verdicts WHERE visit_id = v.id
           ORDER BY judged_unix_us DESC, id DESC LIMIT 1)
         WHERE v.vehicle_id = ?1 AND v.state <> 'removed'
         ORDER BY number DESC",
    )?;
    let mut rows = statement.query([vehicle])?;
    let mut visits = Vec::new();
    while let Some(row) = rows.next()? {
        let id: VisitId = row.get("id")?;
        let (shut_vacuum, band) = shut.remove(&id).unzip();
        visits.push(VisitSummary {
            id,
            number: row.get("number")?,
            started: wall_clock(row.get("started_unix_us")?)?,
            complaint_kinds: names(&row.get::<_, String>("complaint_kinds")?),
            complaint_words: row.get("complaint_words")?,
            is_virtual: row.get("is_virtual")?,
            is_closed: row.get::<_, String>("state")? == "closed",
            odometer_km: row.get::<_, String>("odometer_km")?.parse().ok(),
            codes: codes.remove(&id).unwrap_or_default(),
            verdict: last_verdict(row)?,
            repairs: repairs.remove(&id).unwrap_or_default(),
            shut_vacuum,
            proof: proofs.remove(&id),
            band: band.flatten(),
            recovery_time: recovery.remove(&id).map(|(estimate, _)| estimate),
            trim_excursion: trim.remove(&id).map(|(estimate, _)| estimate),
        });
    }
    Ok(visits)
}

/// The newest estimate of a measure in each visit of a vehicle, with its detection limit.
fn newest(
    sql: &Connection,
    vehicle: VehicleId,
    measure: MeasureName,
) -> Result<BTreeMap<VisitId, (Estimate, Option<f64>)>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT r.visit_id, m.value, m.low, m.high, band.value AS band
         FROM visits JOIN check_results AS r ON r.visit_id = visits.id
         JOIN measures AS m ON m.check_result_id = r.id AND m.measure = ?2
         LEFT JOIN measures AS band
           ON band.check_result_id = r.id AND band.measure = 'detection_limit'
         WHERE visits.vehicle_id = ?1 ORDER BY r.judged_unix_us, r.id",
    )?;
    let rows = statement.query_map(params![vehicle, measure.name()], |row| {
        let estimate =
            Estimate { value: row.get("value")?, low: row.get("low")?, high: row.get("high")? };
        Ok((row.get("visit_id")?, (estimate, row.get("band")?)))
    })?;
    // Later rows take the place of earlier ones.
    Ok(rows.collect::<Result<_, _>>()?)
}

/// How the newest proof of a repair ended in each visit that has one.
fn proofs_of(
    sql: &Connection,
    vehicle: VehicleId,
) -> Result<BTreeMap<VisitId, Outcome>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT r.visit_id, r.outcome FROM visits
         JOIN check_results AS r ON r.visit_id = visits.id AND r.check_name = ?2
         WHERE visits.vehicle_id = ?1 ORDER BY r.judged_unix_us, r.id",
    )?;
    let mut proofs = BTreeMap::new();
    let mut rows = statement.query(params![vehicle, Check::RepairProof.name()])?;
    while let Some(row) = rows.next()? {
        let name: String = row.get("outcome")?;
        // Later rows take the place of earlier ones.
        let all = [Outcome::Pass, Outcome::Fail, Outcome::Inconclusive];
        if let Some(outcome) = all.into_iter().find(|it| it.name() == name) {
            proofs.insert(row.get("visit_id")?, outcome);
        }
    }
    Ok(proofs)
}

fn codes_of(
    sql: &Connection,
    vehicle: VehicleId,
) -> Result<BTreeMap<VisitId, Vec<String>>, StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT DISTINCT visits.id, code FROM visits
         JOIN recordings ON recordings.visit_id = visits.id
         JOIN trouble_codes ON trouble_codes.recording_id = recordings.id
         WHERE visits.vehicle_id = ?1 ORDER BY visits.id, code",
    )?;
    let mut codes: BTreeMap<VisitId, Vec<String>> = BTreeMap::new();
    let mut rows = statement.query([vehicle])?;
    while let Some(row) = rows.next()? {
        codes.entry(row.get("id")?).or_default().push(row.get("code")?);
    }
    Ok(codes)
}

/// A stored list of names.
pub(super) fn names(list: &str) -> Vec<String> {
    list.split(',').filter(|name| !name.is_empty()).map(str::to_owned).collect()
}

/// The observation's stable name, which is its serialised form.
pub(super) fn observation_name(observation: Observation) -> String {
    match serde_json::to_value(observation) {
        Ok(serde_json::Value::String(name)) => name,
        // A field-less variant always serialises to a string.
        _ => String::new(),
    }
}
