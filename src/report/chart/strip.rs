use super::axis::{Frame, lane_outline, lane_paper, time_figures};
use super::fit::{fit_legend, fits};
use super::hatch::hatch;
use super::scale::{Scale, round_step};
use super::trace::{pieces, thinned};
use super::{LABEL, about_width};
use crate::checks::{FitCurve, Rails};
use crate::recording::{Action, Recording};
use crate::report::drawing::{Anchor, Drawing, Ink, Segment, Stroke, Weight, outline};
use crate::units::Instant;
use crate::vehicle::Signal;
use crate::wording::{Style, action_name, signal_name, signal_unit, signal_value_in};

/// What one strip shows.
#[derive(Clone, Debug)]
pub(in crate::report) struct Strip<'a> {
    /// Where the samples are.
    pub(in crate::report) recording: &'a Recording,
    /// First moment.
    pub(in crate::report) from: Instant,
    /// Last moment.
    pub(in crate::report) to: Instant,
    /// What drives: drawn as an area in a narrow lane.
    pub(in crate::report) drive: Option<Lane>,
    /// What is watched.
    pub(in crate::report) watched: Lane,
    /// Bands the watched signal was judged against.
    pub(in crate::report) rails: &'a [Rails],
    /// Whether the trace is red and hatched where it lies outside the bands.
    pub(in crate::report) marks_outside: bool,
    /// What was fitted to the watched signal.
    pub(in crate::report) fits: &'a [FitCurve],
    /// Language and units.
    pub(in crate::report) style: &'a Style,
}

/// A signal on the strip.
#[derive(Clone, Copy, Debug)]
pub(in crate::report) struct Lane {
    /// Which.
    pub(in crate::report) signal: Signal,
    /// Ends that the scale holds at least, in the signal's own unit.
    pub(in crate::report) at_least: Option<(f64, f64)>,
}

const WIDTH: f64 = 480.0;
const TOP: f64 = 30.0;
const TIMES: f64 = 44.0;
const DRIVE: f64 = 92.0;
const GAP: f64 = 20.0;

/// A strip chart, time downwards: drive lane, watched lane with its rails, events across both.
/// `None` when the watched signal has fewer than two samples there.
pub(in crate::report) fn strip(strip: &Strip) -> Option<Drawing> {
    let Strip { recording, from, to, style, .. } = *strip;
    let seconds = to.seconds_since(from).max(1.0);
    let series = recording.series(strip.watched.signal)?;
    let watched: Vec<Vec<(f64, f64)>> = in_unit(pieces(series, from, to), strip.watched, style);
    if watched.iter().map(Vec::len).sum::<usize>() < 2 {
        return None;
    }
    let height = (100.0 + seconds * 1.6).clamp(120.0, 220.0);
    let mut drawing = Drawing::new(WIDTH, TOP + height + 8.0);
    let bottom = TOP + height;
    let time = Scale::exactly(0.0, seconds, TOP, bottom, round_step(seconds / 6.0));
    time_figures(&mut drawing, TIMES, &time, style.language);

    let mut left = TIMES;
    let drive = strip.drive.and_then(|drive| Some((drive, recording.series(drive.signal)?)));
    if let Some((drive, series)) = drive {
        let points = in_unit(pieces(series, from, to), drive, style);
        let frame = Frame { left, right: left + DRIVE, top: TOP, bottom };
        drive_lane(&mut drawing, frame, drive, &points, &time, style);
        left += DRIVE + GAP;
    }

    let frame = Frame { left, right: WIDTH - 12.0, top: TOP, bottom };
    let factor = signal_value_in(strip.watched.signal, 1.0, style);
    let rails: Vec<Rail> = strip.rails.iter().filter_map(|r| rail(r, strip, factor)).collect();
    let values = watched_scale(&watched, &rails, strip.watched, factor, frame);
    let unit = signal_unit(strip.watched.signal, style);
    let label = format!("{}, {unit}", signal_name(strip.watched.signal, style.language));
    lane_paper(&mut drawing, frame, &label, &values, &time, style.language);
    for rail in &rails {
        rail.draw(&mut drawing, &values, &time);
    }
    let row = seconds / height;
    let thin: Vec<Vec<(f64, f64)>> = watched.iter().map(|piece| thinned(piece, row)).collect();
    let judged: &[Rail] = if strip.marks_outside { &rails } else { &[] };
    traces(&mut drawing, &thin, judged, &values, &time);
    if fits(&mut drawing, strip.fits, (from, factor), &values, &time) {
        fit_legend(&mut drawing, frame, style.language);
    }
    lane_outline(&mut drawing, frame);
    events(&mut drawing, strip, &watched, &values, &time, frame);
    Some(drawing)
}

