-- Schema 5: what the list of vehicles says of visits, kept beside them, so that the list reads no row
-- of a visit, a verdict or a measure.

-- One row a vehicle that ever had a visit or a follow-up (`id` is the vehicle's). Everything in it
-- follows from other tables; it never travels and is made anew where it is lost. Numbers of which
-- `has_…` is 0, the time of the last of no visits, and what belongs to the outcome '' mean nothing.
CREATE TABLE vehicle_summaries (
  id INTEGER PRIMARY KEY REFERENCES vehicles (id) ON DELETE CASCADE,
  visit_count INTEGER NOT NULL,
  last_visit_unix_us INTEGER NOT NULL,
  odometer_km TEXT NOT NULL,
  outcome TEXT NOT NULL,
  fault TEXT NOT NULL,
  probability REAL NOT NULL,
  has_vacuum INTEGER NOT NULL CHECK (has_vacuum IN (0, 1)),
  vacuum_pa REAL NOT NULL,
  vacuum_low_pa REAL NOT NULL,
  vacuum_high_pa REAL NOT NULL,
  has_band INTEGER NOT NULL CHECK (has_band IN (0, 1)),
  band_pa REAL NOT NULL,
  has_follow_up INTEGER NOT NULL CHECK (has_follow_up IN (0, 1)),
  follow_up_unix_us INTEGER NOT NULL
) STRICT;

-- Vehicles whose summary is to be made anew before the transaction ends (`id` is the vehicle's).
-- Triggers fill it, so that no way to change a visit can forget to.
CREATE TABLE changed_vehicles (
  id INTEGER PRIMARY KEY
) STRICT;
INSERT INTO changed_vehicles (id) SELECT id FROM vehicles;

CREATE TRIGGER visit_added AFTER INSERT ON visits BEGIN
  INSERT INTO changed_vehicles (id) VALUES (NEW.vehicle_id) ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER visit_changed
AFTER UPDATE OF vehicle_id, started_unix_us, state, odometer_km ON visits BEGIN
  INSERT INTO changed_vehicles (id) VALUES (OLD.vehicle_id), (NEW.vehicle_id) ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER visit_deleted AFTER DELETE ON visits BEGIN
  INSERT INTO changed_vehicles (id) VALUES (OLD.vehicle_id) ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER follow_up_added AFTER INSERT ON follow_ups BEGIN
  INSERT INTO changed_vehicles (id) VALUES (NEW.vehicle_id) ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER follow_up_changed
AFTER UPDATE OF vehicle_id, due_unix_us, state ON follow_ups BEGIN
  INSERT INTO changed_vehicles (id) VALUES (OLD.vehicle_id), (NEW.vehicle_id) ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER follow_up_deleted AFTER DELETE ON follow_ups BEGIN
  INSERT INTO changed_vehicles (id) VALUES (OLD.vehicle_id) ON CONFLICT DO NOTHING;
END;

-- Judgements are only ever added.
CREATE TRIGGER verdict_added AFTER INSERT ON verdicts BEGIN
  INSERT INTO changed_vehicles (id) SELECT vehicle_id FROM visits WHERE id = NEW.visit_id
  ON CONFLICT DO NOTHING;
END;
CREATE TRIGGER measure_added AFTER INSERT ON measures
WHEN NEW.measure IN ('vacuum_with_purge_shut', 'detection_limit') BEGIN
  INSERT INTO changed_vehicles (id)
  SELECT vehicle_id FROM check_results JOIN visits ON visits.id = check_results.visit_id
  WHERE check_results.id = NEW.check_result_id
  ON CONFLICT DO NOTHING;
END;
