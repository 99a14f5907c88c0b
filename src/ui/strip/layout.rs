use super::raster::{Canvas, Dash};
use super::scale::{decimals, fine_step, nice_step, ticks};
use super::spec::{Extent, Lane, Look, Spec, TraceKind, WordSize, WordTone};
use super::{judged, words};

/// A drawn strip with the words to lay over it.
#[derive(Debug)]
pub struct Frame {
    /// The picture.
    pub picture: slint::SharedPixelBuffer<slint::Rgb8Pixel>,
    /// The words, in logical pixels.
    pub words: Vec<Word>,
}

/// A word on the strip.
#[derive(Clone, Debug, PartialEq)]
pub struct Word {
    /// What it says.
    pub text: String,
    /// Where it is aligned.
    pub x: f64,
    /// Its middle line.
    pub y: f64,
    /// 0 starts at x, 1 is centred, 2 ends at it.
    pub align: u8,
    /// What it means.
    pub tone: WordTone,
    /// Semi-bold.
    pub strong: bool,
    /// With paper around it.
    pub halo: bool,
    /// How large.
    pub size: WordSize,
}

/// Where things stand, in logical pixels.
pub(super) struct Place {
    /// Left and right edge of each lane.
    pub(super) lanes: Vec<(f64, f64)>,
    /// Top and foot of the paper.
    pub(super) top: f64,
    pub(super) foot: f64,
    /// First and last second.
    pub(super) seconds: (f64, f64),
    pub(super) height: f64,
}

impl Place {
    pub(super) fn y(&self, seconds: f64) -> f64 {
        let span = (self.seconds.1 - self.seconds.0).max(1e-6);
        self.top + (seconds - self.seconds.0) / span * (self.foot - self.top)
    }

    pub(super) fn x(&self, lane: usize, spec: &Lane, value: f64) -> f64 {
        let (left, right) = self.lanes[lane];
        let span = (spec.high - spec.low).abs().max(1e-9);
        left + (value - spec.low) / span * (right - left)
    }

    pub(super) fn points(&self, lane: usize, spec: &Lane, piece: &[(f64, f64)]) -> Vec<(f64, f64)> {
        piece.iter().map(|(time, value)| (self.x(lane, spec, *value), self.y(*time))).collect()
    }

    fn per_second(&self) -> f64 {
        (self.foot - self.top) / (self.seconds.1 - self.seconds.0).max(1e-6)
    }
}

/// Draws a strip into `width` by `height` logical pixels at `scale` device pixels each.
pub fn draw(spec: &Spec, look: &Look, width: f64, height: f64, scale: f64) -> Frame {
    let mut canvas = Canvas::new(width, height, scale, look.paper);
    let place = arrange(spec, width, height);
    let mut words = Vec::new();
    let scale_lines = time_scale(spec, &place);
    draw_gaps(&mut canvas, spec, look, &place);
    for (index, lane) in spec.lanes.iter().enumerate() {
        draw_grid(&mut canvas, spec, look, &place, (index, lane), &scale_lines, &mut words);
        draw_rails(&mut canvas, spec, look, &place, (index, lane));
    }
    if !spec.peek {
        draw_edge_dots(&mut canvas, spec, look, &place, &scale_lines, &mut words);
        words::events(&mut canvas, spec, look, &place, &mut words);
    }
    canvas.keep_between(place.top, if spec.open_foot { height } else { place.foot });
    for (index, lane) in spec.lanes.iter().enumerate() {
        let (left, right) = place.lanes[index];
        canvas.keep_within(left - 3.0, right + 3.0);
        draw_traces(&mut canvas, look, &place, (index, lane), spec.peek);
    }
    canvas.keep_between(0.0, height);
    canvas.keep_within(0.0, width);
    words::over_traces(&mut canvas, spec, look, &place, &mut words);
    Frame { picture: canvas.into_buffer(), words }
}

/// Draws the last lane alone, without figures or words: a small strip beside an evidence line.
pub fn draw_plain(
    spec: &Spec,
    look: &Look,
    width: f64,
    height: f64,
    scale: f64,
) -> slint::SharedPixelBuffer<slint::Rgb8Pixel> {
    let mut canvas = Canvas::new(width, height, scale, look.paper);
    let place = Place {
        lanes: vec![(1.0, width - 1.0)],
        top: 1.0,
        foot: height - 1.0,
        seconds: spec.seconds,
        height,
    };
    if let Some(lane) = spec.lanes.last() {
        draw_rails(&mut canvas, spec, look, &place, (0, lane));
        draw_traces(&mut canvas, look, &place, (0, lane), true);
    }
    outline(&mut canvas, look, (0.5, 0.5, width - 0.5, height - 0.5));
    canvas.into_buffer()
}

