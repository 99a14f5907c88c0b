//! Whatever bytes a car sends, every decoder either refuses them or says no more than they hold:
//! what can be written back gives the same bytes, and each value has its bytes whole.
#![no_main]

use libfuzzer_sys::fuzz_target;
use stilltank::vehicle::{
    CustomSignal, FreezeFrame, InUseCounters, MonitorOutcome, Readiness, SupportedParameters,
    TroubleCode, decode_asked, decode_calibration_ids, decode_codes, decode_in_use_counters,
    decode_monitor_results, decode_older_monitor_result, decode_parameter, decode_parameters,
    decode_unit_name, decode_verification_numbers, decode_vin, item, parameter,
};

fuzz_target!(|input: &[u8]| {
    let Some((which, content)) = input.split_first() else { return };
    match which % 12 {
        0 => parameters(content),
        1 => single_parameter(content),
        2 => frozen(content),
        3 => codes(content),
        4 => monitors(content),
        5 => older_monitor(content),
        6 => vin(&parts(content)),
        7 => calibrations(&parts(content)),
        8 => counters(&parts(content)),
        9 => supported(content),
        10 => readiness(content),
        _ => custom(content),
    }
});

/// Answers of one unit, each of seven bytes at most as before CAN, or one alone.
fn parts(content: &[u8]) -> Vec<&[u8]> {
    match content.split_first() {
        Some((first, rest)) if first & 1 == 1 => rest.chunks(6).collect(),
        Some((_, rest)) => vec![rest],
        None => Vec::new(),
    }
}

fn parameters(content: &[u8]) {
    let Ok(readings) = decode_parameters(content) else { return };
    let mut written = Vec::new();
    for reading in &readings {
        written.push(reading.parameter);
        written.extend_from_slice(&reading.data);
        assert!(reading.measured.iter().all(|it| it.value.is_finite()));
    }
    assert_eq!(written, content);
    let asked: Vec<u8> = readings.iter().map(|it| it.parameter).collect();
    assert_eq!(decode_asked(content, &asked).as_ref(), Ok(&readings));
    // Without one of them among the asked ones, the answer does not fit the question.
    assert!(asked.split_last().is_none_or(|(_, fewer)| decode_asked(content, fewer).is_err()));
}

fn single_parameter(content: &[u8]) {
    let Some((id, data)) = content.split_first() else { return };
    let Ok(measured) = decode_parameter(*id, data) else { return };
    let Some(row) = parameter(*id) else { panic!("{id:02X} was read and is unknown") };
    assert!(row.lengths.contains(&data.len()));
    assert!(measured.len() <= row.fields().len());
    assert!(measured.iter().all(|it| it.value.is_finite()));
}

fn frozen(content: &[u8]) {
    let number = content.get(1).copied().unwrap_or(0);
    let mut frame = FreezeFrame::new(number);
    let before = frame.clone();
    if frame.add_answer(content).is_err() {
        assert_eq!(frame, before);
    } else {
        // The same parameters cannot come twice.
        assert!(frame.add_answer(content).is_err());
    }
}

fn codes(content: &[u8]) {
    let Ok(codes) = decode_codes(0x03, content) else { return };
    for code in &codes {
        assert_eq!(TroubleCode::from_bytes(code.bytes()), Some(*code));
        assert_eq!(code.to_string().parse(), Ok(*code));
        assert!(content.windows(2).any(|pair| pair == code.bytes()));
    }
    assert!(codes.len() <= content.len() / 2);
}

fn monitors(content: &[u8]) {
    let Ok(results) = decode_monitor_results(content) else { return };
    assert_eq!(results.len() * 9, content.len());
    for (result, record) in results.iter().zip(content.chunks_exact(9)) {
        assert_eq!([result.monitor.id(), result.test, result.scaling], record[..3]);
        assert!(result.low <= result.high);
        let within = (result.low..=result.high).contains(&result.value);
        assert!(match result.outcome {
            MonitorOutcome::NotRun => record[3..].iter().all(|byte| *byte == 0),
            MonitorOutcome::Passed => within,
            MonitorOutcome::Failed => !within,
        });
    }
}

