//! Samples as bytes and back, without loss.
//!
//! Signals are polled in turn, and several come in one answer: their samples share times. A chunk
//! therefore keeps its distinct times once, and each signal the places of its samples in them; a
//! steady rotation makes those places an even row, which compresses to next to nothing.

use std::collections::BTreeMap;

use pco::ChunkConfig;
use pco::data_types::Number;
use pco::standalone::{simple_compress, simple_decompress_into};

use super::StoreError;
use crate::units::Instant;
use crate::vehicle::Signal;

/// Most samples a chunk holds, so that one foreign number cannot ask for all memory.
pub(super) const LARGEST_CHUNK: usize = 1 << 20;

/// The times of a chunk and the number of samples over all its series.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Chunk {
    pub(super) sample_count: usize,
    pub(super) time_count: usize,
    pub(super) first: Instant,
    pub(super) last: Instant,
    pub(super) times: Vec<u8>,
    pub(super) series: Vec<SeriesBytes>,
}

/// One signal of a chunk.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct SeriesBytes {
    pub(super) signal: Signal,
    pub(super) sample_count: usize,
    pub(super) places: Vec<u8>,
    pub(super) values: Vec<u8>,
}

/// Compresses samples; `None` if there are none. The order within each signal is kept.
pub(super) fn encode(samples: &[(Signal, Instant, f64)]) -> Result<Option<Chunk>, StoreError> {
    let mut times: Vec<i64> = samples.iter().map(|(_, at, _)| at.micros()).collect();
    times.sort_unstable();
    times.dedup();
    let (Some(first), Some(last)) = (times.first().copied(), times.last().copied()) else {
        return Ok(None);
    };
    let mut by_signal: BTreeMap<Signal, (Vec<u32>, Vec<f64>)> = BTreeMap::new();
    for (signal, at, value) in samples {
        let place = times.partition_point(|time| *time < at.micros());
        let (places, values) = by_signal.entry(*signal).or_default();
        places.push(u32::try_from(place).map_err(|_| NOT_STORABLE)?);
        values.push(*value);
    }
    let series = by_signal
        .into_iter()
        .map(|(signal, (places, values))| {
            Ok(SeriesBytes {
                signal,
                sample_count: values.len(),
                places: compress(&places)?,
                values: compress(&values)?,
            })
        })
        .collect::<Result<_, StoreError>>()?;
    Ok(Some(Chunk {
        sample_count: samples.len(),
        time_count: times.len(),
        first: Instant::from_micros(first),
        last: Instant::from_micros(last),
        times: compress(&times)?,
        series,
    }))
}

/// The distinct times of a chunk.
pub(super) fn decode_times(bytes: &[u8], count: usize) -> Result<Vec<Instant>, StoreError> {
    let times: Vec<i64> = decompress(bytes, count, "sample_chunks.times")?;
    Ok(times.into_iter().map(Instant::from_micros).collect())
}

/// The samples of one signal of a chunk, given the chunk's times.
pub(super) fn decode_series(
    times: &[Instant],
    count: usize,
    places: &[u8],
    values: &[u8],
) -> Result<Vec<(Instant, f64)>, StoreError> {
    let places: Vec<u32> = decompress(places, count, "chunk_series.places")?;
    let values: Vec<f64> = decompress(values, count, "chunk_series.sample_values")?;
    places
        .into_iter()
        .zip(values)
        .map(|(place, value)| {
            let at = times
                .get(place as usize)
                .copied()
                .ok_or_else(|| StoreError::unreadable("chunk_series.places", &place.to_string()))?;
            Ok((at, value))
        })
        .collect()
}

/// Length of one record of an uncompressed run of samples.
const RECORD: usize = 17;

/// Samples as they arrive, uncompressed: names of the signals, and a record a sample.
pub(super) fn encode_tail(samples: &[(Signal, Instant, f64)]) -> (String, Vec<u8>) {
    let mut signals: Vec<Signal> = Vec::new();
    let mut bytes = Vec::with_capacity(samples.len() * RECORD);
    for (signal, at, value) in samples {
        let place = signals.iter().position(|known| known == signal).unwrap_or_else(|| {
            signals.push(*signal);
            signals.len() - 1
        });
        // There are far fewer than 256 signals.
        bytes.push(place as u8);
        bytes.extend_from_slice(&at.micros().to_le_bytes());
        bytes.extend_from_slice(&value.to_le_bytes());
    }
    (signals.into_iter().map(Signal::name).collect::<Vec<_>>().join(","), bytes)
}

