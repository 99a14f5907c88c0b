use super::strip::{Dimension, Event, Extent, Gap, Lane, RailSpan, Spec, Trace, TraceKind};
use super::strip_zoom;
use crate::checks::{FitCurve, Rails};
use crate::recording::{Action, Recording, Series};
use crate::units::Instant;
use crate::vehicle::Signal;
use crate::wording::{Language, Style, action_name, number, signal_name};

/// A pause longer than this, in seconds, is a gap: nothing is drawn across it.
const LONGEST_PAUSE: f64 = 1.5;
/// The present stands at this share of the height once the paper moves.
const NOW_AT: f64 = 0.8;
/// Time constant, in seconds, of the landing line: a free vent path comes back well within a
/// second (see the checks' own limits).
const LANDING_TIME: f64 = 0.5;

/// What a live strip shows.
pub(super) struct LiveStrip<'a> {
    /// The visit's recording.
    pub(super) recording: &'a Recording,
    /// Earliest moment to show.
    pub(super) from: Instant,
    /// Seconds after that at the top; `None` follows the present.
    pub(super) first: Option<f64>,
    /// The present; `None` shows the recording's end without a now-line.
    pub(super) now: Option<Instant>,
    /// Shows exactly up to here, still; else the strip follows the present.
    pub(super) until: Option<Instant>,
    /// Where the strip stops although readings go on, as when a check has ended.
    pub(super) end: Option<Instant>,
    /// Seconds in view.
    pub(super) seconds: f64,
    /// Bands known.
    pub(super) rails: &'a [Rails],
    /// What was fitted to the tank pressure.
    pub(super) fits: &'a [FitCurve],
    /// The lane to the left of the tank's, if there is room for one.
    pub(super) beside: Option<Signal>,
    /// Whether the scale goes finer around the rails once the trace has settled there.
    pub(super) zooms: bool,
    /// Whether to show where a tight valve would land.
    pub(super) landing: bool,
    /// Units and language.
    pub(super) style: &'a Style,
}

impl<'a> LiveStrip<'a> {
    /// Part of a recording that is over, the tank's lane alone.
    pub(super) fn still(
        recording: &'a Recording,
        (from, until): (Instant, Instant),
        rails: &'a [Rails],
        style: &'a Style,
    ) -> Self {
        Self {
            recording,
            from,
            first: None,
            now: None,
            until: Some(until),
            end: None,
            seconds: until.seconds_since(from),
            rails,
            fits: &[],
            beside: None,
            zooms: false,
            landing: false,
            style,
        }
    }

    /// The description of the strip.
    pub(super) fn spec(&self) -> Spec {
        let end = self
            .until
            .map(|_| self.from)
            .or(self.now)
            .or(self.recording.span().map(|(_, last)| last))
            .unwrap_or(self.from);
        let passed = end.seconds_since(self.from).max(0.0);
        let first = self.first.unwrap_or((passed - self.seconds * NOW_AT).max(0.0));
        let window = (self.from.seconds() + first, self.from.seconds() + first + self.seconds);
        let relative = |at: Instant| at.seconds_since(self.from);
        let tank = self.tank_lane(window, &relative);
        let beside = self.beside.filter(|signal| self.recording.series(*signal).is_some());
        let lanes = beside.map(|signal| self.beside_lane(signal, window)).into_iter();
        let shown = |at: Instant| at >= self.from && self.end.is_none_or(|end| at <= end);
        let events = self.recording.actions().iter().filter(|action| shown(action.at));
        Spec {
            seconds: (first, first + self.seconds),
            gaps: self.gaps(window),
            lanes: lanes.chain([tank]).collect(),
            events: events
                .map(|action| Event {
                    at: relative(action.at),
                    words: action_name(action.action, self.style.language).to_owned(),
                })
                .collect(),
            now: self.now.map(relative),
            decimal_comma: self.style.language == Language::German,
            text_scale: 1.0,
            ..Spec::default()
        }
    }

    /// Takes away what came after the end.
    fn cut(&self, pieces: &mut [Vec<(f64, f64)>]) {
        let Some(end) = self.end.map(|end| end.seconds_since(self.from)) else { return };
        for piece in pieces {
            piece.retain(|(time, _)| *time <= end);
        }
    }

    /// When a band ends, at the latest with the strip or where the vent is sealed: a sealed tank
    /// must not be still.
    fn ends(&self, rails: &Rails) -> Option<Instant> {
        let mut actions = self.recording.actions().iter();
        let sealed = actions.find(|it| it.action == Action::VentSealed && it.at > rails.from);
        [rails.until, self.end, sealed.map(|it| it.at)].into_iter().flatten().min()
    }

