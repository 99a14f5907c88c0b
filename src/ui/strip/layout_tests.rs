use slint::Rgb8Pixel;

use super::spec::{Event, Extent, Lane, Look, RailSpan, Spec, Trace, TraceKind, WordSize};
use super::words::about_width;
use super::{Word, draw, nice_step, ticks};

const PAPER: Rgb8Pixel = Rgb8Pixel { r: 250, g: 252, b: 248 };
const FAIL: Rgb8Pixel = Rgb8Pixel { r: 151, g: 25, b: 16 };
const INK: Rgb8Pixel = Rgb8Pixel { r: 20, g: 25, b: 26 };

fn look() -> Look {
    Look { paper: PAPER, ink: INK, fail: FAIL, ..Look::default() }
}

fn lane(value: f64, rails: Vec<RailSpan>) -> Lane {
    let piece = (0..200).map(|i| (f64::from(i) * 0.1, value)).collect();
    Lane {
        name: "Tank pressure, Pa".to_owned(),
        extent: Extent::Rest,
        low: -400.0,
        high: 100.0,
        traces: vec![Trace { kind: TraceKind::Judged, pieces: vec![piece], name: String::new() }],
        rails,
        landing: Vec::new(),
        landing_words: String::new(),
        scale_words: String::new(),
        dimension: None,
    }
}

fn spec(value: f64, rails: Vec<RailSpan>) -> Spec {
    Spec {
        seconds: (0.0, 24.0),
        lanes: vec![lane(value, rails)],
        now: Some(20.0),
        text_scale: 1.0,
        ..Spec::default()
    }
}

fn red_pixels(spec: &Spec) -> usize {
    let frame = draw(spec, &look(), 360.0, 300.0, 1.0);
    frame.picture.as_slice().iter().filter(|pixel| **pixel == FAIL).count()
}

fn rail(low: f64, high: f64) -> RailSpan {
    RailSpan { from: 5.0, until: 15.0, low, high }
}

#[test]
fn trace_is_red_only_outside_rails_that_hold() {
    assert_eq!(red_pixels(&spec(-200.0, Vec::new())), 0, "no rails, no judgement");
    assert_eq!(red_pixels(&spec(0.0, vec![rail(-24.0, 24.0)])), 0, "between the rails");
    assert!(red_pixels(&spec(-200.0, vec![rail(-24.0, 24.0)])) > 100, "outside the rails");
}

#[test]
fn nothing_is_drawn_across_a_gap() {
    let mut whole = spec(-200.0, Vec::new());
    let piece = whole.lanes[0].traces[0].pieces[0].clone();
    whole.lanes[0].traces[0].pieces = vec![piece[..50].to_vec(), piece[150..].to_vec()];
    let frame = draw(&whole, &look(), 360.0, 300.0, 1.0);
    let width = frame.picture.width() as usize;
    // Second 10 lies in the gap, at 10/24 of the paper between its top and its foot.
    let row = (28.0 + (300.0 - 16.0 - 28.0) * 10.0 / 24.0) as usize;
    let line = &frame.picture.as_slice()[row * width..(row + 1) * width];
    assert!(line.iter().all(|pixel| *pixel != INK));
}

#[test]
fn of_two_events_that_touch_only_the_newer_keeps_its_words() {
    let mut crowded = spec(-200.0, Vec::new());
    crowded.now = None;
    crowded.events = vec![
        Event { at: 10.0, words: "first".to_owned() },
        Event { at: 10.4, words: "second".to_owned() },
        Event { at: 10.8, words: "third".to_owned() },
    ];
    let frame = draw(&crowded, &look(), 360.0, 300.0, 1.0);
    let labels: Vec<&str> = frame
        .words
        .iter()
        .filter(|word| word.size == WordSize::Label)
        .map(|word| word.text.as_str())
        .collect();
    assert!(labels.contains(&"third"));
    assert!(!labels.contains(&"first"));
}

#[test]
fn words_stay_within_the_strip() {
    let frame = draw(&spec(-200.0, vec![rail(-24.0, 24.0)]), &look(), 360.0, 300.0, 1.0);
    assert!(!frame.words.is_empty());
    for word in &frame.words {
        assert!((0.0..=360.0).contains(&word.x), "{word:?}");
        assert!((0.0..=300.0).contains(&word.y), "{word:?}");
    }
}

