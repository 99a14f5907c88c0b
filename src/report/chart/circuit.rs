use super::hatch::hatch;
use super::mark::mark_drawing;
use crate::report::document::Mark;
use crate::report::drawing::{Anchor, Drawing, Ink, Segment, Stroke, Weight, outline};
use crate::vehicle::Fault;
use crate::wording::Language;

/// A part of the vapour circuit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Part {
    Manifold,
    Throttle,
    PurgeValve,
    Canister,
    VentValve,
    Tank,
    Sensor,
}

/// The vapour circuit, 400 × 150, with the part that a fault points to in bold, hatched and with a
/// cross. A part is only marked when the verdict names it.
pub(in crate::report) fn circuit(fault: Option<Fault>, language: Language) -> Drawing {
    let mut drawing = Drawing::new(400.0, 150.0);
    let faulty: &[Part] = match fault {
        Some(Fault::PurgeValveLeaking | Fault::NoPurgeFlow) => &[Part::PurgeValve],
        Some(Fault::VentPathRestricted) => &[Part::VentValve, Part::Canister],
        Some(Fault::TankSensorOffset | Fault::TankSensorSlow | Fault::TankSensorStuck) => {
            &[Part::Sensor]
        }
        Some(Fault::VaporLeak) => &[Part::Tank, Part::Canister],
        None => &[],
    };
    for (from, to) in [
        ((92.0, 66.0), (122.0, 66.0)),
        ((166.0, 66.0), (200.0, 66.0)),
        ((252.0, 66.0), (290.0, 66.0)),
        ((226.0, 92.0), (226.0, 102.0)),
        ((226.0, 126.0), (226.0, 136.0)),
        ((336.0, 46.0), (336.0, 38.0)),
    ] {
        drawing.line(from, to, Stroke::solid(Ink::Circuit, 1.6));
    }
    for part in [
        Part::Manifold,
        Part::Throttle,
        Part::PurgeValve,
        Part::Canister,
        Part::VentValve,
        Part::Tank,
        Part::Sensor,
    ] {
        draw_part(&mut drawing, part, faulty.contains(&part), language);
    }
    if let Some(part) = faulty.first() {
        let (x, y) = cross_place(*part);
        super::place(&mut drawing, &mark_drawing(Mark::Fail, 17.0), (x, y));
    }
    drawing
}

fn cross_place(part: Part) -> (f64, f64) {
    match part {
        Part::PurgeValve => (158.0, 26.0),
        Part::VentValve => (262.0, 98.0),
        Part::Sensor => (318.0, 10.0),
        Part::Tank => (366.0, 38.0),
        Part::Canister => (242.0, 32.0),
        Part::Manifold | Part::Throttle => (60.0, 40.0),
    }
}

/// The filled outline of a part, as a polygon for its hatch.
fn body(part: Part) -> &'static [(f64, f64)] {
    match part {
        Part::PurgeValve => &[
            (122.0, 53.0),
            (144.0, 66.0),
            (166.0, 53.0),
            (166.0, 79.0),
            (144.0, 66.0),
            (122.0, 79.0),
        ],
        Part::VentValve => &[
            (215.0, 102.0),
            (237.0, 102.0),
            (226.0, 114.0),
            (237.0, 126.0),
            (215.0, 126.0),
            (226.0, 114.0),
        ],
        Part::Canister => &[(200.0, 40.0), (252.0, 40.0), (252.0, 92.0), (200.0, 92.0)],
        Part::Tank => &[(290.0, 46.0), (376.0, 46.0), (376.0, 102.0), (290.0, 102.0)],
        Part::Sensor => &[(324.0, 18.0), (348.0, 18.0), (348.0, 38.0), (324.0, 38.0)],
        Part::Manifold => &[
            (42.0, 52.0),
            (92.0, 52.0),
            (92.0, 106.0),
            (82.0, 106.0),
            (82.0, 80.0),
            (72.0, 80.0),
            (72.0, 106.0),
            (62.0, 106.0),
            (62.0, 80.0),
            (52.0, 80.0),
            (52.0, 106.0),
            (42.0, 106.0),
        ],
        Part::Throttle => &[],
    }
}

