use super::identity::check_digit;
use super::{
    CodeDraw, ControlUnit, Identity, ManifoldForm, MonitorFacts, OWN_SIGNALS, Reaction, Several,
    Snapshot, TankForm, Unit, UnitParameters,
};
use crate::vehicle::{
    CustomSignal, Fault, Signal, decode_in_use_counters, decode_monitor_results, decode_parameters,
    decode_unit_name, decode_vin,
};
use crate::virtual_car::chance::{Chance, Purpose};

fn snapshot() -> Snapshot {
    Snapshot {
        key_on: true,
        tank: -375.0,
        tank_volt: 2.298,
        manifold: 31_250.0,
        barometer: 101_325.0,
        throttle: 0.12,
        purge_command: 0.40,
        vent_command: 0.0,
        speed: 715.0,
        vehicle_speed: 0.0,
        load: 0.31,
        coolant: 83.0,
        intake_air: 28.0,
        outside_air: 20.0,
        fuel_level: 0.5,
        short_trim: -3.125,
        long_trim: 1.5625,
        supply: 14.1,
        air_flow: 0.0035,
        seconds_running: 61.0,
        closed_loop: true,
        fuel_is_cut: false,
    }
}

fn parameters() -> UnitParameters {
    let mut chance = Chance::new(1, Purpose::Parameters);
    UnitParameters {
        tank: TankForm::Narrow,
        manifold: ManifoldForm::Both,
        several: Several::All,
        leak_test: Some(300.0),
        user_defined: true,
        two_banks: true,
        second_unit: true,
        ..UnitParameters::draw(&mut chance, false)
    }
}

fn unit(parameters: UnitParameters, snapshot: Snapshot) -> ControlUnit {
    let mut chance = Chance::new(1, Purpose::Parameters);
    let monitors =
        MonitorFacts { hole_mm: 0.508, purge_vacuum: -1500.0, shut_vacuum: -1500.0, ran: true };
    ControlUnit::new(parameters, Identity::draw(&mut chance, 100.0), snapshot, monitors)
}

fn answer(unit: &mut ControlUnit, request: &[u8]) -> Option<Vec<u8>> {
    match unit.react(Unit::Engine, request, true) {
        Reaction::Answer(payload) | Reaction::SealsVent(payload, _) | Reaction::Erased(payload) => {
            Some(payload)
        }
        Reaction::Silence => None,
    }
}

/// Bytes written by hand from the formulae of SAE J1979-DA / ISO 15031-5 (from memory of the
/// standard); the tank pressures stand in
/// fixtures/published/tank_pressure_cases.json.
#[test]
fn values_are_encoded_by_the_standard() {
    let mut it = unit(parameters(), snapshot());
    for (parameter, data) in [
        (0x03, vec![0x02, 0x02]),
        (0x04, vec![79]),
        (0x05, vec![123]),
        (0x06, vec![0x7C]),
        (0x07, vec![0x82]),
        (0x0B, vec![31]),
        (0x0C, vec![0x0B, 0x2C]),
        (0x0D, vec![0]),
        (0x0F, vec![68]),
        (0x11, vec![31]),
        (0x1C, vec![3]),
        (0x1F, vec![0x00, 0x3D]),
        (0x2E, vec![102]),
        (0x2F, vec![128]),
        (0x32, vec![0xFA, 0x24]),
        (0x33, vec![101]),
        (0x42, vec![0x37, 0x14]),
        (0x46, vec![60]),
        (0x51, vec![1]),
        (0x87, vec![0x01, 0x03, 0xE8, 0, 0]),
    ] {
        let expected = [vec![0x41, parameter], data].concat();
        assert_eq!(answer(&mut it, &[0x01, parameter]), Some(expected), "{parameter:02X}");
    }
    let wide = UnitParameters { tank: TankForm::Wide, ..parameters() };
    let mut it = unit(wide, Snapshot { tank: -1500.0, ..snapshot() });
    assert_eq!(answer(&mut it, &[0x01, 0x54]), Some(vec![0x41, 0x54, 0xFA, 0x24]));
    assert_eq!(answer(&mut it, &[0x01, 0x32]), None);
    let absolute = UnitParameters { tank: TankForm::Absolute, ..parameters() };
    let mut it = unit(absolute, Snapshot { tank: 5.0, ..snapshot() });
    assert_eq!(answer(&mut it, &[0x01, 0x53]), Some(vec![0x41, 0x53, 0x4F, 0x2A]));
}

