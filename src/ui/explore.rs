use std::rc::Rc;

use slint::ComponentHandle;

use super::live_adapter;
use super::markup::{AppWindow, LiveAdapter};
use super::session::{Known, Session};
use crate::units::Instant;
use crate::vehicle::Signal;
use crate::wording::{Language, number, signal_name, signal_unit, signal_value_in, with_unit};

/// Seconds in view that a person can choose.
const SPANS: [f64; 8] = [10.0, 30.0, 60.0, 180.0, 600.0, 1_200.0, 1_800.0, 3_600.0];

/// A reading further from the cursor than this is not told, s.
const NEAR: f64 = 1.5;

/// What of the visit's strip a person looks at; nothing chosen follows the present.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Explore {
    /// Seconds in view, if not the usual ones.
    pub(super) seconds: Option<f64>,
    /// The moment at the strip's foot, s on the visit's clock, if it does not follow the present.
    pub(super) foot: Option<f64>,
    /// Seconds in view when two fingers came down.
    pinched_from: Option<f64>,
    /// The moment that the cursor reads.
    pub(super) cursor: Option<f64>,
}

impl Explore {
    /// Shows less time, larger, or more. What stands at the foot stays there.
    fn zoom(&mut self, closer: bool, usual: f64) {
        let now = self.seconds.unwrap_or(usual);
        let next = if closer {
            SPANS.iter().rev().find(|it| **it < now)
        } else {
            SPANS.iter().find(|it| **it > now)
        };
        if let Some(next) = next {
            self.seconds = Some(*next);
        }
    }

    /// Two fingers came down: what they do counts from what is in view.
    fn begin_pinch(&mut self, usual: f64) {
        self.pinched_from = Some(self.seconds.unwrap_or(usual));
    }

    /// Shows less time the further the fingers are apart: `scale` of their distance at first.
    fn pinch(&mut self, scale: f64) {
        let (shortest, longest) = (SPANS[0], SPANS[SPANS.len() - 1]);
        if let Some(from) = self.pinched_from.filter(|_| scale.is_finite() && scale > 0.0) {
            self.seconds = Some((from / scale).clamp(shortest, longest));
        }
    }

    /// Moves the paper by so many seconds, within the recording; at its end it follows the
    /// present again.
    fn scroll(&mut self, by: f64, usual: f64, (first, last): (f64, f64)) {
        let seconds = self.seconds.unwrap_or(usual);
        let foot = self.foot.unwrap_or(last) - by;
        self.foot = (foot < last).then(|| foot.max((first + seconds).min(last)));
    }
}

/// Connects the strip's own controls.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<LiveAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_zoomed(move |closer| {
        change(&to, |explore, view| explore.zoom(closer, view.usual));
    });
    let to = Rc::downgrade(session);
    adapter.on_pinch_began(move || change(&to, |explore, view| explore.begin_pinch(view.usual)));
    let to = Rc::downgrade(session);
    adapter.on_pinched(move |scale| change(&to, |explore, _| explore.pinch(f64::from(scale))));
    let to = Rc::downgrade(session);
    adapter.on_dragged(move |distance| {
        change(&to, |explore, view| {
            explore.scroll(f64::from(distance) / view.per_second, view.usual, view.span);
        });
    });
    let to = Rc::downgrade(session);
    adapter.on_pointed(move |y| {
        change(&to, |explore, view| {
            let at = view.top + (f64::from(y) - view.paper) / view.per_second;
            // Where it points already, it is put away.
            let same = explore.cursor.is_some_and(|it| (it - at).abs() * view.per_second < 12.0);
            explore.cursor = (!same).then_some(at);
        });
    });
    let to = Rc::downgrade(session);
    adapter.on_followed(move || {
        change(&to, |explore, _| *explore = Explore { foot: None, cursor: None, ..*explore });
    });
}

