use std::collections::BTreeMap;

use rusqlite::{Connection, params};
use rust_decimal::prelude::ToPrimitive;

use super::database::{Store, Writing};
use super::edits::uid_of;
use super::fields::Entity;
use super::repairs::amount;
use super::series_blob::{self, decode_series, decode_tail, decode_times, encode_tail};
use super::{StoreError, VisitId, search};
use crate::recording::{ActionAt, Recording, Series};
use crate::units::Instant;
use crate::vehicle::Signal;

/// Samples after which the uncompressed ones are moved into a chunk. A visit at 40 readings a
/// second fills one in under seven minutes.
const SAMPLES_PER_CHUNK: usize = 16_384;

/// A recording that this run of the program appends to.
#[derive(Clone, Copy, Debug)]
pub(super) struct Appending {
    id: i64,
    /// Samples not yet in a chunk.
    waiting: usize,
}

impl Appending {
    /// Everything that waited is in a chunk now.
    pub(super) fn sealed(&mut self) {
        self.waiting = 0;
    }
}

impl Store {
    /// Appends samples to a visit's recording and returns how many were kept.
    ///
    /// They are on the disk when this returns. Values that are not finite are left out, as a
    /// recording leaves them out.
    pub fn append_samples(
        &mut self,
        visit: VisitId,
        samples: &[(Signal, Instant, f64)],
    ) -> Result<usize, StoreError> {
        let finite: Vec<_> =
            samples.iter().copied().filter(|(_, _, value)| value.is_finite()).collect();
        if finite.is_empty() {
            return Ok(0);
        }
        let known = self.recordings.get(&visit).copied();
        let appending = self.write(|writing| {
            let mut appending = writing.recording(visit, known)?;
            for part in finite.chunks(SAMPLES_PER_CHUNK) {
                let (signals, bytes) = encode_tail(part);
                writing
                    .sql
                    .prepare_cached(
                        "INSERT INTO sample_tails (recording_id, signals, sample_count, samples)
                         VALUES (?1, ?2, ?3, ?4)",
                    )?
                    .execute(params![appending.id, signals, part.len() as i64, bytes])?;
                appending.waiting += part.len();
                if appending.waiting >= SAMPLES_PER_CHUNK {
                    seal(writing.sql, appending.id)?;
                    appending.waiting = 0;
                }
            }
            Ok(appending)
        })?;
        self.recordings.insert(visit, appending);
        Ok(finite.len())
    }

    /// Appends actions to a visit's recording.
    pub fn append_actions(
        &mut self,
        visit: VisitId,
        actions: &[ActionAt],
    ) -> Result<(), StoreError> {
        if actions.is_empty() {
            return Ok(());
        }
        let known = self.recordings.get(&visit).copied();
        let appending = self.write(|writing| {
            let appending = writing.recording(visit, known)?;
            for ActionAt { at, action } in actions {
                writing
                    .sql
                    .prepare_cached(
                        "INSERT INTO actions (recording_id, position, at_us, action)
                         SELECT ?1, count(*), ?2, ?3 FROM actions WHERE recording_id = ?1",
                    )?
                    .execute(params![appending.id, at.micros(), action.name()])?;
            }
            Ok(appending)
        })?;
        self.recordings.insert(visit, appending);
        Ok(())
    }

    /// Appends a trouble code, as written, to a visit's recording.
    pub fn append_code(
        &mut self,
        visit: VisitId,
        at: Instant,
        code: &str,
    ) -> Result<(), StoreError> {
        let known = self.recordings.get(&visit).copied();
        let appending = self.write(|writing| {
            let appending = writing.recording(visit, known)?;
            writing
                .sql
                .prepare_cached(
                    "INSERT INTO trouble_codes (recording_id, position, at_us, code)
                     SELECT ?1, count(*), ?2, ?3 FROM trouble_codes WHERE recording_id = ?1",
                )?
                .execute(params![appending.id, at.micros(), code])?;
            search::index_visit(writing.sql, visit)?;
            Ok(appending)
        })?;
        self.recordings.insert(visit, appending);
        Ok(())
    }

    /// A visit's whole recording. Signals that this program does not know stay in the file and out
    /// of the answer.
    pub fn load_recording(&self, visit: VisitId) -> Result<Recording, StoreError> {
        self.read(|sql| {
            uid_of(sql, Entity::Visit, visit.0)?;
            let mut by_signal: BTreeMap<Signal, Vec<(Instant, f64)>> = BTreeMap::new();
            read_samples(sql, visit, Window::ALL, None, &mut |signal, samples| {
                by_signal.entry(signal).or_default().extend_from_slice(samples);
            })?;
            let mut recording = Recording::default();
            for (signal, samples) in by_signal {
                for (at, value) in in_order(samples) {
                    recording.push(signal, at, value);
                }
            }
            read_events(sql, visit, &mut recording)?;
            recording.set_tank_litre(tank_of(sql, visit)?);
            Ok(recording)
        })
    }

