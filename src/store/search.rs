use rusqlite::{Connection, params};

use super::{StoreError, VehicleId, VisitId};

/// Shortest word that the index finds; shorter ones are looked for in the text itself.
const SHORTEST_INDEXED: usize = 3;

/// Vehicles that hold every word, anywhere within their own; `None` if there is no word.
pub(super) fn matching(sql: &Connection, search: &str) -> Result<Option<Vec<i64>>, StoreError> {
    let (indexed, short): (Vec<&str>, Vec<&str>) =
        search.split_whitespace().partition(|word| word.chars().count() >= SHORTEST_INDEXED);
    if indexed.is_empty() && short.is_empty() {
        return Ok(None);
    }
    let quoted: Vec<String> =
        indexed.iter().map(|word| format!("\"{}\"", word.replace('"', "\"\""))).collect();
    let mut question = String::from("SELECT rowid FROM vehicle_search WHERE true");
    let mut parameters: Vec<String> = Vec::new();
    if !quoted.is_empty() {
        question.push_str(" AND vehicle_search MATCH ?");
        parameters.push(quoted.join(" AND "));
    }
    for word in short {
        question.push_str(
            " AND instr(lower(names || ' ' || codes || ' ' || parts || ' ' || notes), lower(?))",
        );
        parameters.push(word.to_owned());
    }
    let mut statement = sql.prepare(&question)?;
    let rows =
        statement.query_map(rusqlite::params_from_iter(parameters), |row| row.get("rowid"))?;
    Ok(Some(rows.collect::<Result<_, _>>()?))
}

/// Writes what can be found of a vehicle anew.
pub(super) fn index_vehicle(sql: &Connection, vehicle: VehicleId) -> Result<(), StoreError> {
    sql.prepare_cached("DELETE FROM vehicle_search WHERE rowid = ?1")?.execute([vehicle])?;
    sql.prepare_cached(
        "INSERT INTO vehicle_search (rowid, names, codes, parts, notes)
         SELECT v.id,
           v.name || ' ' || v.vin || ' ' || v.plate || ' ' || coalesce(
             (SELECT name || ' ' || phone || ' ' || email FROM customers
              WHERE uid = v.customer_uid AND state = 'kept'), ''),
           coalesce((SELECT group_concat(DISTINCT code) FROM trouble_codes
             JOIN recordings ON recordings.id = recording_id
             JOIN visits ON visits.id = visit_id WHERE vehicle_id = v.id), ''),
           coalesce((SELECT group_concat(part || ' ' || coalesce(
               (SELECT group_concat(seller, ' ') FROM quotes WHERE repair_id = repairs.id), ''), ' ')
             FROM repairs JOIN visits ON visits.id = visit_id
             WHERE vehicle_id = v.id AND repairs.state = 'kept'), ''),
           v.notes || ' ' || coalesce((SELECT group_concat(
               complaint_words || ' ' || visits.notes, ' ')
             FROM visits WHERE vehicle_id = v.id AND visits.state <> 'removed'), '')
           || ' ' || coalesce((SELECT group_concat(repairs.notes, ' ') FROM repairs
             JOIN visits ON visits.id = visit_id
             WHERE vehicle_id = v.id AND repairs.state = 'kept'), '')
           || ' ' || coalesce((SELECT group_concat(note, ' ') FROM fill_ups
             WHERE vehicle_id = v.id AND fill_ups.state = 'kept'), '')
         FROM vehicles AS v WHERE v.id = ?1 AND v.state = 'kept'",
    )?
    .execute([vehicle])?;
    Ok(())
}

/// Writes what can be found of a visit's vehicle anew.
pub(super) fn index_visit(sql: &Connection, visit: VisitId) -> Result<(), StoreError> {
    let vehicle = sql.query_row("SELECT vehicle_id FROM visits WHERE id = ?1", [visit], |row| {
        row.get("vehicle_id")
    })?;
    index_vehicle(sql, vehicle)
}

/// Writes what can be found of a customer's vehicles anew.
pub(super) fn index_customer(sql: &Connection, uid: &str) -> Result<(), StoreError> {
    let mut statement = sql.prepare_cached("SELECT id FROM vehicles WHERE customer_uid = ?1")?;
    let vehicles: Vec<VehicleId> =
        statement.query_map(params![uid], |row| row.get("id"))?.collect::<Result<_, _>>()?;
    vehicles.into_iter().try_for_each(|vehicle| index_vehicle(sql, vehicle))
}