#[test]
fn several_parameters_come_back_together_or_not() {
    let request = [0x01, 0x0C, 0x32, 0x2E, 0xEE];
    let all = vec![0x41, 0x0C, 0x0B, 0x2C, 0x32, 0xFA, 0x24, 0x2E, 102];
    let with = |several| unit(UnitParameters { several, ..parameters() }, snapshot());
    assert_eq!(answer(&mut with(Several::All), &request), Some(all));
    let first = vec![0x41, 0x0C, 0x0B, 0x2C];
    assert_eq!(answer(&mut with(Several::First(1)), &request), Some(first));
    assert_eq!(answer(&mut with(Several::Nothing), &request), None);
    assert_eq!(answer(&mut with(Several::Nothing), &[0x01, 0x2E]), Some(vec![0x41, 0x2E, 102]));
}

#[test]
fn maps_name_exactly_what_is_answered() {
    let mut it = unit(parameters(), snapshot());
    let mut first = 0x00u8;
    loop {
        let Some(map) = answer(&mut it, &[0x01, first]) else { unreachable!("no map {first:02X}") };
        let [0x41, _, a, b, c, d] = map[..] else { unreachable!("{map:02X?}") };
        let map = u32::from_be_bytes([a, b, c, d]);
        for place in 1..=32u8 {
            let there = map >> (32 - place) & 1 == 1;
            let parameter = first + place;
            assert_eq!(answer(&mut it, &[0x01, parameter]).is_some(), there, "{parameter:02X}");
        }
        if map & 1 == 0 {
            break;
        }
        first += 0x20;
    }
    assert_eq!(first, 0x80);
}

/// Codes as two bytes (SAE J2012; fixtures/bytes/trouble_codes.csv has rows of the same form).
#[test]
fn codes_frame_and_readiness_belong_together_until_they_are_erased() {
    // Draws until a seed stores exactly the code that the fault stores most often.
    let codes = (0..200)
        .map(|seed| {
            let mut chance = Chance::new(seed, Purpose::Fault);
            CodeDraw::draw(Some(Fault::PurgeValveLeaking), 0.9, &mut chance)
        })
        .find(|draw| draw.stored() == [0x0496] && draw.is_permanent());
    let codes = codes.expect("half of all such cars store this code");
    let mut it =
        unit(UnitParameters { codes, ..parameters() }, Snapshot { speed: 0.0, ..snapshot() });
    assert_eq!(answer(&mut it, &[0x03]), Some(vec![0x43, 1, 0x04, 0x96]));
    assert_eq!(answer(&mut it, &[0x0A]), Some(vec![0x4A, 1, 0x04, 0x96]));
    assert_eq!(answer(&mut it, &[0x01, 0x01]), Some(vec![0x41, 0x01, 0x81, 0x07, 0x65, 0x00]));
    assert_eq!(answer(&mut it, &[0x02, 0x02, 0x00]), Some(vec![0x42, 0x02, 0x00, 0x04, 0x96]));
    assert_eq!(answer(&mut it, &[0x02, 0x0D, 0x00]), Some(vec![0x42, 0x0D, 0x00, 72]));

    assert_eq!(answer(&mut it, &[0x04]), Some(vec![0x44]));
    assert_eq!(answer(&mut it, &[0x03]), Some(vec![0x43, 0]));
    assert_eq!(answer(&mut it, &[0x0A]), Some(vec![0x4A, 1, 0x04, 0x96]));
    assert_eq!(answer(&mut it, &[0x01, 0x01]), Some(vec![0x41, 0x01, 0x00, 0x07, 0x65, 0x65]));
    assert_eq!(answer(&mut it, &[0x02, 0x0D, 0x00]), None);

    it.notice_open_purge_circuit();
    assert_eq!(answer(&mut it, &[0x07]), Some(vec![0x47, 1, 0x04, 0x44]));
}

