use slint::{ModelRc, SharedString, VecModel};

use super::markup::{CarRow, CarSection, Mark, MonitorItem, Tone};
use super::visit_car::upper_first;
use crate::jobs::{CarReport, ConditionLine, MonitorLine, ReadinessLine, UnitLine};
use crate::recording::Recording;
use crate::vehicle::ConditionState;
use crate::wording::{Style, number, signal_name, with_unit};

/// Everything that the car says, in sections.
pub(super) fn sections(
    car: &CarReport,
    recording: &Recording,
    style: &Style,
) -> ModelRc<CarSection> {
    let cycle = car.this_cycle.iter().map(|line| ready(line, style)).collect();
    let since = car.readiness.iter().map(|line| ready(line, style)).collect();
    let sections = [
        section(style.of("Not to be relied on", "Nicht verlässlich"), "", doubts(car)),
        section(style.of("Identity", "Identität"), "", identity(car)),
        section(
            style.of("Control units", "Steuergeräte"),
            "",
            car.units.iter().map(|line| unit(line, style)).collect(),
        ),
        leak_test(car, style),
        section(
            style.of("Its own vapour monitor", "Die eigene Tankentlüftungs-Prüfung"),
            "",
            in_use(car, style),
        ),
        section(
            style.of("Ready since codes were cleared", "Bereit seit dem letzten Löschen"),
            "",
            since,
        ),
        section(style.of("Ready in this driving cycle", "Bereit in dieser Fahrt"), "", cycle),
        freeze_frame(car, style),
        section(style.of("Signals", "Signale"), "", signals(car, recording, style)),
    ];
    let filled = sections.into_iter().flatten().collect::<Vec<_>>();
    ModelRc::new(VecModel::from(filled))
}

fn section(title: &str, note: &str, rows: Vec<CarRow>) -> Option<CarSection> {
    (!rows.is_empty()).then(|| CarSection {
        title: title.into(),
        note: note.into(),
        rows: ModelRc::new(VecModel::from(rows)),
    })
}

fn row(label: &str, value: String) -> CarRow {
    CarRow {
        label: label.into(),
        value: value.into(),
        note: SharedString::new(),
        mark: Mark::None,
        tone: Tone::Ink,
    }
}

fn doubts(car: &CarReport) -> Vec<CarRow> {
    let all = car.doubts.iter().chain(&car.rate_limits);
    all.map(|doubt| CarRow { mark: Mark::Inconclusive, ..row(doubt, String::new()) }).collect()
}

fn identity(car: &CarReport) -> Vec<CarRow> {
    let Some(vin) = &car.vin else { return Vec::new() };
    let note = car.vin_note.as_deref().unwrap_or_default();
    vec![CarRow { note: note.into(), ..row("VIN", vin.clone()) }]
}

fn unit(line: &UnitLine, style: &Style) -> CarRow {
    let name = line.name.as_deref().unwrap_or(style.of("Control unit", "Steuergerät"));
    let software: Vec<String> = line
        .calibrations
        .iter()
        .enumerate()
        .map(|(place, calibration)| match line.verification_numbers.get(place) {
            Some(number) => format!("{calibration} ({number})"),
            None => calibration.clone(),
        })
        .collect();
    CarRow { note: line.address.as_str().into(), ..row(name, software.join(", ")) }
}

fn leak_test(car: &CarReport, style: &Style) -> Option<CarSection> {
    let test = car.leak_test.as_ref()?;
    let title = style.of("Will its own leak test run?", "Läuft die eigene Leckprüfung?");
    let practice = style.of(
        "The conditions are common practice; makers may be narrower.",
        "Die Bedingungen sind übliche Praxis; Hersteller können enger sein.",
    );
    let note = format!("{} {practice}", test.sentence);
    let rows: Vec<CarRow> = test.conditions.iter().map(|line| condition(line, style)).collect();
    Some(CarSection {
        title: title.into(),
        note: note.into(),
        rows: ModelRc::new(VecModel::from(rows)),
    })
}

fn condition(line: &ConditionLine, style: &Style) -> CarRow {
    let (mark, word, tone) = match line.state {
        ConditionState::Met => (Mark::Pass, style.of("holds", "erfüllt"), Tone::Ink),
        ConditionState::NotMet => {
            (Mark::Fail, style.of("does not hold", "nicht erfüllt"), Tone::Fail)
        }
        ConditionState::Unknown => {
            (Mark::Inconclusive, style.of("unknown", "unbekannt"), Tone::Soft)
        }
    };
    let said = line.value.clone().or_else(|| {
        let codes = line.codes.join(", ");
        (!codes.is_empty()).then_some(codes)
    });
    let value = match said {
        Some(said) => format!("{said}, {word}"),
        None => word.to_owned(),
    };
    CarRow { mark, tone, note: line.window.as_str().into(), ..row(&line.name, value) }
}

fn in_use(car: &CarReport, style: &Style) -> Vec<CarRow> {
    let Some(counts) = car.in_use else { return Vec::new() };
    let of = style
        .of("{} of {} times that driving let it", "{} von {} Malen, die die Fahrt es zuließ")
        .replacen("{}", &counts.completions.to_string(), 1)
        .replacen("{}", &counts.opportunities.to_string(), 1);
    vec![
        row(style.of("Ran", "Lief"), of),
        row(style.of("Driving cycles", "Fahrzyklen"), counts.driving_cycles.to_string()),
        row(style.of("Engine starts", "Motorstarts"), counts.ignition_cycles.to_string()),
    ]
}

