use super::layout::{Place, Word};
use super::names::names;
use super::raster::{Canvas, Dash};
use super::scale::{nice_step, ticks};
use super::spec::{Event, Lane, Look, Spec, Total, TraceKind, WordSize, WordTone};

/// About how wide a word is, so that words can keep out of each other's way. Figures of the
/// family are 0.6 em wide; letters are narrower on average.
pub(super) fn about_width(text: &str, size: f64) -> f64 {
    text.chars().count() as f64 * size * 0.57
}

/// Room that an axis figure of this lane needs.
pub(super) fn figure_room(lane: &Lane, text: f64) -> f64 {
    let digits = lane.low.abs().max(lane.high.abs()).max(1.0).log10().floor() + 2.0;
    (digits * 0.6 * 13.0 + 14.0) * text
}

#[allow(clippy::too_many_arguments, reason = "one figure with all that places it")]
pub(super) fn axis_figure(
    lane: &Lane,
    value: f64,
    decimals: usize,
    x: f64,
    (left, right): (f64, f64),
    spec: &Spec,
    place: &Place,
    words: &mut Vec<Word>,
) {
    let text = figure(value, decimals, spec);
    let narrow = right - left < 160.0 && !spec.peek;
    let half = about_width(&text, 13.0 * spec.text_scale) / 2.0;
    // At the edges of a narrow lane the figures stay within it.
    let (x, align) = if narrow && (value - lane.low).abs() < 1e-9 {
        (left, 0)
    } else if narrow && (value - lane.high).abs() < 1e-9 {
        (right, 2)
    } else if x + half > right + 14.0 {
        return;
    } else if x - half < left - 14.0 && spec.lanes.len() > 1 {
        (x.max(left), 0)
    } else {
        (x, 1)
    };
    words.push(Word {
        text,
        x,
        y: place.top - if spec.peek { 11.0 } else { 13.5 * spec.text_scale },
        align,
        tone: WordTone::Soft,
        strong: false,
        halo: false,
        size: WordSize::Axis,
    });
}

pub(super) fn time_figure(
    time: f64,
    step: f64,
    x: f64,
    y: f64,
    spec: &Spec,
    place: &Place,
    words: &mut Vec<Word>,
) {
    if y > place.foot - 4.0 && !spec.open_foot || y > place.height - 8.0 {
        return;
    }
    let text = if place.seconds.1 >= 120.0 {
        format!("{}:{:02}", (time / 60.0).floor(), (time % 60.0).round())
    } else {
        format!("{} s", figure(time, super::scale::decimals(step), spec))
    };
    words.push(Word {
        text,
        x,
        y,
        align: 2,
        tone: WordTone::Soft,
        strong: false,
        halo: false,
        size: WordSize::Axis,
    });
}

/// A figure with the true minus and the language's decimal mark.
fn figure(value: f64, decimals: usize, spec: &Spec) -> String {
    let plain = format!("{:.*}", decimals, value.abs());
    let plain = if spec.decimal_comma { plain.replace('.', ",") } else { plain };
    if value < 0.0 && plain.chars().any(|c| c.is_ascii_digit() && c != '0') {
        format!("−{plain}")
    } else {
        plain
    }
}

/// Lines across all lanes where something happened, with their words on the side away from the
/// trace. Of two that would touch, the older loses its words.
pub(super) fn events(
    canvas: &mut Canvas,
    spec: &Spec,
    look: &Look,
    place: &Place,
    words: &mut Vec<Word>,
) {
    let (Some((first, _)), Some(last)) = (place.lanes.first(), spec.lanes.last()) else { return };
    let index = spec.lanes.len() - 1;
    let (left, right) = place.lanes[index];
    let tall = 19.0 * spec.text_scale;
    let mut taken: Vec<(f64, f64)> = Vec::new();
    for event in spec.events.iter().rev() {
        let y = place.y(event.at);
        if y < place.top || y > place.foot {
            continue;
        }
        let from = if spec.lanes.len() > 1 { *first } else { left };
        canvas.horizontal_dashes(y, from, right, 1.35, Dash { on: 4.0, off: 3.0 }, look.ink);
        let above = (y - tall - 3.0, y - 3.0);
        let below = (y + 3.0, y + tall + 3.0);
        let free = |span: &(f64, f64)| {
            span.0 >= place.top
                && span.1 <= place.foot
                && !taken.iter().any(|t| t.0 < span.1 && span.0 < t.1)
                && spec.now.is_none_or(|now| !(span.0..span.1).contains(&place.y(now)))
        };
        let Some(span) = [above, below].into_iter().find(free) else { continue };
        taken.push(span);
        let (x, align) = side(event, last, index, place, (left, right), spec);
        words.push(Word {
            text: event.words.clone(),
            x,
            y: (span.0 + span.1) / 2.0,
            align,
            tone: WordTone::Ink,
            strong: true,
            halo: true,
            size: WordSize::Label,
        });
    }
}