fn in_unit(pieces: Vec<Vec<(f64, f64)>>, lane: Lane, style: &Style) -> Vec<Vec<(f64, f64)>> {
    let turn = |(at, value)| (at, signal_value_in(lane.signal, value, style));
    pieces.into_iter().map(|piece| piece.into_iter().map(turn).collect()).collect()
}

fn watched_scale(
    watched: &[Vec<(f64, f64)>],
    rails: &[Rail],
    lane: Lane,
    factor: f64,
    frame: Frame,
) -> Scale {
    let samples = watched.iter().flatten().map(|point| point.1);
    let bounds = rails.iter().flat_map(|rail| [rail.low, rail.high]);
    let least = lane.at_least.into_iter().flat_map(|(low, high)| [low * factor, high * factor]);
    let (low, high) = samples
        .chain(bounds)
        .chain(least)
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| {
            (low.min(value), high.max(value))
        });
    let margin = (high - low) * 0.06;
    Scale::holding(low - margin, high + margin, frame.left, frame.right, 5.0)
}

fn drive_lane(
    drawing: &mut Drawing,
    frame: Frame,
    lane: Lane,
    pieces: &[Vec<(f64, f64)>],
    time: &Scale,
    style: &Style,
) {
    let highest = pieces.iter().flatten().fold(0.0f64, |high, point| high.max(point.1));
    let values = match lane.at_least {
        Some((low, high)) if highest <= high => {
            Scale::exactly(low, high, frame.left, frame.right, (high - low) / 2.0)
        }
        _ => Scale::holding(0.0, highest, frame.left, frame.right, 2.0),
    };
    let unit = signal_unit(lane.signal, style);
    let label = format!("{}, {unit}", signal_name(lane.signal, style.language));
    lane_paper(drawing, frame, &label, &values, time, style.language);
    for piece in pieces {
        let rows = time.ends().1 / (frame.bottom - frame.top);
        let thin = thinned(piece, rows);
        let line: Vec<(f64, f64)> =
            thin.iter().map(|(at, value)| (values.at(*value), time.at(*at))).collect();
        if let (Some(first), Some(last)) = (line.first(), line.last()) {
            let mut area = line.clone();
            area.push((values.at(0.0), last.1));
            area.push((values.at(0.0), first.1));
            drawing.polygon(&area, Ink::Track);
        }
        drawing.polyline(&line, Stroke::solid(Ink::Soft, 1.2));
    }
    lane_outline(drawing, frame);
}

/// A band in the person's unit and in seconds of the strip.
struct Rail {
    from: f64,
    to: f64,
    low: f64,
    high: f64,
}

fn rail(rails: &Rails, strip: &Strip, factor: f64) -> Option<Rail> {
    let end = rails.until.unwrap_or(strip.to).min(strip.to);
    let start = rails.from.max(strip.from);
    let bounded = rails.low.is_finite() && rails.high.is_finite();
    (end > start && bounded).then(|| Rail {
        from: start.seconds_since(strip.from),
        to: end.seconds_since(strip.from),
        low: rails.low * factor,
        high: rails.high * factor,
    })
}

impl Rail {
    fn draw(&self, drawing: &mut Drawing, values: &Scale, time: &Scale) {
        let (left, right) = (values.at(self.low), values.at(self.high));
        let (top, bottom) = (time.at(self.from), time.at(self.to));
        let size = (right - left, bottom - top);
        drawing.rectangle((left, top), size, 0.0, Some(Ink::Band), None);
        for x in [left, right] {
            drawing.line((x, top), (x, bottom), Stroke::solid(Ink::Rail, 1.4));
        }
    }

    /// The rail that a value lies beyond, if it does.
    fn beyond(&self, value: f64) -> Option<f64> {
        if value < self.low {
            Some(self.low)
        } else if value > self.high {
            Some(self.high)
        } else {
            None
        }
    }
}

/// The trace in ink; where rails hold and it lies beyond them, red with the area hatched. Each
/// colour is one outline, however often the trace crosses.
fn traces(
    drawing: &mut Drawing,
    pieces: &[Vec<(f64, f64)>],
    rails: &[Rail],
    values: &Scale,
    time: &Scale,
) {
    let place = |(at, value): (f64, f64)| (values.at(value), time.at(at));
    let side = |point: &(f64, f64)| {
        let rail = rails.iter().find(|rail| (rail.from..=rail.to).contains(&point.0));
        rail.and_then(|rail| rail.beyond(point.1))
    };
    let (mut inside, mut outside, mut hatched) = (Vec::new(), Vec::new(), Vec::new());
    for points in pieces {
        let mut start = 0;
        while start < points.len() {
            let here = side(&points[start]);
            let count =
                points[start..].iter().take_while(|point| side(point) == here).count().max(1);
            let run = &points[start..start + count];
            // One point of the neighbours on either side, so that the line does not break.
            let before = start.checked_sub(1).map(|place| points[place]);
            let after = points.get(start + count).copied();
            let whole = before.into_iter().chain(run.iter().copied()).chain(after);
            let line = outline(whole.map(place));
            match here {
                None => inside.extend(line),
                Some(rail) => {
                    let (top, bottom) = (time.at(run[0].0), time.at(run[run.len() - 1].0));
                    // Lower than this, a hatch would be a smear.
                    if bottom - top >= 2.0 {
                        let x = values.at(rail);
                        let mut area: Vec<(f64, f64)> = run.iter().copied().map(place).collect();
                        area.extend([(x, bottom), (x, top)]);
                        hatched.extend(hatch(&area, 4.6).into_iter().flat_map(|(from, to)| {
                            [Segment::Move(from.0, from.1), Segment::Line(to.0, to.1)]
                        }));
                    }
                    outside.extend(line);
                }
            }
            start += count;
        }
    }
    drawing.path(inside, None, Some(Stroke::solid(Ink::Ink, 1.1)));
    drawing.path(hatched, None, Some(Stroke::solid(Ink::Fail, 0.6)));
    drawing.path(outside, None, Some(Stroke::solid(Ink::Fail, 1.5)));
}