/// Where the paper of a strip of this size begins and ends, logical pixels from its top.
pub fn paper(spec: &Spec, (width, height): (f64, f64)) -> (f64, f64) {
    let place = arrange(spec, width, height);
    (place.top, place.foot)
}

fn arrange(spec: &Spec, width: f64, height: f64) -> Place {
    let text = spec.text_scale.max(1.0);
    let named = spec.lanes.len() > 1 && !spec.peek;
    // A total has its words to the left of the first lane, where there is room for them.
    let beside_total = spec.total.is_some() && spec.lanes.len() == 1 && width > 500.0;
    let figures = if beside_total { 86.0 } else { 40.0 };
    let (left, right, gap) =
        if spec.peek { (0.0, width, 8.0) } else { (16.0 + figures * text, width - 16.0, 16.0) };
    let top =
        if spec.peek { 20.0 } else { 28.0 * text + if named { 19.0 * text + 8.0 } else { 0.0 } };
    let foot = match (&spec.total, spec.open_foot || spec.peek) {
        (Some(total), _) => height - if total.zero.is_some() { 84.0 } else { 86.0 },
        (None, true) => height,
        (None, false) => height - 16.0,
    };
    let fixed: f64 = spec
        .lanes
        .iter()
        .map(|lane| match lane.extent {
            Extent::Fixed(w) => w,
            Extent::Rest => 0.0,
        })
        .sum();
    let gaps = gap * spec.lanes.len().saturating_sub(1) as f64;
    let rests = spec.lanes.iter().filter(|lane| lane.extent == Extent::Rest).count().max(1);
    let rest = ((right - left - fixed - gaps) / rests as f64).max(20.0);
    let mut x = left;
    let lanes = spec
        .lanes
        .iter()
        .map(|lane| {
            let wide = match lane.extent {
                Extent::Fixed(w) => w,
                Extent::Rest => rest,
            };
            let edges = (x, x + wide);
            x += wide + gap;
            edges
        })
        .collect();
    Place { lanes, top, foot: foot.max(top + 20.0), seconds: spec.seconds, height }
}

/// Labelled and fine steps of the time scale, in seconds.
fn time_scale(spec: &Spec, place: &Place) -> (f64, f64) {
    let per_second = place.per_second();
    let room = if spec.peek { 25.0 } else { 46.0 * spec.text_scale.max(1.0) };
    let step = nice_step(per_second, room);
    let minutes = [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0];
    let step = if step > 10.0 {
        minutes.into_iter().find(|s| *s >= room / per_second).unwrap_or(step)
    } else {
        step
    };
    (step, fine_step(step, per_second))
}

fn outline(canvas: &mut Canvas, look: &Look, (left, top, right, foot): (f64, f64, f64, f64)) {
    canvas.vertical(left, top, foot, 1.0, look.rule);
    canvas.vertical(right, top, foot, 1.0, look.rule);
    canvas.horizontal(top, left, right, 1.0, look.rule);
    canvas.horizontal(foot, left, right, 1.0, look.rule);
}

fn draw_grid(
    canvas: &mut Canvas,
    spec: &Spec,
    look: &Look,
    place: &Place,
    (index, lane): (usize, &Lane),
    time_steps: &(f64, f64),
    words: &mut Vec<Word>,
) {
    let (left, right) = place.lanes[index];
    let text = spec.text_scale.max(1.0);
    let per_unit = (right - left) / (lane.high - lane.low).abs().max(1e-9);
    let room = if spec.peek { 60.0 } else { words::figure_room(lane, text) };
    let step = if right - left < 160.0 && !spec.peek {
        (lane.high - lane.low) / if right - left > 120.0 { 2.0 } else { 1.0 }
    } else {
        nice_step(per_unit, room)
    };
    let fine = fine_step(step, per_unit);
    for value in ticks(lane.low, lane.high, fine) {
        canvas.vertical(place.x(index, lane, value), place.top, place.foot, 1.0, look.grid_fine);
    }
    for time in ticks(place.seconds.0, place.seconds.1, time_steps.1) {
        canvas.horizontal(place.y(time), left, right, 1.0, look.grid_fine);
    }
    for time in ticks(place.seconds.0, place.seconds.1, time_steps.0) {
        canvas.horizontal(place.y(time), left, right, 1.0, look.grid_strong);
    }
    for value in ticks(lane.low, lane.high, step) {
        let x = place.x(index, lane, value);
        canvas.vertical(
            x,
            place.top - if spec.lanes.len() > 1 { 0.0 } else { 4.0 },
            place.foot,
            1.0,
            look.grid_strong,
        );
        words::axis_figure(lane, value, decimals(step), x, (left, right), spec, place, words);
    }
    outline(
        canvas,
        look,
        (left, place.top, right, if spec.open_foot { place.height + 2.0 } else { place.foot }),
    );
    if spec.lanes.len() > 1 && !spec.peek {
        words.push(Word {
            text: lane.name.clone(),
            x: left,
            y: place.top - 32.0 * text,
            align: 0,
            tone: WordTone::Form,
            strong: true,
            halo: false,
            size: WordSize::Axis,
        });
    }
}

