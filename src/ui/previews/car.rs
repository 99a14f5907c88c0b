use crate::jobs::{
    CarReport, CodeLine, ConditionLine, Event, InUseLine, LeakTestLine, MonitorLine, OwnSignals,
    ReadinessLine, TankOption, TankSourceLine, Tried, TriedAnswer, UnitLine,
};
use crate::vehicle::{ConditionState, CustomSignal, Outlook, Signal, TankSource};

pub(super) fn car() -> CarReport {
    let ready = |name: &str, complete| ReadinessLine { name: name.to_owned(), complete };
    CarReport {
        vin: Some("9ZZAB12C0R1000001".to_owned()),
        codes: vec![CodeLine {
            code: "P0496".to_owned(),
            meaning: "Vapour flows while the purge valve should be shut".to_owned(),
            stored: true,
            pending: false,
            permanent: true,
        }],
        vin_note: Some("Made in no country: invented. Check character holds.".to_owned()),
        units: vec![
            unit("7E8", "ECM-EngineControl", "INVENTED-0042", "7A31C09E"),
            unit("7E9", "TCM-Transmission", "INVENTED-0107", "0B51F2D4"),
        ],
        this_cycle: vec![ready("misfire", true), ready("evaporative", false)],
        in_use: Some(InUseLine {
            completions: 18,
            opportunities: 61,
            driving_cycles: 402,
            ignition_cycles: 1877,
        }),
        leak_test: Some(leak_test()),
        tank_source: Some(TankSourceLine {
            chosen: TankOption {
                source: TankSource::Narrow,
                name: "parameter 32, steps of 0.25 Pa".to_owned(),
                doubt: None,
            },
            by_hand: false,
            why: "the finest of those that can be right".to_owned(),
            others: vec![TankOption {
                source: TankSource::Wide,
                name: "parameter 54, steps of 1 Pa".to_owned(),
                doubt: Some("stands still while another moves".to_owned()),
            }],
        }),
        codes_at_first: None,
        freeze_frame: [("", "812 rpm"), ("", "88 °C"), ("fuel", "71 %"), ("manifold", "31 kPa")]
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .to_vec(),
        freeze_frame_code: Some("P0496".to_owned()),
        readiness: vec![
            ready("catalyst", true),
            ready("oxygen sensor", true),
            ready("oxygen sensor heater", true),
            ready("misfire", true),
            ready("fuel system", true),
            ready("evaporative", false),
        ],
        monitors: vec![
            monitor("Purge monitor", -0.41, (-0.25, 0.25), "kPa"),
            monitor("Leak of 1.0 mm, 3B/81", 0.08, (-0.3, 0.35), "kPa"),
            monitor("Maker's test 05, part 02, in counts", 412.0, (256.0, 65_535.0), ""),
        ],
        signals: vec![Signal::TankPressure, Signal::ManifoldPressure, Signal::PurgeCommand],
        impossible: Vec::new(),
        readings_per_second: Some(9.6),
        rate_limits: Vec::new(),
        doubts: vec![
            "Ambient air stands at −40 °C, which cars send in place of a missing sensor."
                .to_owned(),
        ],
    }
}

fn unit(address: &str, name: &str, calibration: &str, number: &str) -> UnitLine {
    UnitLine {
        address: address.to_owned(),
        name: Some(name.to_owned()),
        calibrations: vec![calibration.to_owned()],
        verification_numbers: vec![number.to_owned()],
    }
}

fn monitor(name: &str, value: f64, (low, high): (f64, f64), unit: &str) -> MonitorLine {
    MonitorLine {
        name: name.to_owned(),
        value,
        low,
        high,
        unit: unit.to_owned(),
        passed: (low..=high).contains(&value),
    }
}

fn leak_test() -> LeakTestLine {
    let line = |name: &str, value: Option<&str>, window: &str, state| ConditionLine {
        name: name.to_owned(),
        value: value.map(str::to_owned),
        window: window.to_owned(),
        codes: Vec::new(),
        state,
    };
    let code = ConditionLine {
        codes: vec!["P0496".to_owned()],
        ..line("No code of a part it needs", None, "", ConditionState::NotMet)
    };
    LeakTestLine {
        outlook: Outlook::Blocked,
        sentence: "The car's own leak test will not run: a usual condition does not hold."
            .to_owned(),
        conditions: vec![
            line("Fuel level", Some("71.0 %"), "15.0 % to 85.0 %", ConditionState::Met),
            line("Ambient air", None, "4.0 °C to 35.0 °C", ConditionState::Unknown),
            line("Air pressure", Some("98.0 kPa"), "≥ 75.0 kPa", ConditionState::Met),
            code,
        ],
    }
}

/// Own requests, one of them just tried.
pub(in crate::ui) fn own_signals() -> Vec<Event> {
    let file = "[[signal]]\nsignal = \"tank_sensor_v\"\nunit_address = \"7E0\"\nservice = \"22\"\n\
                identifier = \"12AB\"\nlength = 4\nstart = 1\nbytes = 2\nbit = 2\nbits = 12\n\
                scale = 0.001\nlow = 0.0\nhigh = 5.0\n";
    let signals = CustomSignal::read_all(file).unwrap_or_default();
    let Some(signal) = signals.first().copied() else { return Vec::new() };
    let raw = vec![0x62, 0x12, 0xAB, 0x00, 0x23, 0x28, 0x00];
    let answer = TriedAnswer { unit: "7E8".to_owned(), picked: signal.pick(&raw), raw };
    let tried =
        Tried { signal, sent: vec![0x22, 0x12, 0xAB], answers: vec![answer], failure: None };
    let own =
        OwnSignals { shared: signals, of_vehicle: Some(("Grey hatchback".to_owned(), Vec::new())) };
    vec![Event::OwnSignals(own), Event::OwnSignalTried(Box::new(tried))]
}