/// Dashed lines at what the person did, with words on the side away from the trace. A let-go
/// throttle has no line: the drive lane shows it.
fn events(
    drawing: &mut Drawing,
    strip: &Strip,
    watched: &[Vec<(f64, f64)>],
    values: &Scale,
    time: &Scale,
    frame: Frame,
) {
    let language = strip.style.language;
    let mut opening = 0;
    let mut free_from = f64::NEG_INFINITY;
    let mut last_line = f64::NEG_INFINITY;
    for event in strip.recording.actions() {
        if event.at < strip.from || event.at > strip.to {
            continue;
        }
        if event.action == Action::ThrottleReleased {
            continue;
        }
        let mut words = action_name(event.action, language).to_owned();
        if event.action == Action::ThrottleOpened {
            opening += 1;
            words = format!("{words} {opening}");
        }
        let at = event.at.seconds_since(strip.from);
        let y = time.at(at);
        // Lines that would touch say no more than one.
        if y - last_line < 3.0 {
            continue;
        }
        last_line = y;
        let dashed = Stroke::dashed(Ink::Ink, 0.8, 3.0, 2.2);
        drawing.line((TIMES, y), (frame.right, y), dashed);
        // Above its line, or below it at the very top of the strip.
        let base = if y - frame.top < LABEL + 4.0 { y + LABEL + 2.0 } else { y - 3.5 };
        if base - LABEL < free_from {
            continue;
        }
        free_from = base + 2.0;
        let span = time.ends().1 * 0.06;
        let near = watched.iter().flatten().filter(|point| (point.0 - at).abs() <= span);
        let (sum, count) =
            near.fold((0.0, 0.0), |(sum, count), point| (sum + values.at(point.1), count + 1.0));
        let trace_is_left = count > 0.0 && sum / count < (frame.left + frame.right) / 2.0;
        let width = about_width(&words, LABEL);
        let (x, anchor, halo) = if trace_is_left {
            (frame.right - 5.0, Anchor::End, frame.right - 7.0 - width)
        } else {
            (frame.left + 5.0, Anchor::Start, frame.left + 3.0)
        };
        let size = (width + 4.0, LABEL + 1.0);
        drawing.rectangle((halo, base - LABEL + 0.5), size, 0.0, Some(Ink::Paper), None);
        drawing.text((x, base), anchor, LABEL, Weight::Strong, Ink::Ink, &words);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::drawing::Item;

    #[test]
    fn words_of_events_that_follow_each_other_closely_do_not_overlap() {
        let at = Instant::from_seconds;
        let mut recording = Recording::default();
        for tenth in 0..600 {
            recording.push(Signal::TankPressure, at(f64::from(tenth) / 10.0), 0.0);
        }
        for (time, action) in [
            (0.5, Action::VentSealed),
            (3.0, Action::PurgeUnplugged),
            (5.0, Action::PurgePlugged),
            (30.0, Action::VentOpened),
        ] {
            recording.push_action(at(time), action);
        }
        let drawing = strip(&Strip {
            recording: &recording,
            from: at(0.0),
            to: at(60.0),
            drive: None,
            watched: Lane { signal: Signal::TankPressure, at_least: None },
            rails: &[],
            fits: &[],
            marks_outside: true,
            style: &Style::default(),
        });
        let items = drawing.map(|it| it.items).unwrap_or_default();
        let mut words: Vec<f64> = items
            .iter()
            .filter_map(|item| match item {
                Item::Text { y, size, weight: Weight::Strong, .. } if *size == LABEL => Some(*y),
                _ => None,
            })
            .collect();
        words.sort_by(f64::total_cmp);
        assert!(words.len() > 2, "the lane's label and at least two events");
        for pair in words.windows(2) {
            assert!(pair[1] - pair[0] >= LABEL, "{words:?}");
        }
    }
}