fn draw_edge_dots(
    canvas: &mut Canvas,
    spec: &Spec,
    look: &Look,
    place: &Place,
    (step, fine): &(f64, f64),
    words: &mut Vec<Word>,
) {
    let Some((left, _)) = place.lanes.first() else { return };
    let x = left - 8.0;
    let small = fine.max(1.0);
    for time in ticks(place.seconds.0, place.seconds.1, small) {
        canvas.disc(x, place.y(time), 1.2, look.rail);
    }
    for time in ticks(place.seconds.0, place.seconds.1, *step) {
        let y = place.y(time);
        canvas.disc(x, y, 2.3, look.rail);
        if time > place.seconds.0 + 1e-6 || place.seconds.0 > 1e-6 {
            words::time_figure(time, *step, x - 6.0, y, spec, place, words);
        }
    }
}

fn draw_gaps(canvas: &mut Canvas, spec: &Spec, look: &Look, place: &Place) {
    for gap in &spec.gaps {
        let (from, until) = (place.y(gap.from).max(place.top), place.y(gap.until).min(place.foot));
        for (left, right) in &place.lanes {
            canvas.fill(*left, from, right - left, until - from, look.track, 0.75);
        }
    }
}

fn draw_rails(
    canvas: &mut Canvas,
    spec: &Spec,
    look: &Look,
    place: &Place,
    (index, lane): (usize, &Lane),
) {
    let below = if spec.total.is_some() {
        place.height - 34.0
    } else if spec.open_foot {
        place.height
    } else {
        place.foot
    };
    for rail in &lane.rails {
        let from = place.y(rail.from).max(place.top);
        let lasting = rail.until >= place.seconds.1 - 1e-6;
        let until = if lasting { below } else { place.y(rail.until).min(place.foot) };
        if until <= from {
            continue;
        }
        let (left, right) = place.lanes[index];
        let low = place.x(index, lane, rail.low).clamp(left, right);
        let high = place.x(index, lane, rail.high).clamp(left, right);
        let dash = Dash { on: 5.0, off: 4.0 };
        let gaps: Vec<(f64, f64)> =
            spec.gaps.iter().map(|gap| (place.y(gap.from), place.y(gap.until))).collect();
        let mut y = from;
        for (start, end) in gaps.into_iter().chain([(until, until)]) {
            let (start, end) = (start.clamp(y, until), end.clamp(y, until));
            canvas.fill(low, y, high - low, start - y, look.band, 1.0);
            for x in [low, high] {
                canvas.vertical(x, y, start, 2.0, look.rail);
                if end > start {
                    canvas.vertical_dashes(x, start, end, 2.0, dash, look.rail);
                }
            }
            y = end;
        }
    }
}

/// Dashes of a fit: the trace shows between them.
const FIT: Dash = Dash { on: 8.0, off: 6.0 };

fn draw_traces(
    canvas: &mut Canvas,
    look: &Look,
    place: &Place,
    (index, lane): (usize, &Lane),
    small: bool,
) {
    let width = if small { 2.0 } else { 2.25 };
    for trace in &lane.traces {
        for piece in &trace.pieces {
            let points = place.points(index, lane, piece);
            match trace.kind {
                TraceKind::Plain => canvas.trace(&points, width + 0.25, look.ink),
                TraceKind::Before => canvas.trace(&points, 2.0, look.fail),
                TraceKind::Fit => {
                    let (left, right) = place.lanes[index];
                    canvas.keep_within(left, right);
                    for (width, ink) in [(5.0, look.paper), (2.25, look.form)] {
                        canvas.stroke(&points, width, Some(FIT), ink);
                    }
                    canvas.keep_within(0.0, f64::INFINITY);
                }
                TraceKind::Area => {
                    canvas.area(&points, place.lanes[index].0, look.track);
                    canvas.trace(&points, 2.0, look.ink_soft);
                }
                TraceKind::Judged => {
                    judged::draw(canvas, look, place, (index, lane), &points, width)
                }
            }
        }
    }
}