fn draw_part(drawing: &mut Drawing, part: Part, is_faulty: bool, language: Language) {
    let line =
        if is_faulty { Stroke::solid(Ink::Fail, 2.4) } else { Stroke::solid(Ink::Circuit, 1.6) };
    let fill = Some(if is_faulty { Ink::FailTint } else { Ink::Paper });
    let radius = if matches!(part, Part::Canister | Part::Tank) { 7.0 } else { 0.0 };
    match part {
        Part::Canister | Part::Tank | Part::Sensor => {
            let outline = body(part);
            let (x, y) = outline[0];
            let size = (outline[2].0 - x, outline[2].1 - y);
            drawing.rectangle((x, y), size, radius, fill, Some(line));
        }
        _ => drawing.path(closed(body(part)), fill, Some(line)),
    }
    if is_faulty {
        for (from, to) in hatch(body(part), 5.0) {
            drawing.line(from, to, Stroke::solid(Ink::Fail, 0.6));
        }
    }
    details(drawing, part, line, fill);
    let (text, place, anchor) = match part {
        Part::Manifold => (language.of("manifold", "Saugrohr"), (67.0, 120.0), Anchor::Middle),
        Part::Throttle => (language.of("throttle", "Drosselklappe"), (4.0, 44.0), Anchor::Start),
        Part::PurgeValve => {
            (language.of("purge valve", "Regenerierventil"), (144.0, 94.0), Anchor::Middle)
        }
        Part::Canister => {
            (language.of("canister", "Aktivkohlefilter"), (226.0, 34.0), Anchor::Middle)
        }
        Part::VentValve => {
            (language.of("vent valve", "Belüftungsventil"), (264.0, 122.0), Anchor::Start)
        }
        Part::Tank => (language.of("tank", "Tank"), (333.0, 71.0), Anchor::Middle),
        Part::Sensor => (language.of("sensor", "Sensor"), (353.0, 32.0), Anchor::Start),
    };
    let (weight, ink) =
        if is_faulty { (Weight::Strong, Ink::Fail) } else { (Weight::Regular, Ink::Form) };
    if is_faulty && part == Part::Tank {
        drawing.rectangle((318.0, 62.0), (30.0, 12.0), 0.0, fill, None);
    }
    drawing.text(place, anchor, 9.5, weight, ink, text);
}

fn details(drawing: &mut Drawing, part: Part, line: Stroke, fill: Option<Ink>) {
    match part {
        Part::Throttle => {
            drawing.line((14.0, 55.0), (42.0, 55.0), line);
            drawing.line((14.0, 77.0), (42.0, 77.0), line);
            drawing.line((22.0, 76.0), (34.0, 56.0), line);
            drawing.circle((28.0, 66.0), 2.8, Some(line.ink), None);
        }
        Part::PurgeValve => {
            drawing.line((144.0, 66.0), (144.0, 50.0), line);
            drawing.rectangle((132.0, 34.0), (24.0, 16.0), 0.0, fill, Some(line));
        }
        Part::VentValve => {
            drawing.line((226.0, 114.0), (244.0, 114.0), line);
            drawing.rectangle((244.0, 106.0), (14.0, 16.0), 0.0, fill, Some(line));
            drawing.line((218.0, 140.0), (234.0, 140.0), line);
        }
        Part::Canister => {
            for row in 0..4 {
                for column in 0..5 {
                    let (x, y) = (208.0 + 9.0 * f64::from(column), 52.0 + 9.5 * f64::from(row));
                    drawing.circle((x, y), 1.2, Some(line.ink), None);
                }
            }
        }
        Part::Tank => {
            let mut wave = vec![Segment::Move(291.0, 84.0)];
            for step in 0..6 {
                let x = 291.0 + 14.0 * f64::from(step);
                let lift = if step % 2 == 0 { -4.0 } else { 4.0 };
                wave.push(Segment::Curve(
                    x + 5.0,
                    84.0 + lift,
                    x + 9.0,
                    84.0 + lift,
                    x + 14.0,
                    84.0,
                ));
            }
            drawing.path(wave, None, Some(Stroke::solid(line.ink, 1.2)));
        }
        Part::Sensor => {
            let curve = Segment::Curve(332.0, 24.0, 340.0, 24.0, 343.0, 31.0);
            drawing.path(vec![Segment::Move(329.0, 31.0), curve], None, Some(line));
        }
        Part::Manifold => {}
    }
}

fn closed(points: &[(f64, f64)]) -> Vec<Segment> {
    let mut segments = outline(points.iter().copied());
    if !segments.is_empty() {
        segments.push(Segment::Close);
    }
    segments
}