fn ready(line: &ReadinessLine, style: &Style) -> CarRow {
    let (mark, word) = if line.complete {
        (Mark::Pass, style.of("ready", "bereit"))
    } else {
        (Mark::Expected, style.of("not yet", "noch nicht"))
    };
    CarRow { mark, ..row(&upper_first(&line.name), word.to_owned()) }
}

fn freeze_frame(car: &CarReport, style: &Style) -> Option<CarSection> {
    let rows = car.freeze_frame.iter().map(|(name, value)| row(name, value.clone())).collect();
    let title = match &car.freeze_frame_code {
        Some(code) => {
            style.of("When {} was stored", "Als {} gespeichert wurde").replace("{}", code)
        }
        None => style.of("Freeze frame", "Umgebungsdaten").to_owned(),
    };
    section(&title, "", rows)
}

fn signals(car: &CarReport, recording: &Recording, style: &Style) -> Vec<CarRow> {
    let shown = |signal: &crate::vehicle::Signal| {
        let last = recording.series(*signal).and_then(|series| series.last());
        let value = last.map_or("–".to_owned(), |(_, value)| {
            with_unit(&number(value, 1, style.language), signal.unit())
        });
        row(signal_name(*signal, style.language), value)
    };
    car.signals.iter().map(shown).collect()
}

/// Results of the car's own monitors, each on a lane of its own that holds both limits.
pub(super) fn monitors(car: &CarReport, style: &Style) -> Vec<MonitorItem> {
    car.monitors.iter().map(|line| monitor(line, style)).collect()
}

/// Room on either side of a lane, as a share of what it holds.
const ROOM: f64 = 0.12;

fn monitor(line: &MonitorLine, style: &Style) -> MonitorItem {
    // Counts of older buses are whole.
    let decimals = if line.unit.is_empty() { 0 } else { 2 };
    let shown = |value: f64| with_unit(&number(value, decimals, style.language), &line.unit);
    // A limit at the end of its number is none: the lane ends near the other one.
    let (open_low, open_high) = (is_end(line.low), is_end(line.high));
    let reach = |limit: f64| ((line.value - limit).abs() * 0.5).max(limit.abs() * 0.1);
    let low = if open_low { line.value.min(line.high) - reach(line.high) } else { line.low };
    let high = if open_high { line.value.max(line.low) + reach(line.low) } else { line.high };
    let (from, to) = (low.min(line.value), high.max(line.value));
    let room = (to - from).max(f64::MIN_POSITIVE) * ROOM;
    let (from, to) = (from - room, to + room);
    let share = |value: f64| ((value - from) / (to - from)).clamp(0.0, 1.0) as f32;
    let beyond = (line.low - line.value).max(line.value - line.high);
    let margin = if line.passed {
        let left = (line.value - line.low).min(line.high - line.value);
        style.of("{} to spare", "{} Abstand").replace("{}", &shown(left.max(0.0)))
    } else {
        style.of("{} beyond", "{} darüber hinaus").replace("{}", &shown(beyond.max(0.0)))
    };
    let limits = if open_high {
        style.of("at least {}", "mindestens {}").replace("{}", &shown(line.low))
    } else if open_low {
        style.of("at most {}", "höchstens {}").replace("{}", &shown(line.high))
    } else {
        style
            .of("{} to {}", "{} bis {}")
            .replacen("{}", &number(line.low, decimals, style.language), 1)
            .replacen("{}", &shown(line.high), 1)
    };
    MonitorItem {
        name: line.name.as_str().into(),
        value: shown(line.value).into(),
        limits: limits.into(),
        margin: margin.into(),
        passed: line.passed,
        at: share(line.value),
        // Past the lane's end where there is no limit to mark.
        low: if open_low { -0.1 } else { share(line.low) },
        high: if open_high { 1.1 } else { share(line.high) },
    }
}

/// Whether a limit is the end of a 16-bit number in a usual scaling (SAE J1979 appendix E, from
/// memory): makers set it so where they mean no limit.
fn is_end(limit: f64) -> bool {
    const ENDS: [f64; 3] = [65_535.0, 32_767.0, 32_768.0];
    const SCALES: [f64; 6] = [1.0, 0.25, 0.1, 0.01, 0.001, 0.0001];
    let ends = ENDS.iter().flat_map(|end| SCALES.iter().map(move |scale| end * scale));
    ends.into_iter().any(|end| (limit.abs() - end).abs() < 1e-9 * end)
}

#[cfg(test)]
mod tests {
    use super::monitor;
    use crate::jobs::MonitorLine;
    use crate::wording::Style;

    #[test]
    fn a_result_lies_on_its_lane_with_its_margin() {
        let line = |value, low, high, passed| MonitorLine {
            name: String::new(),
            value,
            low,
            high,
            unit: "kPa".to_owned(),
            passed,
        };
        let inside = monitor(&line(0.05, -0.25, 0.25, true), &Style::default());
        assert!(inside.low < inside.at && inside.at < inside.high && inside.high < 1.0);
        assert_eq!(inside.margin, "0.20\u{a0}kPa to spare");
        let outside = monitor(&line(-0.41, -0.25, 0.25, false), &Style::default());
        assert!(outside.at < outside.low && outside.at > 0.0);
        assert_eq!(outside.margin, "0.16\u{a0}kPa beyond");
        let least = monitor(&line(32.0, 16.0, 65_535.0, true), &Style::default());
        assert!(least.low < least.at && least.at < 1.0 && least.high > 1.0);
        assert!(least.limits.starts_with("at least 16"), "{}", least.limits);
        let most = monitor(&line(-1.27, -32.768, -0.25, true), &Style::default());
        assert!(most.low < 0.0 && most.at > 0.1 && most.at < most.high && most.high < 1.0);
        assert_eq!(most.limits, "at most −0.25\u{a0}kPa");
    }
}
