use crate::cli::table::{Line, Section, Tone, render};
use crate::jobs::{CarReport, CodeLine, ConditionLine, MonitorLine, ReadinessLine, UnitLine};
use crate::vehicle::{ConditionState, Signal};
use crate::wording::{self, Language, Style};

const NOTHING: &str = "–";

/// A reading for the terminal, in sections of aligned lines.
pub(super) fn reading(
    car: &CarReport,
    values: &[(Signal, f64)],
    style: &Style,
    colours: bool,
) -> String {
    let sections = [
        Section::new("Identity", identity(car)),
        Section::new("Control units", car.units.iter().map(unit).collect()),
        Section::new("Trouble codes", codes(&car.codes)),
        Section::new(&freeze_frame_title(car), freeze_frame(car)),
        Section::new(
            "Readiness since codes were cleared",
            car.readiness.iter().map(readiness).collect(),
        ),
        Section::new(
            "Readiness of this driving cycle",
            car.this_cycle.iter().map(readiness).collect(),
        ),
        Section::new("The car's own vapour monitor", in_use(car)),
        Section::new("Will the car's own leak test run?", leak_test(car)),
        Section::new("Monitor results", car.monitors.iter().map(monitor).collect()),
        Section::new("Signals", signals(car, values, style)),
        Section::new("Doubtful", doubts(car)),
    ];
    render(&sections, colours)
}

fn identity(car: &CarReport) -> Vec<Line> {
    let vin = car.vin.as_deref().unwrap_or(NOTHING);
    let note = car.vin_note.iter().map(|note| Line::new(["", note.as_str()]));
    let tank = car.tank_source.as_ref().map(|tank| {
        let others: Vec<String> = tank.others.iter().map(|it| it.name.clone()).collect();
        let note = if others.is_empty() {
            tank.why.clone()
        } else {
            format!("{} (also offered: {})", tank.why, others.join(", "))
        };
        [Line::new(["Tank pressure from", tank.chosen.name.as_str()]), Line::new(["", &note])]
    });
    std::iter::once(Line::new(["VIN", vin])).chain(note).chain(tank.into_iter().flatten()).collect()
}

fn unit(line: &UnitLine) -> Line {
    let name = line.name.as_deref().unwrap_or("control unit");
    let software = line.calibrations.iter().enumerate().map(|(place, calibration)| {
        match line.verification_numbers.get(place) {
            Some(number) => format!("{calibration} ({number})"),
            None => calibration.clone(),
        }
    });
    let software: Vec<String> = software.collect();
    Line::new([line.address.as_str(), name, &software.join(", ")])
}

fn codes(codes: &[CodeLine]) -> Vec<Line> {
    if codes.is_empty() {
        return vec![Line::default().and("none", Tone::Good)];
    }
    let line = |code: &CodeLine| {
        let kinds =
            [(code.stored, "stored"), (code.pending, "pending"), (code.permanent, "permanent")];
        let kinds: Vec<&str> = kinds.iter().filter(|(is, _)| *is).map(|(_, word)| *word).collect();
        Line::default()
            .and(&code.code, if code.stored { Tone::Bad } else { Tone::Doubt })
            .and(&kinds.join(", "), Tone::Plain)
            .and(&code.meaning, Tone::Plain)
    };
    codes.iter().map(line).collect()
}

fn freeze_frame_title(car: &CarReport) -> String {
    match &car.freeze_frame_code {
        Some(code) => format!("Freeze frame of {code}"),
        None => "Freeze frame".to_owned(),
    }
}

fn freeze_frame(car: &CarReport) -> Vec<Line> {
    car.freeze_frame.iter().map(|(name, value)| Line::new([name.as_str(), value])).collect()
}

fn readiness(line: &ReadinessLine) -> Line {
    let (word, tone) =
        if line.complete { ("complete", Tone::Good) } else { ("not complete", Tone::Doubt) };
    Line::new([line.name.as_str()]).and(word, tone)
}

fn in_use(car: &CarReport) -> Vec<Line> {
    let Some(counts) = car.in_use else { return Vec::new() };
    let of = format!("of {} times that driving let it", counts.opportunities);
    vec![
        Line::new(["Ran", &counts.completions.to_string(), &of]),
        Line::new(["Driving cycles", &counts.driving_cycles.to_string()]),
        Line::new(["Engine starts", &counts.ignition_cycles.to_string()]),
    ]
}

fn leak_test(car: &CarReport) -> Vec<Line> {
    let Some(test) = &car.leak_test else { return Vec::new() };
    let sentence = format!("{} Common practice; makers may be narrower.", test.sentence);
    test.conditions.iter().map(condition).chain([Line::new([sentence.as_str()])]).collect()
}

fn condition(line: &ConditionLine) -> Line {
    let (state, tone) = match line.state {
        ConditionState::Met => ("holds", Tone::Good),
        ConditionState::NotMet => ("does not hold", Tone::Bad),
        ConditionState::Unknown => ("unknown", Tone::Doubt),
    };
    let codes = line.codes.join(", ");
    let value = match &line.value {
        Some(value) => value.as_str(),
        None if !codes.is_empty() => &codes,
        None => NOTHING,
    };
    Line::new([line.name.as_str(), value]).and(state, tone).and(&line.window, Tone::Plain)
}

fn monitor(line: &MonitorLine) -> Line {
    let (word, tone) = if line.passed { ("passed", Tone::Good) } else { ("failed", Tone::Bad) };
    let shown = |value: f64| wording::number(value, 4, Language::English);
    let value = wording::with_unit(&shown(line.value), &line.unit);
    let limits = format!("{} to {}", shown(line.low), shown(line.high));
    Line::new([line.name.as_str(), value.as_str()]).and(word, tone).and(&limits, Tone::Plain)
}

fn signals(car: &CarReport, values: &[(Signal, f64)], style: &Style) -> Vec<Line> {
    let line = |signal: &Signal| {
        let name = wording::signal_name(*signal, style.language);
        let value = values.iter().find(|(it, _)| it == signal);
        match value {
            Some((_, value)) => {
                let number = wording::number(*value, 2, Language::English);
                Line::new([name, &wording::with_unit(&number, signal.unit())])
            }
            None => Line::new([name]).and(NOTHING, Tone::Doubt),
        }
    };
    car.signals.iter().map(line).collect()
}

fn doubts(car: &CarReport) -> Vec<Line> {
    let all = car.doubts.iter().chain(&car.rate_limits);
    all.map(|doubt| Line::default().and(doubt, Tone::Doubt)).collect()
}
