use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;

use super::{ImportWarning, Imported, number, read, write};
use crate::recording::{Action, CellFlaw, ColumnMap, ColumnMapFlaw, Recording, RecordingError};
use crate::units::Instant;
use crate::vehicle::Signal;

fn at(seconds: f64) -> Instant {
    Instant::from_seconds(seconds)
}

fn ours(text: &str) -> Result<Imported, RecordingError> {
    read(text.as_bytes(), None)
}

fn flaw(text: &str) -> (u64, String, CellFlaw) {
    match ours(text) {
        Err(RecordingError::BadCell { line, column, why, .. }) => (line, column, why),
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_file_of_our_own_reads_as_the_contract_says() {
    let text = "time_s,tank_pressure_pa,purge_command_percent,action,trouble_code\r\n\
                0,-3.5,,key_on,\r\n0.25,,0,,P0442\r\n0.25,-3.25,,,\r\n1.000001,,12.5,purge_unplugged,\r\n";
    let imported = ours(text).unwrap();
    assert_eq!(imported.warnings, []);
    let recording = imported.recording;
    let tank = recording.series(Signal::TankPressure).unwrap();
    assert_eq!(tank.times(), [at(0.0), at(0.25)]);
    assert_eq!(tank.values(), [-3.5, -3.25]);
    let purge = recording.series(Signal::PurgeCommand).unwrap();
    assert_eq!(purge.last(), Some((Instant::from_micros(1_000_001), 12.5)));
    let actions: Vec<_> = recording.actions().iter().map(|a| (a.at, a.action)).collect();
    assert_eq!(
        actions,
        [(at(0.0), Action::KeyOn), (Instant::from_micros(1_000_001), Action::PurgeUnplugged)]
    );
    assert_eq!(recording.codes()[0].code, "P0442");
}

#[test]
fn a_tank_size_stands_once_and_is_checked() {
    let text = "time_s,tank_pressure_pa,tank_litre\r\n2.5,-3,48.5\r\n3,-4,\r\n";
    let recording = ours(text).unwrap().recording;
    assert_eq!((recording.tank_litre(), write(&recording)), (Some(48.5), text.into()));
    assert_eq!(flaw("time_s,tank_litre\n0,4800\n").2, CellFlaw::NoTankSize);
}

#[test]
fn entries_of_one_time_share_a_row() {
    let mut recording = Recording::default();
    recording.push(Signal::EngineSpeed, at(1.5), 750.0);
    recording.push(Signal::TankPressure, at(1.5), -0.25);
    recording.push(Signal::TankPressure, at(1.75), 0.1 + 0.2);
    recording.push_action(at(1.5), Action::CapOpened);
    recording.push_action(at(1.5), Action::CapClosed);
    let text = String::from_utf8(write(&recording)).unwrap();
    assert_eq!(
        text,
        "time_s,tank_pressure_pa,engine_speed_rpm,action\r\n\
         1.5,-0.25,750,cap_opened\r\n1.5,,,cap_closed\r\n1.75,0.30000000000000004,,\r\n"
    );
    assert_eq!(ours(&text).unwrap().recording, recording);
}

#[test]
fn an_empty_recording_is_a_header() {
    let text = write(&Recording::default());
    assert_eq!(text, b"time_s\r\n");
    assert_eq!(read(text.as_slice(), None).unwrap().recording, Recording::default());
}

#[test]
fn unknown_and_empty_columns_are_named() {
    let text = "time_s,boost,tank_pressure_pa,coolant_c,\n0,1.2,5,,\n1,x,6,,\n";
    let imported = ours(text).unwrap();
    assert_eq!(
        imported.warnings,
        [
            ImportWarning::UnknownColumn { name: "boost".into() },
            ImportWarning::EmptyColumn { name: "coolant_c".into() }
        ]
    );
    assert_eq!(imported.recording.series(Signal::TankPressure).unwrap().len(), 2);
}

#[test]
fn byte_order_mark_spaces_quotes_and_blank_rows_are_forgiven() {
    let text = "\u{FEFF}time_s ,tank_pressure_pa\r\n\"0\", 1 \r\n,\r\n\r\n2, 3\r\n";
    let recording = ours(text).unwrap().recording;
    assert_eq!(recording.series(Signal::TankPressure).unwrap().values(), [1.0, 3.0]);
}

#[test]
fn a_bad_cell_names_line_and_column() {
    let tank = |cell: &str| format!("time_s,tank_pressure_pa\n0,1\n1,{cell}\n2,2\n");
    let cases = [
        ("x", CellFlaw::NotANumber),
        ("1.2.3", CellFlaw::NotANumber),
        ("0x10", CellFlaw::NotANumber),
        ("NaN", CellFlaw::NotFinite),
        ("inf", CellFlaw::NotFinite),
        ("-1e999", CellFlaw::NotFinite),
        ("\"1,5\"", CellFlaw::DecimalComma),
    ];
    for (cell, why) in cases {
        let expected = (3, "tank_pressure_pa".to_owned(), why);
        assert_eq!(flaw(&tank(cell)), expected, "{cell}");
        assert_eq!(flaw(&tank(cell).replace('\n', "\r\n")), expected, "{cell} with CRLF");
    }
    let action = flaw("time_s,action\n0,key_on\n1,KeyOn\n");
    assert_eq!(action, (3, "action".into(), CellFlaw::NotAnAction));
    let code = flaw("time_s,trouble_code\n0,P044\n");
    assert_eq!(code, (2, "trouble_code".into(), CellFlaw::NotACode));
}

#[test]
fn a_bad_time_names_its_line() {
    let times = |cell: &str| flaw(&format!("time_s,tank_pressure_pa\n5,1\n{cell},1\n"));
    for (cell, why) in [
        ("4.999999", CellFlaw::TimeRunsBackwards),
        ("", CellFlaw::TimeMissing),
        ("soon", CellFlaw::NotANumber),
        ("nan", CellFlaw::NotFinite),
        ("1e300", CellFlaw::TimeTooLarge),
        ("99999999999999999", CellFlaw::TimeTooLarge),
    ] {
        assert_eq!(times(cell), (3, "time_s".into(), why), "{cell}");
    }
}

#[test]
fn lines_are_counted_through_quoted_line_breaks() {
    let text = "time_s,note,tank_pressure_pa\n0,\"two\nlines\",1\n1,one,x\n";
    assert_eq!(flaw(text).0, 4);
}

#[test]
fn a_row_of_another_length_is_an_error() {
    assert_eq!(
        ours("time_s,tank_pressure_pa\n0,1\n1,2,3\n").unwrap_err(),
        RecordingError::CellCount { line: 3, expected: 2, found: 3 }
    );
    assert_eq!(
        ours("time_s,tank_pressure_pa\n0\n").unwrap_err(),
        RecordingError::CellCount { line: 2, expected: 2, found: 1 }
    );
}

#[test]
fn text_that_is_not_utf8_is_an_error_only_where_it_is_read() {
    let known = b"time_s,tank_pressure_pa\n0,\xFF\n";
    assert!(matches!(
        read(known.as_slice(), None),
        Err(RecordingError::BadCell { line: 2, why: CellFlaw::NotText, .. })
    ));
    let unknown = b"time_s,tank_pressure_pa,note\n0,1,\xFF\n";
    assert!(read(unknown.as_slice(), None).is_ok());
}

#[test]
fn headers_that_cannot_be_used_say_why() {
    assert_eq!(ours("").unwrap_err(), RecordingError::Empty);
    assert_eq!(ours("\n\n").unwrap_err(), RecordingError::Empty);
    assert_eq!(
        ours("time_s;tank_pressure_pa\n0;1\n").unwrap_err(),
        RecordingError::Delimiter { found: ';', expected: ',' }
    );
    assert_eq!(
        ours("time_s\ttank_pressure_pa\n").unwrap_err(),
        RecordingError::Delimiter { found: '\t', expected: ',' }
    );
    assert!(matches!(ours("t,tank_pressure_pa\n"), Err(RecordingError::NoTimeColumn { .. })));
    assert_eq!(ours("time_s,boost\n").unwrap_err(), RecordingError::NothingKnown);
    for text in [
        "time_s,tank_pressure_pa,tank_pressure_pa\n0,1,2\n",
        "time_s,time_s,tank_pressure_pa\n0,0,2\n",
        "time_s,action,action\n0,,\n",
    ] {
        assert!(matches!(ours(text), Err(RecordingError::DuplicateColumn { .. })), "{text}");
    }
    let message = ours("time_s;tank_pressure_pa\n").unwrap_err().to_string();
    assert!(message.contains("save the file with ','"), "{message}");
}

const FOREIGN_MAP: &str = "
delimiter = \";\"
decimal = \",\"
blank = [\"-\", \"NaN\"]

[time]
column = \"Time (ms)\"
unit = \"ms\"

[[column]]
name = \"EVAP pressure\"
signal = \"tank_pressure_pa\"
unit = \"inH2O\"

[[column]]
name = \"Coolant\"
signal = \"coolant_c\"
unit = \"°F\"

[[column]]
name = \"Purge\"
signal = \"purge_command_percent\"
scale = 100.0
";

#[test]
fn a_column_map_reads_another_programs_log() {
    let map = ColumnMap::from_toml(FOREIGN_MAP).unwrap();
    assert_eq!(ColumnMap::from_toml(&map.to_toml()), Ok(map.clone()));
    let text = "Time (ms);EVAP pressure;Coolant;Purge;engine_speed_rpm;Gear\n\
                0;-1,5;212;0,25;750;P\n250,5;-;NaN;;760;P\n";
    let imported = read(text.as_bytes(), Some(&map)).unwrap();
    let last = |signal| imported.recording.series(signal).unwrap().last().unwrap();
    // NIST SP 811: 1 inH2O (conventional) is 249.0889 Pa.
    assert!((last(Signal::TankPressure).1 + 1.5 * 249.0889).abs() < 1e-3);
    assert!((last(Signal::Coolant).1 - 100.0).abs() < 1e-9);
    assert_eq!(last(Signal::PurgeCommand), (at(0.0), 25.0));
    assert_eq!(last(Signal::EngineSpeed), (Instant::from_micros(250_500), 760.0));
    assert_eq!(imported.warnings, [ImportWarning::UnknownColumn { name: "Gear".into() }]);
}

#[test]
fn column_maps_that_make_no_sense_are_refused() {
    let why = |text: &str| match ColumnMap::from_toml(text) {
        Err(RecordingError::ColumnMapRow { why, .. }) => why,
        other => panic!("{other:?}"),
    };
    let column =
        |rest: &str| format!("[[column]]\nname = \"p\"\nsignal = \"tank_pressure_pa\"\n{rest}\n");
    assert_eq!(why(&column("unit = \"furlong\"")), ColumnMapFlaw::UnknownUnit);
    assert_eq!(why(&column("unit = \"V\"")), ColumnMapFlaw::WrongUnit);
    assert_eq!(why(&column("scale = 0.0")), ColumnMapFlaw::NotANumber);
    assert_eq!(why(&column("scale = nan")), ColumnMapFlaw::NotANumber);
    assert_eq!(why(&(column("") + &column(""))), ColumnMapFlaw::Twice);
    assert_eq!(why("delimiter = \",\"\ndecimal = \",\""), ColumnMapFlaw::Delimiter);
    assert_eq!(why("delimiter = \"x\""), ColumnMapFlaw::Delimiter);
    assert_eq!(why("decimal = \"x\""), ColumnMapFlaw::DecimalSign);
    assert!(matches!(ColumnMap::from_toml("colour = 1"), Err(RecordingError::ColumnMap(_))));
}

#[test]
fn times_are_exact_to_the_microsecond() {
    let micros = |text| number::parse_seconds(text, '.').map(Instant::micros);
    assert_eq!(micros("0.1"), Ok(100_000));
    assert_eq!(micros("-0.000001"), Ok(-1));
    assert_eq!(micros(".5"), Ok(500_000));
    assert_eq!(micros("7."), Ok(7_000_000));
    assert_eq!(micros("0.0000005"), Ok(1));
    assert_eq!(micros("9007199254.740993"), Ok(9_007_199_254_740_993));
    assert_eq!(micros("1e-3"), Ok(1000));
    assert_eq!(micros("-"), Err(CellFlaw::NotANumber));
    assert_eq!(micros("."), Err(CellFlaw::NotANumber));
    let clock = |text| number::parse_clock(text, '.').map(Instant::micros);
    assert_eq!(clock("13:05:09.25"), Ok(47_109_250_000));
    assert_eq!(clock("05:09"), Ok(309_000_000));
    assert_eq!(clock("99"), Err(CellFlaw::NotANumber));
    assert_eq!(clock("1:60:00"), Err(CellFlaw::NotANumber));
    assert_eq!(clock("1:-5"), Err(CellFlaw::NotANumber));
    assert_eq!(clock("1:2:3:4"), Err(CellFlaw::NotANumber));
}

fn random_recording(random: &mut ChaCha8Rng) -> Recording {
    let mut recording = Recording::default();
    let mut now = random.random_range(-5_000_000_i64..5_000_000);
    for _ in 0..random.random_range(0..80) {
        now += if random.random() { 0 } else { random.random_range(0..400_000) };
        let signal = Signal::ALL[random.random_range(0..Signal::ALL.len())];
        let value = f64::from_bits(random.random());
        recording.push(signal, Instant::from_micros(now), value);
        if random.random_range(0..9) == 0 {
            let action = Action::ALL[random.random_range(0..Action::ALL.len())];
            recording.push_action(Instant::from_micros(now), action);
            recording.push_code(Instant::from_micros(now), "P0456");
        }
    }
    recording
}

#[test]
fn every_recording_comes_back_bit_by_bit() {
    let mut random = ChaCha8Rng::seed_from_u64(0xC5F);
    for _ in 0..500 {
        let recording = random_recording(&mut random);
        let text = write(&recording);
        let back = read(text.as_slice(), None).unwrap();
        assert_eq!(back.warnings, []);
        assert_eq!(write(&back.recording), text);
        for (signal, series) in recording.signals() {
            let other = back.recording.series(signal).unwrap();
            assert_eq!(series.times(), other.times());
            let bits = |values: &[f64]| values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
            assert_eq!(bits(series.values()), bits(other.values()));
        }
        assert_eq!(recording.actions(), back.recording.actions());
        assert_eq!(recording.codes(), back.recording.codes());
    }
}

/// Files with bytes changed, cut or doubled give a recording that writes and reads alike, or an
/// error; times in it never run backwards.
#[test]
fn mutated_files_never_panic_and_never_give_disordered_times() {
    let mut random = ChaCha8Rng::seed_from_u64(0xBAD);
    let map = ColumnMap::from_toml(FOREIGN_MAP).unwrap();
    for _ in 0..10_000 {
        let mut text = write(&random_recording(&mut random));
        for _ in 0..random.random_range(1..6) {
            let place = random.random_range(0..text.len());
            match random.random_range(0..4) {
                0 => text[place] = random.random(),
                1 => text.insert(place, b",;\n\r\"-.e0"[random.random_range(0..9)]),
                2 => {
                    text.remove(place);
                }
                _ => text.truncate(place.max(1)),
            }
            if text.is_empty() {
                text.push(b'\n');
            }
        }
        let _ = read(text.as_slice(), Some(&map));
        let Ok(imported) = read(text.as_slice(), None) else { continue };
        for (_, series) in imported.recording.signals() {
            assert!(series.times().is_sorted());
            assert!(series.values().iter().all(|value| value.is_finite()));
        }
        let again = read(write(&imported.recording).as_slice(), None).unwrap();
        assert_eq!(again.recording, imported.recording);
    }
}

/// A reader that fails part way leaves nothing behind.
#[test]
fn a_file_that_breaks_off_is_an_error() {
    struct Broken(bool);
    impl std::io::Read for Broken {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            if std::mem::replace(&mut self.0, true) {
                return Err(std::io::ErrorKind::ConnectionReset.into());
            }
            let text = b"time_s,tank_pressure_pa\n0,1\n";
            buffer[..text.len()].copy_from_slice(text);
            Ok(text.len())
        }
    }
    assert_eq!(
        read(Broken(false), None).unwrap_err(),
        RecordingError::Unreadable(std::io::ErrorKind::ConnectionReset)
    );
}

/// Rows made while they are read, so that no test file of that size is needed.
#[test]
fn a_long_file_is_read_in_one_pass() {
    struct Rows {
        left: u32,
        line: Vec<u8>,
    }
    impl std::io::Read for Rows {
        fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
            if self.line.is_empty() && self.left > 0 {
                self.left -= 1;
                self.line =
                    format!("{}.5,-{}.25,\r\n", 200_000 - self.left, self.left).into_bytes();
            }
            let count = self.line.len().min(buffer.len());
            buffer[..count].copy_from_slice(&self.line[..count]);
            self.line.drain(..count);
            Ok(count)
        }
    }
    let header = b"time_s,tank_pressure_pa,note\r\n".to_vec();
    let imported = read(Rows { left: 200_000, line: header }, None).unwrap();
    let tank = imported.recording.series(Signal::TankPressure).unwrap();
    assert_eq!(tank.len(), 200_000);
    assert_eq!(tank.last(), Some((at(200_000.5), -0.25)));
}

/// An open quote makes the rest of a file one cell; the message holds only its start.
#[test]
fn a_quote_that_is_never_closed_is_an_error_of_bearable_length() {
    let text = format!("time_s,tank_pressure_pa\n0,\"{}", "1,2\n".repeat(100_000));
    let error = ours(&text).unwrap_err();
    assert!(matches!(error, RecordingError::BadCell { line: 2, .. }), "{error:?}");
    assert!(error.to_string().len() < 300);
}

#[test]
fn a_quoted_header_may_follow_a_byte_order_mark() {
    let text = "\u{FEFF}\"time_s\",\"tank_pressure_pa\"\n0,1\n";
    assert_eq!(ours(text).unwrap().recording.series(Signal::TankPressure).unwrap().len(), 1);
}