    /// One signal from `from` (included) to `to` (excluded); reads only the chunks that reach into
    /// that time.
    pub fn load_series(
        &self,
        visit: VisitId,
        signal: Signal,
        from: Instant,
        to: Instant,
    ) -> Result<Series, StoreError> {
        self.read(|sql| {
            let mut samples = Vec::new();
            let window = Window { from, to };
            read_samples(sql, visit, window, Some(signal), &mut |_, part| {
                samples.extend(part.iter().copied().filter(|(at, _)| *at >= from && *at < to));
            })?;
            let mut series = Series::default();
            for (at, value) in in_order(samples) {
                series.push(at, value);
            }
            Ok(series)
        })
    }

    /// Moves what a visit has recorded into compressed chunks; later samples open a new recording.
    pub(super) fn finish_recording(&mut self, visit: VisitId) -> Result<(), StoreError> {
        self.write(|writing| seal_visit(writing.sql, visit))?;
        self.recordings.remove(&visit);
        Ok(())
    }

    /// Compresses what earlier runs of the program left uncompressed.
    pub(super) fn seal_interrupted(&mut self) -> Result<(), StoreError> {
        let left: Vec<i64> = self.read(|sql| {
            let mut statement = sql.prepare("SELECT DISTINCT recording_id FROM sample_tails")?;
            let rows = statement.query_map([], |row| row.get("recording_id"))?;
            Ok(rows.collect::<Result<_, _>>()?)
        })?;
        for recording in left {
            self.write(|writing| seal(writing.sql, recording))?;
        }
        Ok(())
    }
}

impl Writing<'_> {
    /// The recording to append to: the one this run of the program began, or a new one.
    fn recording(
        &mut self,
        visit: VisitId,
        known: Option<Appending>,
    ) -> Result<Appending, StoreError> {
        if let Some(appending) = known {
            return Ok(appending);
        }
        uid_of(self.sql, Entity::Visit, visit.0)?;
        let uid = self.new_uid()?;
        self.sql.execute(
            "INSERT INTO recordings (uid, visit_id) VALUES (?1, ?2)",
            params![uid, visit],
        )?;
        Ok(Appending { id: self.sql.last_insert_rowid(), waiting: 0 })
    }
}

/// Compresses what is waiting in all recordings of a visit.
pub(super) fn seal_visit(sql: &Connection, visit: VisitId) -> Result<(), StoreError> {
    let mut statement = sql.prepare("SELECT id FROM recordings WHERE visit_id = ?1")?;
    let ids: Vec<i64> =
        statement.query_map([visit], |row| row.get("id"))?.collect::<Result<_, _>>()?;
    ids.into_iter().try_for_each(|recording| seal(sql, recording))
}

