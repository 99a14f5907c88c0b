-- Schema 2: the bands that guided checks were held against, and a list that opens faster.

-- The band that a guided check computed from the car's own noise, so that a report of an old visit
-- draws it again. One row each time a check ended; the newest of a check counts. `rails_json` is an
-- array of {"from_us", "until_us", "low_pa", "high_pa"}: whole microseconds on the visit's clock,
-- `until_us` null where the band was still open; gauge pressure.
CREATE TABLE check_rails (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  ended_unix_us INTEGER NOT NULL,
  check_name TEXT NOT NULL,
  rails_json TEXT NOT NULL
) STRICT;
CREATE INDEX check_rails_of_visit ON check_rails (visit_id, check_name, ended_unix_us);

-- Everything that the list of vehicles asks of visits, so that it reads no row of them.
DROP INDEX visits_of_vehicle;
CREATE INDEX visits_of_vehicle ON visits (vehicle_id, started_unix_us, state, odometer_km);