fn older_monitor(content: &[u8]) {
    let Ok(result) = decode_older_monitor_result(content) else { return };
    let kind = u8::from(result.limit_is_least) << 7 | result.component;
    let [v1, v2] = result.value.to_be_bytes();
    let [l1, l2] = result.limit.to_be_bytes();
    assert_eq!([result.test, kind, v1, v2, l1, l2], content);
}

fn vin(contents: &[&[u8]]) {
    let Ok(vin) = decode_vin(contents) else { return };
    let text = vin.text();
    assert_eq!(text.len(), 17);
    let content = [&[item::VIN, 1], text.as_bytes()].concat();
    assert_eq!(decode_vin(&[&content]), Ok(vin));
}

fn calibrations(contents: &[&[u8]]) {
    let held: usize = contents.iter().map(|it| it.len()).sum();
    if let Ok(ids) = decode_calibration_ids(contents) {
        assert!(ids.iter().all(|it| !it.0.is_empty() && it.0.len() <= 16));
        assert!(ids.len() * 16 <= held);
    }
    if let Ok(numbers) = decode_verification_numbers(contents) {
        assert!(numbers.len() * 4 <= held);
        let bytes: Vec<u8> = numbers.iter().flat_map(|it| it.0.to_be_bytes()).collect();
        if let [only] = contents {
            assert_eq!(only[2..], bytes);
        }
    }
    if let Ok(name) = decode_unit_name(contents) {
        assert!(name.len() <= 20 && name.bytes().all(|it| matches!(it, 0x20..=0x7E)));
    }
}

fn counters(contents: &[&[u8]]) {
    let Ok(counters) = decode_in_use_counters(contents) else { return };
    let InUseCounters { ratios, .. } = &counters;
    assert!(ratios.iter().all(|it| it.ratio().is_none_or(f64::is_finite)));
    assert!(ratios.len() * 4 <= contents.iter().map(|it| it.len()).sum::<usize>());
}

fn supported(content: &[u8]) {
    let mut supported = SupportedParameters::default();
    if supported.add_answer(content).is_err() {
        assert!(supported.is_empty() && supported.next_list() == Some(0));
        return;
    }
    for block in content.chunks_exact(5) {
        let bits = u32::from_be_bytes([block[1], block[2], block[3], block[4]]);
        for step in 1..=32_u8 {
            if let Some(id) = block[0].checked_add(step) {
                assert_eq!(supported.contains(id), bits >> (32 - step) & 1 == 1);
            }
        }
    }
}

fn readiness(content: &[u8]) {
    let Ok(readiness) = Readiness::from_data(content) else { return };
    assert_eq!(content.len(), 4);
    assert_eq!(u8::from(readiness.lamp) << 7 | readiness.codes, content[0]);
    assert!(readiness.incomplete().count() <= readiness.monitors.len());
}

/// A signal that the person defined: the text up to the first zero byte, an answer after it.
fn custom(content: &[u8]) {
    let mut halves = content.splitn(2, |byte| *byte == 0);
    let Some(Ok(text)) = halves.next().map(std::str::from_utf8) else { return };
    let payload = halves.next().unwrap_or_default();
    let Ok(signals) = CustomSignal::read_all(text) else { return };
    for signal in &signals {
        let (service, asked) = signal.request();
        if let Ok(Some(value)) = signal.decode(payload) {
            assert!(value.is_finite());
            assert_eq!(payload.first(), Some(&(service | 0x40)));
            assert!(payload[1..].starts_with(&asked));
        }
    }
    assert_eq!(CustomSignal::read_all(&CustomSignal::write_all(&signals)), Ok(signals));
}