/// Moves a recording's waiting samples into one chunk.
fn seal(sql: &Connection, recording: i64) -> Result<(), StoreError> {
    let mut samples = Vec::new();
    let mut statement = sql.prepare_cached(
        "SELECT signals, samples FROM sample_tails WHERE recording_id = ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([recording])?;
    while let Some(row) = rows.next()? {
        let signals: String = row.get("signals")?;
        samples.extend(decode_tail(&signals, &row.get::<_, Vec<u8>>("samples")?)?);
    }
    for part in samples.chunks(series_blob::LARGEST_CHUNK) {
        write_chunk(sql, recording, part)?;
    }
    sql.execute("DELETE FROM sample_tails WHERE recording_id = ?1", [recording])?;
    Ok(())
}

fn write_chunk(
    sql: &Connection,
    recording: i64,
    samples: &[(Signal, Instant, f64)],
) -> Result<(), StoreError> {
    let Some(chunk) = series_blob::encode(samples)? else {
        return Ok(());
    };
    sql.prepare_cached(
        "INSERT INTO sample_chunks
           (recording_id, position, sample_count, first_us, last_us, time_count, times)
         SELECT ?1, count(*), ?2, ?3, ?4, ?5, ?6 FROM sample_chunks WHERE recording_id = ?1",
    )?
    .execute(params![
        recording,
        chunk.sample_count as i64,
        chunk.first.micros(),
        chunk.last.micros(),
        chunk.time_count as i64,
        chunk.times
    ])?;
    let id = sql.last_insert_rowid();
    for series in chunk.series {
        sql.prepare_cached(
            "INSERT INTO chunk_series (chunk_id, signal, sample_count, places, sample_values)
             VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .execute(params![
            id,
            series.signal.name(),
            series.sample_count as i64,
            series.places,
            series.values
        ])?;
    }
    Ok(())
}

#[derive(Clone, Copy)]
struct Window {
    from: Instant,
    to: Instant,
}

impl Window {
    const ALL: Self =
        Self { from: Instant::from_micros(i64::MIN), to: Instant::from_micros(i64::MAX) };
}

/// Takes samples of one signal.
pub(super) type Taker<'a> = dyn FnMut(Signal, &[(Instant, f64)]) + 'a;

/// Hands out all samples of a visit, chunk by chunk in the order they were recorded.
pub(super) fn each_sample(
    sql: &Connection,
    visit: VisitId,
    take: &mut Taker<'_>,
) -> Result<(), StoreError> {
    read_samples(sql, visit, Window::ALL, None, take)
}

/// Hands out the samples of a visit, chunk by chunk in the order they were recorded.
fn read_samples(
    sql: &Connection,
    visit: VisitId,
    window: Window,
    wanted: Option<Signal>,
    take: &mut Taker<'_>,
) -> Result<(), StoreError> {
    let mut chunks = sql.prepare_cached(
        "SELECT sample_chunks.id AS id, time_count, times FROM sample_chunks
         JOIN recordings ON recordings.id = recording_id
         WHERE visit_id = ?1 AND last_us >= ?2 AND first_us <= ?3
         ORDER BY recordings.uid, position",
    )?;
    let mut series = sql.prepare_cached(
        "SELECT signal, sample_count, places, sample_values FROM chunk_series
         WHERE chunk_id = ?1 AND (?2 = '' OR signal = ?2) ORDER BY signal",
    )?;
    let name = wanted.map_or("", Signal::name);
    let mut rows = chunks.query(params![visit, window.from.micros(), window.to.micros()])?;
    while let Some(row) = rows.next()? {
        let id: i64 = row.get("id")?;
        let times = decode_times(&row.get::<_, Vec<u8>>("times")?, count(row, "time_count")?)?;
        let mut parts = series.query(params![id, name])?;
        while let Some(part) = parts.next()? {
            let signal: String = part.get("signal")?;
            let Some(signal) = Signal::from_name(&signal) else {
                continue;
            };
            let samples = decode_series(
                &times,
                count(part, "sample_count")?,
                &part.get::<_, Vec<u8>>("places")?,
                &part.get::<_, Vec<u8>>("sample_values")?,
            )?;
            take(signal, &samples);
        }
    }
    let mut tails = sql.prepare_cached(
        "SELECT signals, samples FROM sample_tails JOIN recordings ON recordings.id = recording_id
         WHERE visit_id = ?1 ORDER BY sample_tails.id",
    )?;
    let mut rows = tails.query([visit])?;
    while let Some(row) = rows.next()? {
        let signals: String = row.get("signals")?;
        let mut by_signal: BTreeMap<Signal, Vec<(Instant, f64)>> = BTreeMap::new();
        for (signal, at, value) in decode_tail(&signals, &row.get::<_, Vec<u8>>("samples")?)? {
            by_signal.entry(signal).or_default().push((at, value));
        }
        for (signal, samples) in by_signal {
            if wanted.is_none_or(|wanted| wanted == signal) {
                take(signal, &samples);
            }
        }
    }
    Ok(())
}

/// What the tank of a visit's vehicle holds, L, if somebody entered it.
fn tank_of(sql: &Connection, visit: VisitId) -> Result<Option<f64>, StoreError> {
    let question = "SELECT tank_litre FROM vehicles AS v JOIN visits ON vehicle_id = v.id WHERE visits.id = ?1";
    let mut found = sql.prepare_cached(question)?;
    let litre = found.query_row([visit], |row| Ok(amount(row, "tank_litre")))??;
    Ok(litre.and_then(|litre| litre.to_f64()))
}

pub(super) fn read_events(
    sql: &Connection,
    visit: VisitId,
    recording: &mut Recording,
) -> Result<(), StoreError> {
    let mut statement = sql.prepare_cached(
        "SELECT at_us, action FROM actions JOIN recordings ON recordings.id = recording_id
         WHERE visit_id = ?1 ORDER BY at_us, recordings.uid, position",
    )?;
    let mut rows = statement.query([visit])?;
    while let Some(row) = rows.next()? {
        let name: String = row.get("action")?;
        if let Some(action) = crate::recording::Action::from_name(&name) {
            recording.push_action(Instant::from_micros(row.get("at_us")?), action);
        }
    }
    let mut statement = sql.prepare_cached(
        "SELECT at_us, code FROM trouble_codes JOIN recordings ON recordings.id = recording_id
         WHERE visit_id = ?1 ORDER BY at_us, recordings.uid, position",
    )?;
    let mut rows = statement.query([visit])?;
    while let Some(row) = rows.next()? {
        let code: String = row.get("code")?;
        recording.push_code(Instant::from_micros(row.get("at_us")?), &code);
    }
    Ok(())
}

/// Samples in order of time; those of one time keep the order they arrived in.
fn in_order(mut samples: Vec<(Instant, f64)>) -> Vec<(Instant, f64)> {
    samples.sort_by_key(|(at, _)| *at);
    samples
}

fn count(row: &rusqlite::Row<'_>, column: &'static str) -> Result<usize, StoreError> {
    let count: i64 = row.get(column)?;
    usize::try_from(count).map_err(|_| StoreError::unreadable(column, &count.to_string()))
}