#[test]
fn minus_on_an_axis_is_the_true_minus() {
    let frame = draw(&spec(-200.0, Vec::new()), &look(), 360.0, 300.0, 1.0);
    assert!(frame.words.iter().any(|word| word.text == "−400"));
    assert!(frame.words.iter().all(|word| !word.text.contains('-')));
}

#[test]
fn steps_are_one_two_or_five_times_a_power_of_ten() {
    assert!((nice_step(1.0, 44.0) - 50.0).abs() < 1e-9);
    assert!((nice_step(10.0, 44.0) - 5.0).abs() < 1e-9);
    assert!((nice_step(100.0, 44.0) - 0.5).abs() < 1e-9);
    assert_eq!(ticks(-100.0, 100.0, 50.0), [-100.0, -50.0, 0.0, 50.0, 100.0]);
    assert!(ticks(0.0, 1.0, 0.0).is_empty());
}

/// The dashes lie over the trace in the form's colour, and the trace shows between them.
#[test]
fn fit_is_dashed_over_the_trace() {
    const FORM: Rgb8Pixel = Rgb8Pixel { r: 15, g: 87, b: 64 };
    let mut both = spec(-200.0, Vec::new());
    let pieces = both.lanes[0].traces[0].pieces.clone();
    let fit = Trace { kind: TraceKind::Fit, pieces, name: "fit".to_owned() };
    let count = |spec: &Spec, ink| {
        let frame = draw(spec, &Look { form: FORM, ..look() }, 360.0, 300.0, 1.0);
        frame.picture.as_slice().iter().filter(|pixel| **pixel == ink).count()
    };
    let (alone, no_fit) = (count(&both, INK), count(&both, FORM));
    both.lanes[0].traces.push(fit);
    assert!(count(&both, FORM) > no_fit + 50);
    assert!((alone / 4..alone * 3 / 4).contains(&count(&both, INK)));
}

/// Two visits whose traces nearly coincide, or lie far apart: both names can be read, and neither
/// lies on the other's trace.
#[test]
fn names_of_traces_keep_out_of_each_others_way() {
    for (apart, width, text_scale) in
        [(0.0, 320.0, 1.0), (2.0, 700.0, 1.0), (15.0, 320.0, 1.4), (250.0, 700.0, 1.4)]
    {
        let mut both = spec(-200.0, Vec::new());
        (both.now, both.text_scale) = (None, text_scale);
        both.events = vec![Event { at: 3.0, words: "Throttle opened".to_owned() }];
        let trace = |kind, shift: f64, name: &str| Trace {
            kind,
            pieces: vec![(0..200).map(|i| (f64::from(i) * 0.1, shift - 200.0)).collect()],
            name: name.to_owned(),
        };
        both.lanes[0].traces = vec![
            trace(TraceKind::Before, 0.0, "Visit 1"),
            trace(TraceKind::Plain, apart, "Visit 2"),
        ];
        let frame = draw(&both, &look(), width, 500.0, 1.0);
        let wanted = ["Visit 1", "Visit 2", "Throttle opened"];
        let found = |text: &&str| frame.words.iter().find(|word| word.text == **text);
        let names: Vec<&Word> = wanted.iter().filter_map(found).collect();
        assert_eq!(names.len(), wanted.len(), "{:?}", frame.words);
        let span = |word: &Word| {
            let wide = about_width(&word.text, 14.0 * text_scale);
            let left = word.x - wide * f64::from(word.align) / 2.0;
            (left, left + wide)
        };
        for (one, other) in [(0, 1), (0, 2), (1, 2)] {
            let (a, b) = (span(names[one]), span(names[other]));
            let beside = a.1 < b.0 || b.1 < a.0;
            let below = (names[one].y - names[other].y).abs() > 14.0 * text_scale;
            assert!(beside || below, "{apart} {width}: {:?} {:?}", names[one], names[other]);
        }
        let axis = frame.words.iter().filter(|it| it.size == WordSize::Axis);
        let axis = axis.filter_map(|it| Some((it.text.replace('−', "-").parse().ok()?, it.x)));
        let axis: Vec<(f64, f64)> = axis.collect();
        let (first, last) = (axis[0], axis[axis.len() - 1]);
        for (name, value) in [(names[0], apart - 200.0), (names[1], -200.0)] {
            let x = first.1 + (value - first.0) / (last.0 - first.0) * (last.1 - first.1);
            let (from, to) = span(name);
            assert!(x < from || x > to, "{apart} {width}: {name:?} lies on the other trace");
        }
    }
}