/// How the strip stands in its place, for turning pixels into moments.
pub(super) struct View {
    /// Seconds in view when nothing is chosen.
    pub(super) usual: f64,
    /// Pixels a second.
    pub(super) per_second: f64,
    /// Where the paper begins, px, and the moment there, s.
    pub(super) paper: f64,
    pub(super) top: f64,
    /// First and last moment of the recording, s.
    pub(super) span: (f64, f64),
}

fn change(to: &std::rc::Weak<Session>, work: impl FnOnce(&mut Explore, &View)) {
    let Some(session) = to.upgrade() else { return };
    let Some(window) = session.window() else { return };
    let Some(view) = live_adapter::visit_view(&window, &session.known()) else { return };
    work(&mut session.known_mut().explore, &view);
    live_adapter::show(&window, &session.known());
}

/// What was read at the cursor, in words.
pub(super) fn told(known: &Known, at: f64) -> String {
    let style = &known.style;
    let start = known.recording.span().map_or(0.0, |(first, _)| first.seconds());
    let since = (at - start).max(0.0);
    let clock = format!("{}:{:04.1}", (since / 60.0) as u64, since % 60.0);
    let clock = match style.language {
        Language::English => clock,
        Language::German => clock.replace('.', ","),
    };
    let reading = |signal: Signal| {
        let series = known.recording.series(signal)?;
        let moment = Instant::from_seconds(at);
        let (time, value) = series.iter().min_by(|a, b| {
            let away = |it: &Instant| it.seconds_since(moment).abs();
            away(&a.0).total_cmp(&away(&b.0))
        })?;
        if time.seconds_since(moment).abs() > NEAR {
            return None;
        }
        let unit = signal_unit(signal, style);
        let decimals = if signal == Signal::TankPressure && unit != "Pa" { 2 } else { 0 };
        let value = number(signal_value_in(signal, value, style), decimals, style.language);
        Some(format!("{} {}", signal_name(signal, style.language), with_unit(&value, &unit)))
    };
    let readings = [Signal::TankPressure, Signal::PurgeCommand, Signal::EngineSpeed];
    let readings: Vec<String> = readings.into_iter().filter_map(reading).collect();
    if readings.is_empty() {
        format!("{clock}: {}", style.of("no reading", "kein Wert"))
    } else {
        format!("{clock}: {}", readings.join(", "))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zooming_goes_through_the_spans_and_stops_at_their_ends() {
        let mut explore = Explore::default();
        explore.zoom(false, 60.0);
        assert_eq!(explore.seconds, Some(180.0));
        for _ in 0..9 {
            explore.zoom(false, 60.0);
        }
        assert_eq!(explore.seconds, Some(3_600.0));
        for _ in 0..9 {
            explore.zoom(true, 60.0);
        }
        assert_eq!(explore.seconds, Some(10.0));
    }

    #[test]
    fn two_fingers_stretch_what_was_in_view_when_they_came_down() {
        let mut explore = Explore::default();
        explore.pinch(2.0);
        assert_eq!(explore.seconds, None, "no finger is down");
        explore.begin_pinch(60.0);
        explore.pinch(2.0);
        assert_eq!(explore.seconds, Some(30.0));
        explore.pinch(0.5);
        assert_eq!(explore.seconds, Some(120.0), "of what was there at first");
        explore.pinch(0.001);
        assert_eq!(explore.seconds, Some(3_600.0));
        explore.pinch(100.0);
        assert_eq!(explore.seconds, Some(10.0));
    }

    #[test]
    fn scrolling_stays_within_the_recording_and_follows_again_at_its_end() {
        let mut explore = Explore::default();
        let span = (0.0, 600.0);
        explore.scroll(100.0, 60.0, span);
        assert_eq!(explore.foot, Some(500.0));
        explore.scroll(9_000.0, 60.0, span);
        assert_eq!(explore.foot, Some(60.0), "the beginning stands at the top");
        explore.scroll(-9_000.0, 60.0, span);
        assert_eq!(explore.foot, None);
        // A recording shorter than the view has nowhere to go.
        explore.scroll(5.0, 60.0, (0.0, 20.0));
        assert_eq!(explore.foot, Some(20.0));
    }
}