/// The side on which the trace is further away within the next 20 pixels.
fn side(
    event: &Event,
    lane: &Lane,
    index: usize,
    place: &Place,
    (left, right): (f64, f64),
    spec: &Spec,
) -> (f64, u8) {
    let reach = 20.0 * (place.seconds.1 - place.seconds.0) / (place.foot - place.top).max(1.0);
    let near: Vec<f64> = lane
        .traces
        .iter()
        .filter(|trace| trace.kind != TraceKind::Area)
        .flat_map(|trace| trace.pieces.iter().flatten())
        .filter(|(time, _)| (time - event.at).abs() <= reach)
        .map(|(_, value)| place.x(index, lane, *value))
        .collect();
    let (least, most) =
        near.iter().fold((right, left), |(low, high), x| (low.min(*x), high.max(*x)));
    // Rails that hold here end the free side.
    let rail = lane
        .rails
        .iter()
        .find(|rail| rail.from - reach <= event.at && event.at <= rail.until + reach)
        .map(|rail| (place.x(index, lane, rail.low), place.x(index, lane, rail.high)));
    let wide = about_width(&event.words, 14.0 * spec.text_scale) + 16.0;
    let end = rail.map_or(right, |(low, _)| if low - left > wide { low } else { right });
    if near.is_empty() || least - left >= wide && least - left >= end - most {
        (left + 8.0, 0)
    } else if end - most >= least - left {
        (end - 9.0, 2)
    } else {
        (left + 8.0, 0)
    }
}

/// What stands over the traces: names, dimension, landing line, the present, the total.
pub(super) fn over_traces(
    canvas: &mut Canvas,
    spec: &Spec,
    look: &Look,
    place: &Place,
    words: &mut Vec<Word>,
) {
    for (index, lane) in spec.lanes.iter().enumerate() {
        landing(canvas, spec, look, place, (index, lane), words);
        if !spec.peek {
            dimension(canvas, spec, look, place, (index, lane), words);
            names(spec, place, (index, lane), words);
            scale_words(spec, place, (index, lane), words);
        }
    }
    for gap in &spec.gaps {
        let Some((left, _)) = place.lanes.last() else { continue };
        let middle = (place.y(gap.from) + place.y(gap.until)) / 2.0;
        if spec.peek || place.y(gap.until) - place.y(gap.from) < 22.0 * spec.text_scale {
            continue;
        }
        let two = place.y(gap.until) - place.y(gap.from) > 44.0 * spec.text_scale;
        let shift = if two { 10.0 * spec.text_scale } else { 0.0 };
        words.push(word(&gap.words, left + 10.0, middle - shift, 0, WordTone::Ink, true));
        if two {
            words.push(word(&gap.note, left + 10.0, middle + shift, 0, WordTone::Soft, false));
        }
    }
    now_line(canvas, spec, look, place);
    if let Some(total) = &spec.total {
        draw_total(canvas, spec, look, place, total, words);
    }
}

fn word(text: &str, x: f64, y: f64, align: u8, tone: WordTone, strong: bool) -> Word {
    Word { text: text.to_owned(), x, y, align, tone, strong, halo: true, size: WordSize::Label }
}

/// That the scale is finer than usual, at the top of the paper.
fn scale_words(spec: &Spec, place: &Place, (index, lane): (usize, &Lane), words: &mut Vec<Word>) {
    if lane.scale_words.is_empty() {
        return;
    }
    let (_, right) = place.lanes[index];
    let y = place.top + 13.0 * spec.text_scale;
    words.push(word(&lane.scale_words, right - 6.0, y, 2, WordTone::Form, true));
}

fn landing(
    canvas: &mut Canvas,
    spec: &Spec,
    look: &Look,
    place: &Place,
    (index, lane): (usize, &Lane),
    words: &mut Vec<Word>,
) {
    let inside: Vec<(f64, f64)> =
        lane.landing.iter().filter(|(time, _)| place.y(*time) <= place.foot).copied().collect();
    let points = place.points(index, lane, &inside);
    let (left, right) = place.lanes[index];
    canvas.keep_within(left, right);
    canvas.stroke(&points, 2.25, Some(Dash { on: 2.5, off: 5.0 }), look.rail);
    canvas.keep_within(0.0, f64::INFINITY);
    let Some((x, _)) = points.last() else { return };
    let Some(now) = spec.now.map(|now| place.y(now)) else { return };
    let y = now + 22.0 * spec.text_scale;
    if spec.peek || lane.landing_words.is_empty() || y > place.foot - 12.0 {
        return;
    }
    let rail = lane.rails.last().map_or(*x, |rail| place.x(index, lane, rail.low).min(*x));
    words.push(word(&lane.landing_words, rail - 9.0, y, 2, WordTone::Form, true));
}