    fn unit(&self) -> f64 {
        1.0 / self.style.pressure.pascal()
    }

    fn tank_lane(&self, window: (f64, f64), relative: &dyn Fn(Instant) -> f64) -> Lane {
        let factor = self.unit();
        let series = self.recording.series(Signal::TankPressure);
        let pieces = series.map(|series| pieces(series, self.from, window, factor));
        let mut pieces = pieces.unwrap_or_default();
        self.cut(&mut pieces);
        let rails: Vec<RailSpan> = self
            .rails
            .iter()
            .filter(|rail| self.ends(rail).is_none_or(|until| until.seconds() >= window.0))
            .map(|rail| RailSpan {
                from: relative(rail.from),
                until: self.ends(rail).map_or(f64::INFINITY, relative),
                low: rail.low * factor,
                high: rail.high * factor,
            })
            .collect();
        let values = pieces.iter().flatten().map(|(_, value)| *value);
        let (low, high) =
            span(values.chain(rails.iter().flat_map(|rail| [rail.low, rail.high])), factor);
        let zoom = if self.zooms { strip_zoom::zoom(&pieces, &rails, (low, high)) } else { None };
        let ((low, high), gain) = zoom.unwrap_or(((low, high), 1.0));
        Lane {
            name: lane_name(Signal::TankPressure, self.style),
            scale_words: self.scale_words(gain),
            extent: Extent::Rest,
            low,
            high,
            dimension: self.dimension(&pieces, &rails),
            landing: self.landing_line(&pieces, &rails),
            landing_words: self
                .style
                .of("a tight valve lands here", "hier landet ein dichtes Ventil")
                .to_owned(),
            traces: [Trace { kind: TraceKind::Judged, pieces, name: String::new() }]
                .into_iter()
                .chain(self.fitted(window))
                .collect(),
            rails,
        }
    }

    /// What was fitted, named where it is first in view.
    fn fitted(&self, window: (f64, f64)) -> Option<Trace> {
        let factor = self.unit();
        let in_view = |time: f64| (window.0..=window.1).contains(&time);
        let pieces: Vec<Vec<(f64, f64)>> = self
            .fits
            .iter()
            .map(|fit| {
                let points = fit.points.iter().filter(|it| in_view(it.0.seconds()));
                points.map(|it| (it.0.seconds_since(self.from), it.1.value * factor)).collect()
            })
            .filter(|piece: &Vec<(f64, f64)>| piece.len() > 1)
            .collect();
        let name = self.style.of("fit", "Anpassung").to_owned();
        (!pieces.is_empty()).then_some(Trace { kind: TraceKind::Fit, pieces, name })
    }

    /// Says that the scale is finer than usual, and how much.
    fn scale_words(&self, gain: f64) -> String {
        if gain <= 1.0 {
            return String::new();
        }
        let times = number(gain, usize::from(gain < 4.0), self.style.language);
        self.style.of("Scale {} times finer", "Maßstab {}-mal feiner").replace("{}", &times)
    }

    fn beside_lane(&self, signal: Signal, window: (f64, f64)) -> Lane {
        let series = self.recording.series(signal);
        let pieces = series.map(|series| pieces(series, self.from, window, 1.0));
        let mut pieces = pieces.unwrap_or_default();
        self.cut(&mut pieces);
        Lane {
            name: lane_name(signal, self.style),
            scale_words: String::new(),
            extent: Extent::Fixed(if signal == Signal::Throttle { 150.0 } else { 74.0 }),
            low: 0.0,
            high: 100.0,
            traces: vec![Trace { kind: TraceKind::Area, pieces, name: String::new() }],
            rails: Vec::new(),
            landing: Vec::new(),
            landing_words: String::new(),
            dimension: None,
        }
    }

    fn gaps(&self, window: (f64, f64)) -> Vec<Gap> {
        let Some(series) = self.recording.series(Signal::TankPressure) else { return Vec::new() };
        let start = series.times().partition_point(|time| time.seconds() < window.0 - 60.0);
        let pauses = series.times()[start..].windows(2).filter_map(|pair| {
            let pause = pair[1].seconds_since(pair[0]);
            (pause > LONGEST_PAUSE && pair[0] >= self.from).then(|| Gap {
                from: pair[0].seconds_since(self.from),
                until: pair[1].seconds_since(self.from),
                words: self.style.of("No readings", "Keine Werte").to_owned(),
                note: format!("{} s", number(pause, 1, self.style.language)),
            })
        });
        pauses.collect()
    }