/// The samples of an uncompressed run. Signals that this program does not know are left out.
pub(super) fn decode_tail(
    signals: &str,
    bytes: &[u8],
) -> Result<Vec<(Signal, Instant, f64)>, StoreError> {
    let names: Vec<Option<Signal>> = signals.split(',').map(Signal::from_name).collect();
    let (records, rest) = bytes.as_chunks::<RECORD>();
    if !rest.is_empty() {
        return Err(StoreError::unreadable("sample_tails.samples", "cut short"));
    }
    let mut samples = Vec::with_capacity(records.len());
    for [place, numbers @ ..] in records {
        let (words, _) = numbers.as_chunks::<8>();
        let (Some(signal), [time, value]) = (names.get(usize::from(*place)), words) else {
            return Err(StoreError::unreadable("sample_tails.signals", signals));
        };
        if let Some(signal) = signal {
            let at = Instant::from_micros(i64::from_le_bytes(*time));
            samples.push((*signal, at, f64::from_le_bytes(*value)));
        }
    }
    Ok(samples)
}

const NOT_STORABLE: StoreError = StoreError::NotStorable { what: "recording" };

fn compress<T: Number>(numbers: &[T]) -> Result<Vec<u8>, StoreError> {
    simple_compress(numbers, &ChunkConfig::default()).map_err(|_| NOT_STORABLE)
}

fn decompress<T: Number + Default>(
    bytes: &[u8],
    count: usize,
    column: &'static str,
) -> Result<Vec<T>, StoreError> {
    let refused = |why: &str| StoreError::unreadable(column, why);
    if count > LARGEST_CHUNK {
        return Err(refused("more samples than a chunk holds"));
    }
    let mut numbers = vec![T::default(); count];
    let progress =
        simple_decompress_into(bytes, &mut numbers).map_err(|_| refused("not a pco stream"))?;
    if progress.n_processed != count || !progress.finished {
        return Err(refused("another number of samples than stated"));
    }
    Ok(numbers)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn there_and_back(samples: &[(Signal, Instant, f64)]) -> Vec<(Signal, Instant, f64)> {
        let chunk = encode(samples).unwrap().unwrap();
        let times = decode_times(&chunk.times, chunk.time_count).unwrap();
        let mut back = Vec::new();
        for series in &chunk.series {
            let decoded =
                decode_series(&times, series.sample_count, &series.places, &series.values);
            back.extend(decoded.unwrap().into_iter().map(|(at, v)| (series.signal, at, v)));
        }
        back
    }

    fn awkward() -> Vec<(Signal, Instant, f64)> {
        let at = Instant::from_micros;
        vec![
            (Signal::TankPressure, at(-5), -0.0),
            (Signal::TankPressure, at(-5), f64::MIN_POSITIVE / 3.0),
            (Signal::TankPressure, at(i64::MAX), 1.0 / 3.0),
            (Signal::EngineSpeed, at(i64::MIN), f64::MAX),
            (Signal::EngineSpeed, at(0), 0.1 + 0.2),
        ]
    }

    fn bits(samples: &[(Signal, Instant, f64)]) -> Vec<(Signal, i64, u64)> {
        samples.iter().map(|(s, at, v)| (*s, at.micros(), v.to_bits())).collect()
    }

    #[test]
    fn compressed_samples_come_back_bit_for_bit() {
        assert_eq!(bits(&there_and_back(&awkward())), bits(&awkward()));
    }

    #[test]
    fn uncompressed_samples_come_back_bit_for_bit() {
        let (signals, bytes) = encode_tail(&awkward());
        assert_eq!(bits(&decode_tail(&signals, &bytes).unwrap()), bits(&awkward()));
    }

    #[test]
    fn nothing_makes_no_chunk() {
        assert_eq!(encode(&[]).unwrap(), None);
    }

    #[test]
    fn a_stream_of_another_length_than_stated_is_refused() {
        let chunk = encode(&awkward()).unwrap().unwrap();
        assert!(decode_times(&chunk.times, chunk.time_count + 1).is_err());
        assert!(decode_times(&chunk.times, chunk.time_count - 1).is_err());
        assert!(decode_times(&chunk.times, usize::MAX).is_err());
        assert!(decode_times(&[], 3).is_err());
    }

    #[test]
    fn flipped_bits_are_refused_or_decoded_but_never_panic() {
        let chunk = encode(&awkward()).unwrap().unwrap();
        for place in 0..chunk.times.len() {
            for bit in 0..8 {
                let mut bytes = chunk.times.clone();
                bytes[place] ^= 1 << bit;
                if let Ok(times) = decode_times(&bytes, chunk.time_count) {
                    assert_eq!(times.len(), chunk.time_count);
                }
            }
        }
    }
}
