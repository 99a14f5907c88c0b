-- Schema 1: vehicles, visits, recordings, judgements, repairs.
--
-- Rules that hold for every table:
--   * `id` is this file's own number for a row. `uid` (32 hexadecimal digits) is the row's name on
--     every device, and what references between files are made of.
--   * Wall-clock times are whole microseconds since 1970-01-01 UTC (`_unix_us`); times within a
--     visit are whole microseconds on the visit's own clock (`_us`).
--   * Amounts of money are exact decimals as text.
--   * A column that a person can change is a projection of the newest entry in `edits`.
--   * Numbers that a person may leave out (amounts, litres, kilometres) are text, exact, and ''
--     where left out.

CREATE TABLE store_state (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  value TEXT NOT NULL
) STRICT;

CREATE TABLE settings (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  name TEXT NOT NULL UNIQUE,
  value TEXT NOT NULL
) STRICT;

CREATE TABLE adapters (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  address TEXT NOT NULL UNIQUE,
  name TEXT NOT NULL,
  capability_json TEXT NOT NULL,
  used_unix_us INTEGER NOT NULL
) STRICT;

-- What a person entered or changed, one field at a time. Never changed, never removed.
CREATE TABLE edits (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  entity TEXT NOT NULL,
  row_uid TEXT NOT NULL,
  field TEXT NOT NULL,
  value TEXT NOT NULL,
  edited_unix_us INTEGER NOT NULL
) STRICT;
CREATE INDEX edits_of_row ON edits (row_uid, field);

-- Which entries an entry was made in sight of. Entries that nothing replaces compete.
CREATE TABLE edit_replacements (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  edit_uid TEXT NOT NULL,
  replaced_uid TEXT NOT NULL,
  UNIQUE (edit_uid, replaced_uid)
) STRICT;
CREATE INDEX edit_replacements_of ON edit_replacements (replaced_uid);

CREATE TABLE customers (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  added_unix_us INTEGER NOT NULL,
  name TEXT NOT NULL DEFAULT '',
  phone TEXT NOT NULL DEFAULT '',
  email TEXT NOT NULL DEFAULT '',
  notes TEXT NOT NULL DEFAULT '',
  state TEXT NOT NULL DEFAULT 'kept' CHECK (state IN ('kept', 'removed'))
) STRICT;

CREATE TABLE vehicles (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  added_unix_us INTEGER NOT NULL,
  is_virtual INTEGER NOT NULL CHECK (is_virtual IN (0, 1)),
  name TEXT NOT NULL DEFAULT '',
  vin TEXT NOT NULL DEFAULT '',
  plate TEXT NOT NULL DEFAULT '',
  notes TEXT NOT NULL DEFAULT '',
  customer_uid TEXT NOT NULL DEFAULT '',
  state TEXT NOT NULL DEFAULT 'kept' CHECK (state IN ('kept', 'removed'))
) STRICT;
CREATE INDEX vehicles_by_vin ON vehicles (vin);
CREATE INDEX vehicles_by_customer ON vehicles (customer_uid);

-- Vehicles that two devices entered apart and that turned out to have one VIN.
CREATE TABLE vehicle_aliases (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  alias_uid TEXT NOT NULL UNIQUE,
  vehicle_uid TEXT NOT NULL
) STRICT;

CREATE TABLE visits (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  vehicle_id INTEGER NOT NULL REFERENCES vehicles (id),
  started_unix_us INTEGER NOT NULL,
  complaint_kinds TEXT NOT NULL DEFAULT '',
  complaint_words TEXT NOT NULL DEFAULT '',
  connected_to TEXT NOT NULL DEFAULT '',
  skipped_checks TEXT NOT NULL DEFAULT '',
  notes TEXT NOT NULL DEFAULT '',
  odometer_km TEXT NOT NULL DEFAULT '',
  is_virtual INTEGER NOT NULL DEFAULT 0 CHECK (is_virtual IN (0, 1)),
  state TEXT NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'closed', 'removed'))
) STRICT;
CREATE INDEX visits_of_vehicle ON visits (vehicle_id, started_unix_us);