    /// How far the trace came to rest from the middle of the band that holds, once it stands
    /// outside for as long as a figure needs.
    fn dimension(&self, pieces: &[Vec<(f64, f64)>], rails: &[RailSpan]) -> Option<Dimension> {
        let rail = rails.last()?;
        let inside = |time: f64| time >= rail.from && time <= rail.until;
        let run: Vec<(f64, f64)> = pieces
            .iter()
            .flatten()
            .filter(|(time, _)| inside(*time))
            .rev()
            .take_while(|(_, value)| *value < rail.low || *value > rail.high)
            .copied()
            .collect();
        let (last, first) = (run.first()?.0, run.last()?.0);
        if last - first < self.seconds * 0.08 {
            return None;
        }
        let mut values: Vec<f64> = run.iter().map(|(_, value)| *value).collect();
        values.sort_by(f64::total_cmp);
        let middle = values.get(values.len() / 2).copied()?;
        let centre = (rail.low + rail.high) / 2.0;
        let (to, word) = if middle < rail.low {
            (rail.low, self.style.of("low", "zu tief"))
        } else {
            (rail.high, self.style.of("high", "zu hoch"))
        };
        let away = (middle - centre).abs();
        let decimals = if away >= 20.0 { 0 } else { 2 };
        let figure = number(away, decimals, self.style.language);
        let at = first + (last - first) * 0.6;
        Some(Dimension {
            at,
            from: middle,
            to,
            words: format!("{figure} {} {word}", self.style.pressure.symbol()),
        })
    }

    /// From the last unplugging on: back to the middle of the band, as with a free vent path.
    fn landing_line(&self, pieces: &[Vec<(f64, f64)>], rails: &[RailSpan]) -> Vec<(f64, f64)> {
        let unplugged =
            self.recording.actions().iter().rev().find(|action| {
                matches!(action.action, Action::PurgeUnplugged | Action::PurgePlugged)
            });
        let (true, Some(unplugged), Some(rail)) = (self.landing, unplugged, rails.last()) else {
            return Vec::new();
        };
        if unplugged.action != Action::PurgeUnplugged {
            return Vec::new();
        }
        let start = unplugged.at.seconds_since(self.from);
        let from = pieces.iter().flatten().rev().find(|(time, _)| *time <= start);
        let Some((_, from)) = from else { return Vec::new() };
        let middle = (rail.low + rail.high) / 2.0;
        let fall = |t: f64| middle + (from - middle) * (-t / LANDING_TIME).exp();
        (0..=60).map(|step| f64::from(step) * 0.1).map(|t| (start + t, fall(t))).collect()
    }
}

/// `Tank pressure, Pa`.
pub(super) fn lane_name(signal: Signal, style: &Style) -> String {
    let unit = crate::wording::signal_unit(signal, style);
    let name = match signal {
        Signal::PurgeCommand => style.of("Purge", "Spülung"),
        Signal::Throttle => style.of("Throttle", "Gas"),
        other => signal_name(other, style.language),
    };
    format!("{name}, {unit}")
}

/// A series in pieces, cut at pauses, from just before the window on; times relative to `from`.
pub(super) fn pieces(
    series: &Series,
    from: Instant,
    window: (f64, f64),
    factor: f64,
) -> Vec<Vec<(f64, f64)>> {
    let mut pieces: Vec<Vec<(f64, f64)>> = Vec::new();
    let start = series.times().partition_point(|time| time.seconds() < window.0 - 2.0);
    let mut last: Option<Instant> = None;
    for (time, value) in series.iter().skip(start).filter(|(time, _)| *time >= from) {
        if time.seconds() > window.1 {
            break;
        }
        if last.is_none_or(|last| time.seconds_since(last) > LONGEST_PAUSE) {
            pieces.push(Vec::new());
        }
        last = Some(time);
        if let Some(piece) = pieces.last_mut() {
            piece.push((time.seconds_since(from), value * factor));
        }
    }
    pieces
}

/// The scale's ends: room on either side, zero in view, and never so narrow that noise fills it.
pub(super) fn span(values: impl Iterator<Item = f64>, factor: f64) -> (f64, f64) {
    let (low, high) = values
        .filter(|value| value.is_finite())
        .fold((0.0_f64, 0.0_f64), |(low, high), value| (low.min(value), high.max(value)));
    let least = 160.0 * factor;
    let wide = (high - low).max(least);
    let pad = wide * 0.14;
    let low = (low - pad).min(high - least);
    (low, high + pad)
}