#[test]
fn codes_are_not_erased_while_the_engine_runs() {
    let mut it = unit(parameters(), snapshot());
    assert_eq!(answer(&mut it, &[0x04]), Some(vec![0x7F, 0x04, 0x22]));
}

/// Scalings of SAE J1979 appendix E (from memory): FD with FA 24 is -1.5 kPa, FE with E8 90 is
/// -1500 Pa, 32 with 02 90 is 0.020 in.
#[test]
fn monitor_results_carry_value_and_limits() {
    let mut it = unit(parameters(), snapshot());
    assert_eq!(
        answer(&mut it, &[0x06, 0x3D]),
        Some(vec![
            0x46, 0x3D, 0x91, 0xFD, 0xFA, 0x24, 0x80, 0x00, 0xFF, 0x06, //
            0x3D, 0x92, 0xFE, 0xE8, 0x90, 0xF9, 0xC0, 0x06, 0x40,
        ])
    );
    assert_eq!(
        answer(&mut it, &[0x06, 0x3C]),
        Some(vec![0x46, 0x3C, 0x81, 0x32, 0x02, 0x90, 0x00, 0x00, 0x02, 0x90])
    );
    assert_eq!(answer(&mut it, &[0x06, 0x20]), Some(vec![0x46, 0x20, 0x00, 0x00, 0x00, 0x38]));
}

#[test]
fn silence_to_all_is_refusal_face_to_face() {
    let mut it = unit(UnitParameters { leak_test: None, ..parameters() }, snapshot());
    for (request, refusal) in [
        (vec![0x01, 0xEE], vec![0x7F, 0x01, 0x31]),
        (vec![0x08, 0x01], vec![0x7F, 0x08, 0x11]),
        (vec![0x22, 0x12, 0x34], vec![0x7F, 0x22, 0x31]),
        (vec![0x3E, 0x00], vec![0x7F, 0x3E, 0x11]),
    ] {
        assert_eq!(it.react(Unit::Engine, &request, true), Reaction::Silence);
        assert_eq!(it.react(Unit::Engine, &request, false), Reaction::Answer(refusal));
    }
    it.refresh(Snapshot { key_on: false, ..snapshot() });
    assert_eq!(it.react(Unit::Engine, &[0x01, 0x0C], false), Reaction::Silence);
}

#[test]
fn user_defined_requests_and_the_leak_test_are_answered() {
    let mut it = unit(parameters(), snapshot());
    assert_eq!(answer(&mut it, &[0x22, 0x22, 0x01]), Some(vec![0x62, 0x22, 0x01, 0x08, 0xFA]));
    assert_eq!(answer(&mut it, &[0x22, 0x22, 0x02]), Some(vec![0x62, 0x22, 0x02, 0x00]));
    let started = it.react(Unit::Engine, &[0x08, 0x01, 0, 0, 0, 0, 0], false);
    assert_eq!(started, Reaction::SealsVent(vec![0x48, 0x01, 0, 0, 0, 0, 0], 300));
}

/// Check digits: 49 CFR 565.15, tables III to V; rows of fixtures/bytes/vins.csv.
#[test]
fn identification_numbers_are_invented_and_carry_their_check_digit() {
    for known in
        ["11111111111111111", "9ZZAB12C0R1000001", "9ZZEVAP12R1000002", "1ZZPH33T5L2123456"]
    {
        assert_eq!(check_digit(known.as_bytes()), known.as_bytes().get(8).copied());
    }
    for seed in 0..50 {
        let vin = Identity::draw(&mut Chance::new(seed, Purpose::Parameters), 0.0).vin;
        assert_eq!(vin.len(), 17);
        assert_eq!(check_digit(vin.as_bytes()), vin.as_bytes().get(8).copied(), "{vin}");
        assert!(["9ZZ", "8AZ", "1ZZ", "JAZ"].iter().any(|maker| vin.starts_with(maker)), "{vin}");
    }
    let mut it = unit(parameters(), snapshot());
    let vin = answer(&mut it, &[0x09, 0x02]).expect("every car has one");
    assert_eq!((vin.len(), &vin[..3]), (20, &[0x49, 0x02, 0x01][..]));
    let counters = answer(&mut it, &[0x09, 0x08]).expect("supported");
    assert_eq!((counters.len(), counters[2]), (3 + 32, 16));
}