fn dimension(
    canvas: &mut Canvas,
    spec: &Spec,
    look: &Look,
    place: &Place,
    (index, lane): (usize, &Lane),
    words: &mut Vec<Word>,
) {
    let Some(dimension) = &lane.dimension else { return };
    let y = place.y(dimension.at);
    let (from, to) = (place.x(index, lane, dimension.from), place.x(index, lane, dimension.to));
    let (from, to) = (from.min(to) + 7.0, from.max(to) - 2.0);
    if y < place.top + 24.0 || y > place.foot - 8.0 || to - from < 24.0 {
        return;
    }
    canvas.horizontal(y, from, to, 1.75, look.fail);
    canvas.vertical(from, y - 5.0, y + 5.0, 1.75, look.fail);
    canvas.vertical(to, y - 5.0, y + 5.0, 1.75, look.fail);
    let width = about_width(&dimension.words, 14.0 * spec.text_scale);
    let (left, right) = place.lanes[index];
    let middle = ((from + to) / 2.0)
        .clamp(left + width / 2.0, (right - width / 2.0).max(left + width / 2.0));
    words.push(word(&dimension.words, middle, y - 12.0 * spec.text_scale, 1, WordTone::Fail, true));
}

fn now_line(canvas: &mut Canvas, spec: &Spec, look: &Look, place: &Place) {
    let (Some(now), Some((first, _)), Some((_, right))) =
        (spec.now, place.lanes.first(), place.lanes.last())
    else {
        return;
    };
    let y = place.y(now);
    if y < place.top || y > place.foot {
        return;
    }
    canvas.horizontal(y, *first, *right, 1.35, look.ink);
    let index = spec.lanes.len() - 1;
    let lane = &spec.lanes[index];
    let last = lane.traces.iter().rev().find_map(|trace| trace.pieces.last()?.last().copied());
    if let Some((_, value)) = last {
        let x = place.x(index, lane, value).clamp(place.lanes[index].0, *right);
        canvas.disc(x, y, 8.0, look.paper);
        canvas.disc(x, y, 5.6, look.ink);
    }
}

fn draw_total(
    canvas: &mut Canvas,
    spec: &Spec,
    look: &Look,
    place: &Place,
    total: &Total,
    words: &mut Vec<Word>,
) {
    let Some(lane) = spec.lanes.last() else { return };
    let index = spec.lanes.len() - 1;
    let (left, right) = place.lanes[index];
    let base = place.height - 34.0;
    let middle = (place.foot + 6.0 + base) / 2.0;
    for y in [place.foot + 3.5, place.foot + 7.0] {
        canvas.horizontal(y, left, right, 1.25, look.ink);
    }
    canvas.horizontal(base, left, right, 1.35, look.ink_soft);
    let text = spec.text_scale;
    let room =
        about_width(&total.words.0, 14.0 * text).max(about_width(&total.words.1, 14.0 * text));
    let fits = room + 18.0 < left;
    for (row, line) in [&total.words.0, &total.words.1].into_iter().enumerate().filter(|_| fits) {
        let y = middle + (row as f64 * 17.0 - 8.5) * text;
        words.push(Word { halo: false, ..word(line, left - 18.0, y, 2, WordTone::Form, true) });
    }
    for mark in &total.marks {
        let ink = if mark.fails { look.fail } else { look.ink };
        let x = |value: f64| place.x(index, lane, value).clamp(left, right);
        let (low, at, high) = (x(mark.low), x(mark.value), x(mark.high));
        canvas.horizontal(middle, low, high, 2.0, ink);
        canvas.vertical(low, middle - 7.0, middle + 7.0, 2.0, ink);
        canvas.vertical(high, middle - 7.0, middle + 7.0, 2.0, ink);
        if mark.fails {
            canvas.fill(at - 5.0, middle - 5.0, 10.0, 10.0, ink, 1.0);
        } else {
            canvas.disc(at, middle, 5.0, ink);
        }
        let tone = if mark.fails { WordTone::Fail } else { WordTone::Ink };
        let wide = about_width(&mark.words, 16.0 * text) + 16.0;
        // Beside the interval, outside rails and paper edge.
        let (from, to) = total.marks.iter().fold((low, high), |(from, to), other| {
            let (low, high) = (x(other.low), x(other.high));
            let apart = low > to + 13.0 || high < from - 13.0;
            if apart { (from, to) } else { (from.min(low), to.max(high)) }
        });
        let (x, align) =
            if mark.fails && to + wide < right { (to + 13.0, 0) } else { (from - 13.0, 2) };
        let rail = lane.rails.last().map(|rail| place.x(index, lane, rail.low));
        let x = if align == 2 {
            rail.filter(|r| (0.0..60.0).contains(&(x - r))).map_or(x, |r| r - 12.0)
        } else {
            x
        };
        words.push(Word {
            halo: false,
            size: WordSize::Figure,
            ..word(&mark.words, x, middle, align, tone, true)
        });
    }
    let Some(zero) = total.zero else { return };
    let per_unit = (right - left) / (lane.high - lane.low).abs().max(1e-9);
    let step = nice_step(per_unit, 62.0 * text);
    for value in ticks(lane.low - zero, lane.high - zero, step) {
        let x = place.x(index, lane, value + zero);
        canvas.vertical(x, base - 6.0, base, 1.25, look.edge);
        let sign = if value > 1e-9 { "+" } else { "" };
        words.push(Word {
            text: format!("{sign}{}", figure(value, super::scale::decimals(step), spec)),
            x,
            y: base + 13.0,
            align: 1,
            tone: WordTone::Soft,
            strong: false,
            halo: false,
            size: WordSize::Axis,
        });
    }
}
