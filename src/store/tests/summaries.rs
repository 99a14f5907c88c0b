use rusqlite::Connection;

use super::super::{Store, StoreError, VehicleSummary};
use super::merging::{bundle_of, busy_visit};
use super::{Bench, minute, purge_valve_verdict, throttle_follow};
use crate::evidence::CheckResult;

/// What a vehicle's visits say, put together from the visits themselves.
fn told(store: &Store, summary: &VehicleSummary) -> VehicleSummary {
    let visits = store.list_visits(summary.id).unwrap();
    let vacuum = visits.iter().find(|visit| visit.shut_vacuum.is_some());
    let open = store.open_follow_ups().unwrap();
    VehicleSummary {
        visits: u32::try_from(visits.len()).unwrap(),
        last_visit: visits.first().map(|visit| visit.started),
        last_verdict: visits.iter().find_map(|visit| visit.verdict),
        last_shut_vacuum: vacuum.and_then(|visit| visit.shut_vacuum),
        band: vacuum.and_then(|visit| visit.band),
        odometer_km: visits.iter().find_map(|visit| visit.odometer_km),
        follow_up: open.iter().filter(|it| it.vehicle == summary.id).map(|it| it.due).min(),
        ..summary.clone()
    }
}

/// Every summary says what the visits say, and none waits to be made.
pub(super) fn check_summaries(store: &Store) {
    for summary in store.list_vehicles("").unwrap() {
        assert_eq!(summary, told(store, &summary));
    }
    let waiting: u32 = store
        .connection
        .query_row("SELECT count(*) AS waiting FROM changed_vehicles", [], |row| row.get("waiting"))
        .unwrap();
    assert_eq!(waiting, 0);
}

/// A check that found no vacuum and no band.
fn bare_check() -> CheckResult {
    CheckResult { measures: Vec::new(), ..throttle_follow(0.0) }
}

#[test]
fn a_summary_follows_every_change_of_what_it_tells() {
    let mut bench = Bench::new(1);
    let (vehicle, first) = busy_visit(&mut bench, "9ZZAB12C0R1000001");
    let others = busy_visit(&mut bench, "");
    assert_ne!(others.0, vehicle);
    type Change<'a> = Box<dyn FnOnce(&mut Store) -> Result<(), StoreError> + 'a>;
    let second = bench.store.start_visit(vehicle, minute(5_000)).unwrap();
    check_summaries(&bench.store);
    let changes: Vec<Change<'_>> = vec![
        Box::new(|store| store.set_odometer(first, 70_001, minute(5_000))),
        Box::new(|store| store.set_odometer(second, 70_900, minute(5_001))),
        Box::new(|store| store.save_check(second, &bare_check(), minute(5_002))),
        Box::new(|store| store.save_check(second, &throttle_follow(-3.0), minute(5_003))),
        Box::new(|store| store.save_check(first, &throttle_follow(-9.0), minute(5_004))),
        Box::new(|store| store.save_verdict(first, &purge_valve_verdict(0.97), minute(5_005))),
        Box::new(|store| store.save_verdict(second, &purge_valve_verdict(0.51), minute(5_006))),
        Box::new(|store| store.plan_follow_up(second, minute(7_000), "", minute(5_007)).map(drop)),
        Box::new(|store| store.plan_follow_up(second, minute(9_500), "", minute(5_008)).map(drop)),
        Box::new(|store| {
            let due = store.open_follow_ups()?;
            due.iter().try_for_each(|it| store.finish_follow_up(it.id, minute(5_009)))
        }),
        Box::new(|store| store.close_visit(second, minute(5_010))),
        Box::new(|store| store.remove_visit(second, minute(5_011))),
        Box::new(|store| store.remove_visit(first, minute(5_012))),
        Box::new(|store| store.reopen_visit(second, minute(5_013))),
    ];
    let mut before = bench.store.vehicle(vehicle).unwrap();
    for (number, change) in changes.into_iter().enumerate() {
        change(&mut bench.store).unwrap();
        check_summaries(&bench.store);
        let now = bench.store.vehicle(vehicle).unwrap();
        // What an older visit, a bare check or the end of a visit adds does not show; the others do.
        assert_eq!(now == before, matches!(number, 2 | 4 | 10), "change {number}");
        before = now;
    }
    check_summaries(&bench.reopen().store);
}

#[test]
fn vehicles_that_become_one_have_one_summary_and_bundles_carry_none() {
    let mut here = Bench::new(1);
    let mut there = Bench::new(2);
    busy_visit(&mut here, "9ZZAB12C0R1000001");
    let (vehicle, visit) = busy_visit(&mut there, "9ZZAB12C0R1000001");
    let later = there.store.start_visit(vehicle, minute(6_000)).unwrap();
    there.store.save_check(later, &throttle_follow(-1.5), minute(6_001)).unwrap();
    there.store.remove_visit(visit, minute(6_002)).unwrap();
    let bundle = bundle_of(&mut there, "all", None);
    let sql = Connection::open(&bundle).unwrap();
    for table in ["vehicle_summaries", "changed_vehicles"] {
        let rows: u32 =
            sql.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0)).unwrap();
        assert_eq!(rows, 0, "{table}");
    }
    here.store.import(&bundle).unwrap();
    let rows = here.store.list_vehicles("").unwrap();
    assert_eq!((rows.len(), rows[0].visits), (1, 2));
    assert_eq!(rows[0].last_shut_vacuum.unwrap().value, -1.5);
    check_summaries(&here.store);
}