/// The unit writes its formulae out itself; the decoder has a table of its own. What one says the
/// other must understand, within a step.
#[test]
fn decoder_reads_what_the_unit_holds() {
    let near = |signal| match signal {
        Signal::TankPressure => (-375.0, 0.25),
        Signal::ManifoldPressure => (31.25, 0.5),
        Signal::BarometricPressure => (101.325, 0.5),
        Signal::Throttle => (12.0, 0.2),
        Signal::PurgeCommand => (40.0, 0.2),
        Signal::EngineSpeed => (715.0, 0.13),
        Signal::VehicleSpeed => (0.0, 0.0),
        Signal::EngineLoad => (31.0, 0.2),
        Signal::Coolant => (83.0, 0.0),
        Signal::IntakeAir => (28.0, 0.0),
        Signal::AmbientAir => (20.0, 0.0),
        Signal::FuelLevel => (50.0, 0.2),
        Signal::ShortTrim1 => (-3.125, 0.0),
        Signal::LongTrim1 => (1.5625, 0.0),
        Signal::ShortTrim2 => (-2.5, 0.4),
        Signal::LongTrim2 => (0.46, 0.4),
        Signal::Supply => (14.1, 0.001),
        Signal::TankSensor | Signal::VentCommand => unreachable!("not in service 01"),
    };
    let mut seen = std::collections::BTreeSet::new();
    for tank in [TankForm::Narrow, TankForm::Wide] {
        let mut it = unit(UnitParameters { tank, ..parameters() }, snapshot());
        for parameter in 1..=0xFFu8 {
            let Some(payload) = answer(&mut it, &[0x01, parameter]) else { continue };
            let readings = decode_parameters(&payload[1..]).expect("a row for every parameter");
            for measured in readings.iter().flat_map(|reading| &reading.measured) {
                // The throttle has a relative form too, which starts elsewhere.
                let Some(signal) = measured.signal().filter(|_| parameter != 0x45) else {
                    continue;
                };
                let (value, step) = near(signal);
                let off = (measured.value - value).abs();
                assert!(off <= step + 1e-9, "{parameter:02X} {signal:?}: {}", measured.value);
                seen.insert(signal);
            }
        }
    }
    assert_eq!(seen.len(), Signal::ALL.len() - 2, "{seen:?}");
}

#[test]
fn decoder_reads_identity_monitors_and_own_signals() {
    let mut it = unit(parameters(), snapshot());
    let vin = answer(&mut it, &[0x09, 0x02]).expect("every car has one");
    assert_eq!(decode_vin(&[&vin[1..]]).map(|vin| vin.to_string()), Ok(it.identity.vin.clone()));
    let name = answer(&mut it, &[0x09, 0x0A]).expect("supported");
    assert!(decode_unit_name(&[&name[1..]]).is_ok_and(|name| name.contains("ECM")));
    let counters = answer(&mut it, &[0x09, 0x08]).expect("supported");
    assert!(decode_in_use_counters(&[&counters[1..]]).is_ok());
    for monitor in [0x3B, 0x3C, 0x3D] {
        let results = answer(&mut it, &[0x06, monitor]).expect("supported");
        assert!(decode_monitor_results(&results[1..]).is_ok_and(|results| !results.is_empty()));
    }
    let own = CustomSignal::read_all(OWN_SIGNALS).expect("well formed");
    let values: Vec<(Signal, Option<f64>)> = own
        .iter()
        .map(|signal| {
            let (service, rest) = signal.request();
            let payload = answer(&mut it, &[&[service], &rest[..]].concat()).expect("answered");
            (signal.signal, signal.decode(&payload).expect("decoded"))
        })
        .collect();
    let expected = [(Signal::TankSensor, Some(2.298)), (Signal::VentCommand, Some(0.0))];
    for ((signal, value), (wanted, number)) in values.iter().zip(expected) {
        assert_eq!(*signal, wanted);
        assert!(value.zip(number).is_some_and(|(a, b)| (a - b).abs() < 1e-9), "{value:?}");
    }
    assert_eq!(values.len(), 2);
}
