use super::layout::{Place, Word};
use super::spec::{Lane, Spec, Trace, TraceKind, WordSize, WordTone};
use super::words::about_width;

/// From the start of a trace down to its name, and from the trace to the name's side.
const BELOW_START: f64 = 38.0;
const BESIDE: f64 = 16.0;

/// How many lines further down a name may go to find room.
const ROWS: u32 = 8;

/// A rectangle on the strip.
#[derive(Clone, Copy)]
struct Area {
    left: f64,
    right: f64,
    top: f64,
    foot: f64,
}

impl Area {
    fn meets(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.foot
            && other.top < self.foot
    }

    fn of(word: &Word, text: f64) -> Self {
        let size = if word.size == WordSize::Figure { 16.0 } else { 14.0 } * text;
        let wide = about_width(&word.text, size);
        let left = word.x - wide * f64::from(word.align) / 2.0;
        let (top, foot) = (word.y - size * 0.65, word.y + size * 0.65);
        Self { left, right: left + wide, top, foot }
    }
}

/// The names of the traces, each beside its own trace: where no other word stands and no other
/// line runs, as far as there is such a place near its start.
pub(super) fn names(
    spec: &Spec,
    place: &Place,
    (index, lane): (usize, &Lane),
    words: &mut Vec<Word>,
) {
    let lines = |trace: &Trace| -> Vec<Area> {
        trace.pieces.iter().flat_map(|it| segments(&place.points(index, lane, it))).collect()
    };
    let (left, right) = place.lanes[index];
    let events = spec.events.iter().map(|it| place.y(it.at));
    let across = events.map(|y| Area { left, right, top: y - 1.0, foot: y + 1.0 });
    let fixed: Vec<Area> = across.chain(rails(place, (index, lane))).collect();
    for (which, trace) in lane.traces.iter().enumerate() {
        let start = trace.pieces.first().and_then(|piece| piece.first());
        let Some((first, value)) = start.filter(|_| !trace.name.is_empty()) else { continue };
        let own = lines(trace);
        let others: Vec<Area> = lane
            .traces
            .iter()
            .enumerate()
            .filter(|(at, it)| *at != which && it.kind != TraceKind::Area)
            .flat_map(|(_, it)| lines(it))
            .collect();
        let taken: Vec<Area> =
            words.iter().filter(|it| it.halo).map(|it| Area::of(it, spec.text_scale)).collect();
        let start = (place.x(index, lane, *value), place.y(*first) + BELOW_START);
        // Of two traces the name stands on the side away from the other.
        let right_first = !others.is_empty() && middle(&own) > middle(&others);
        let tried = candidates(trace, &own, &fixed, (start, right_first), spec.text_scale);
        let inside = |it: &Area| it.left > left && it.right < right && it.foot < place.foot;
        let meets = |it: &Area, some: &[Area]| some.iter().any(|other| other.meets(it));
        let readable = |it: &&Word| {
            let area = Area::of(it, spec.text_scale);
            inside(&area) && !meets(&area, &taken)
        };
        let clear = |it: &&Word| {
            let area = Area::of(it, spec.text_scale);
            !meets(&area, &others) && !meets(&area, &fixed)
        };
        // Beyond the other trace a name would pass for the other's.
        let nearest = |it: &&Word| {
            let height = 12.0 * spec.text_scale;
            let (own, other) = (reach(&own, it.y, height), reach(&others, it.y, height));
            own.zip(other).is_none_or(|(own, other)| match it.align {
                2 => own.0 <= other.0,
                _ => own.1 >= other.1,
            })
        };
        let chosen = tried.iter().find(|it| readable(it) && clear(it) && nearest(it));
        let chosen = chosen.or(tried.iter().find(|it| readable(it) && clear(it)));
        let chosen = chosen.or(tried.iter().find(readable)).or(tried.first());
        words.extend(chosen.cloned());
    }
}

/// The two lines of each pair of rails.
fn rails(place: &Place, (index, lane): (usize, &Lane)) -> impl Iterator<Item = Area> {
    lane.rails.iter().flat_map(move |rail| {
        let (top, foot) = (place.y(rail.from), place.y(rail.until).min(place.foot));
        [rail.low, rail.high].map(|value| {
            let x = place.x(index, lane, value);
            Area { left: x - 1.0, right: x + 1.0, top, foot }
        })
    })
}

fn middle(lines: &[Area]) -> f64 {
    let sum: f64 = lines.iter().map(|it| it.left + it.right).sum();
    sum / (2 * lines.len()).max(1) as f64
}

/// Where the name could stand: beside its trace, or beyond the rail there, on the better side, then
/// on the other, then line by line further down.
fn candidates(
    trace: &Trace,
    own: &[Area],
    fixed: &[Area],
    ((x, y), right_first): ((f64, f64), bool),
    text: f64,
) -> Vec<Word> {
    let tone = match trace.kind {
        TraceKind::Before => WordTone::Fail,
        TraceKind::Fit => WordTone::Form,
        _ => WordTone::Ink,
    };
    let wide = about_width(&trace.name, 16.0 * text);
    let rows = (0..ROWS).flat_map(|row| {
        let y = y + f64::from(row) * 22.0 * text;
        let height = 12.0 * text;
        let (least, most) = reach(own, y, height).unwrap_or((x, x));
        let (before, after) = (least - BESIDE, most + BESIDE);
        let upright = |it: &&Area| near(it, y, height) && it.right - it.left < 4.0;
        let rails = || fixed.iter().filter(upright);
        let low = rails().map(|it| it.left).filter(|it| (before - wide..before).contains(it));
        let high = rails().map(|it| it.right).filter(|it| (after..after + wide).contains(it));
        let low = low.fold(before, |x, rail| x.min(rail - 8.0));
        let high = high.fold(after, |x, rail| x.max(rail + 8.0));
        let mut sides = [[(before, 2), (low, 2)], [(after, 0), (high, 0)]];
        if right_first {
            sides.reverse();
        }
        sides.into_iter().flatten().map(move |(x, align)| (x, y, align))
    });
    rows.map(|(x, y, align)| Word {
        text: trace.name.clone(),
        x,
        y,
        align,
        tone,
        strong: true,
        halo: true,
        size: WordSize::Figure,
    })
    .collect()
}

fn near(it: &Area, y: f64, height: f64) -> bool {
    it.top < y + height && it.foot > y - height
}

/// How far lines reach to the left and to the right near this height; `None` where none runs.
fn reach(lines: &[Area], y: f64, height: f64) -> Option<(f64, f64)> {
    lines.iter().filter(|it| near(it, y, height)).fold(None, |reach: Option<(f64, f64)>, it| {
        let (least, most) = reach.unwrap_or((it.left, it.right));
        Some((least.min(it.left), most.max(it.right)))
    })
}

/// What each stretch between two points covers.
fn segments(points: &[(f64, f64)]) -> Vec<Area> {
    let between = |(a, b): (&(f64, f64), &(f64, f64))| Area {
        left: a.0.min(b.0),
        right: a.0.max(b.0),
        top: a.1.min(b.1),
        foot: a.1.max(b.1),
    };
    points.iter().zip(points.iter().skip(1)).map(between).collect()
}