CREATE TABLE observations (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  observation TEXT NOT NULL,
  holds INTEGER NOT NULL CHECK (holds IN (0, 1)),
  UNIQUE (visit_id, observation)
) STRICT;

-- One stretch of a visit written by one run of the program. It only ever grows at its end, so of
-- two copies the longer one holds the other.
CREATE TABLE recordings (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id)
) STRICT;
CREATE INDEX recordings_of_visit ON recordings (visit_id);

-- Samples as they arrive, uncompressed; moved to `sample_chunks` when there are enough.
-- `samples` is a run of 17-byte records: place of the signal in `signals` (comma-separated, from
-- 0, one byte), time_us (8 bytes, little endian), value (8 bytes, IEEE 754, little endian).
CREATE TABLE sample_tails (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  recording_id INTEGER NOT NULL REFERENCES recordings (id),
  signals TEXT NOT NULL,
  sample_count INTEGER NOT NULL,
  samples BLOB NOT NULL
) STRICT;
CREATE INDEX sample_tails_of_recording ON sample_tails (recording_id);

-- `times` holds the distinct times of all the chunk's samples in order; pco stream of 64-bit
-- integers, `time_count` of them.
CREATE TABLE sample_chunks (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  recording_id INTEGER NOT NULL REFERENCES recordings (id),
  position INTEGER NOT NULL,
  sample_count INTEGER NOT NULL,
  first_us INTEGER NOT NULL,
  last_us INTEGER NOT NULL,
  time_count INTEGER NOT NULL,
  times BLOB NOT NULL,
  UNIQUE (recording_id, position)
) STRICT;

-- One signal of a chunk: for each sample the place of its time in the chunk's times (pco stream of
-- 32-bit integers) and its value (pco stream of 64-bit floats).
CREATE TABLE chunk_series (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  chunk_id INTEGER NOT NULL REFERENCES sample_chunks (id) ON DELETE CASCADE,
  signal TEXT NOT NULL,
  sample_count INTEGER NOT NULL,
  places BLOB NOT NULL,
  sample_values BLOB NOT NULL,
  UNIQUE (chunk_id, signal)
) STRICT;

CREATE TABLE actions (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  recording_id INTEGER NOT NULL REFERENCES recordings (id),
  position INTEGER NOT NULL,
  at_us INTEGER NOT NULL,
  action TEXT NOT NULL,
  UNIQUE (recording_id, position)
) STRICT;

CREATE TABLE trouble_codes (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  recording_id INTEGER NOT NULL REFERENCES recordings (id),
  position INTEGER NOT NULL,
  at_us INTEGER NOT NULL,
  code TEXT NOT NULL,
  UNIQUE (recording_id, position)
) STRICT;
CREATE INDEX trouble_codes_by_code ON trouble_codes (code);

CREATE TABLE code_clearings (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  cleared_unix_us INTEGER NOT NULL
) STRICT;
CREATE INDEX code_clearings_of_visit ON code_clearings (visit_id);

CREATE TABLE car_reports (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  read_unix_us INTEGER NOT NULL,
  report_json TEXT NOT NULL
) STRICT;
CREATE INDEX car_reports_of_visit ON car_reports (visit_id);

-- Results of the car's own tests (service 06); numbers in `unit`.
CREATE TABLE monitor_results (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  read_unix_us INTEGER NOT NULL,
  monitor INTEGER NOT NULL,
  test INTEGER NOT NULL,
  value REAL NOT NULL,
  low REAL NOT NULL,
  high REAL NOT NULL,
  unit TEXT NOT NULL
) STRICT;
CREATE INDEX monitor_results_of_visit ON monitor_results (visit_id);

-- Every judgement stays, with the version of the program that made it.
CREATE TABLE check_results (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  judged_unix_us INTEGER NOT NULL,
  program_version TEXT NOT NULL,
  check_name TEXT NOT NULL,
  outcome TEXT NOT NULL,
  result_json TEXT NOT NULL
) STRICT;
CREATE INDEX check_results_of_visit ON check_results (visit_id, check_name, judged_unix_us);

-- Numbers of the check results, for questions over many visits; in the measure's own unit.
CREATE TABLE measures (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  check_result_id INTEGER NOT NULL REFERENCES check_results (id),
  measure TEXT NOT NULL,
  unit TEXT NOT NULL,
  value REAL NOT NULL,
  low REAL NOT NULL,
  high REAL NOT NULL,
  UNIQUE (check_result_id, measure)
) STRICT;

CREATE TABLE verdicts (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  judged_unix_us INTEGER NOT NULL,
  program_version TEXT NOT NULL,
  outcome TEXT NOT NULL,
  fault TEXT NOT NULL,
  probability REAL NOT NULL,
  verdict_json TEXT NOT NULL
) STRICT;
CREATE INDEX verdicts_of_visit ON verdicts (visit_id, judged_unix_us);

CREATE TABLE repairs (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  entered_unix_us INTEGER NOT NULL,
  part TEXT NOT NULL DEFAULT '',
  currency_iso4217 TEXT NOT NULL DEFAULT '',
  labour_amount TEXT NOT NULL DEFAULT '',
  diagnosis_amount TEXT NOT NULL DEFAULT '',
  shop_diagnosis_amount TEXT NOT NULL DEFAULT '',
  notes TEXT NOT NULL DEFAULT '',
  quotes_json TEXT NOT NULL DEFAULT '[]',
  state TEXT NOT NULL DEFAULT 'kept' CHECK (state IN ('kept', 'removed'))
) STRICT;
CREATE INDEX repairs_of_visit ON repairs (visit_id);

-- A projection of `repairs.quotes_json`, one row a seller.
CREATE TABLE quotes (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  repair_id INTEGER NOT NULL REFERENCES repairs (id),
  position INTEGER NOT NULL,
  seller TEXT NOT NULL,
  note TEXT NOT NULL,
  amount TEXT NOT NULL,
  chosen INTEGER NOT NULL CHECK (chosen IN (0, 1)),
  UNIQUE (repair_id, position)
) STRICT;

CREATE TABLE fill_ups (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  vehicle_id INTEGER NOT NULL REFERENCES vehicles (id),
  filled_unix_us INTEGER NOT NULL,
  litre TEXT NOT NULL DEFAULT '',
  odometer_km TEXT NOT NULL DEFAULT '',
  note TEXT NOT NULL DEFAULT '',
  state TEXT NOT NULL DEFAULT 'kept' CHECK (state IN ('kept', 'removed'))
) STRICT;
CREATE INDEX fill_ups_of_vehicle ON fill_ups (vehicle_id, filled_unix_us);

CREATE TABLE follow_ups (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  vehicle_id INTEGER NOT NULL REFERENCES vehicles (id),
  visit_uid TEXT NOT NULL,
  planned_unix_us INTEGER NOT NULL,
  due_unix_us INTEGER NOT NULL DEFAULT 0,
  note TEXT NOT NULL DEFAULT '',
  state TEXT NOT NULL DEFAULT 'open' CHECK (state IN ('open', 'done', 'removed'))
) STRICT;
CREATE INDEX follow_ups_of_vehicle ON follow_ups (vehicle_id, state, due_unix_us);

-- The picture itself is a file beside the database, named by its digest.
CREATE TABLE photos (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  visit_id INTEGER NOT NULL REFERENCES visits (id),
  added_unix_us INTEGER NOT NULL,
  sha256 TEXT NOT NULL,
  extension TEXT NOT NULL,
  size_byte INTEGER NOT NULL,
  caption TEXT NOT NULL DEFAULT '',
  state TEXT NOT NULL DEFAULT 'kept' CHECK (state IN ('kept', 'removed'))
) STRICT;
CREATE INDEX photos_of_visit ON photos (visit_id);

CREATE TABLE column_maps (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  name TEXT NOT NULL UNIQUE,
  content TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE custom_signals (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  name TEXT NOT NULL UNIQUE,
  content TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE code_notes (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  uid TEXT NOT NULL UNIQUE,
  name TEXT NOT NULL UNIQUE,
  content TEXT NOT NULL DEFAULT ''
) STRICT;

-- One row a vehicle (`rowid` is the vehicle's id); any three letters in a row are found.
CREATE VIRTUAL TABLE vehicle_search USING fts5 (
  names, codes, parts, notes, tokenize = 'trigram remove_diacritics 1'
);
