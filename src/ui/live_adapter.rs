use std::rc::Rc;

use slint::{ComponentHandle, Image, ModelRc, Rgb8Pixel, VecModel};

use super::explore::{self, View};
use super::markup::{
    AppWindow, LinkLook, LinkView, LiveAdapter, Navigation, Page, ReadingView, StripPlace,
    StripView, StripWord, Tokens, Tone,
};
use super::plot_model::LiveStrip;
use super::session::{Known, Session};
use super::strip::{Look, Spec, Word, WordSize, WordTone, draw, paper};
use crate::checks::Step;
use crate::evidence::Check;
use crate::jobs::LinkState;
use crate::units::Instant;
use crate::vehicle::Signal;
use crate::wording::{number, signal_name, signal_unit, signal_value_in};

/// Two polling intervals of a usual adapter; older readings say how old they are.
const STALE_AFTER: f64 = 1.0;

/// Connects the strips' callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let to = Rc::downgrade(session);
    window.global::<LiveAdapter>().on_resized(move |place, width, height| {
        if let Some(session) = to.upgrade() {
            session.resized(place, width, height);
        }
    });
    explore::connect(window, session);
}

/// Shows the reading, the link, and the strip of the page in view.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let adapter = window.global::<LiveAdapter>();
    adapter.set_reading(reading(known));
    adapter.set_link(link(known));
    match window.global::<Navigation>().get_page() {
        Page::Visit => {
            if let Some(view) = visit_strip(window, known) {
                adapter.set_visit_strip(view);
            }
        }
        Page::Check => {
            if let Some(view) = check_strip(window, known) {
                adapter.set_check_strip(view);
            }
        }
        _ => {}
    }
}

/// What the visit's strip shows, its size, and the moment from which its seconds count.
fn visit_spec(known: &Known) -> Option<(Spec, (f64, f64), Instant)> {
    let size = *known.sizes.get(&(StripPlace::Visit as u8))?;
    let peek = size.1 < 150.0;
    let rails: Vec<_> = known.rails.values().flatten().copied().collect();
    let (first, last) = known.recording.span().unwrap_or((Instant::ZERO, Instant::ZERO));
    let look = if peek { explore::Explore::default() } else { known.explore };
    let seconds = look.seconds.unwrap_or(usual_seconds(peek));
    let from = match look.foot {
        Some(_) => first,
        None => Instant::from_seconds((last.seconds() - seconds.max(600.0)).max(first.seconds())),
    };
    let mut spec = LiveStrip {
        recording: &known.recording,
        from,
        first: look.foot.map(|foot| (foot - seconds - first.seconds()).max(0.0)),
        now: Some(known.now.max(first)),
        until: None,
        end: None,
        seconds,
        rails: &rails,
        fits: &[],
        beside: (!peek).then_some(Signal::PurgeCommand),
        zooms: false,
        landing: false,
        style: &known.style,
    }
    .spec();
    spec.peek = peek;
    Some((spec, size, from))
}

fn usual_seconds(peek: bool) -> f64 {
    if peek { 30.0 } else { 60.0 }
}

fn visit_strip(window: &AppWindow, known: &Known) -> Option<StripView> {
    let (spec, size, from) = visit_spec(known)?;
    let mut view = render(window, &spec, size, known);
    if let (Some(at), false) = (known.explore.cursor, spec.peek) {
        let (top, foot) = paper(&with_text(window, &spec), size);
        let along = at - from.seconds() - spec.seconds.0;
        let y = top + along / (spec.seconds.1 - spec.seconds.0) * (foot - top);
        if (top..=foot).contains(&y) {
            view.cursor_y = y as f32;
            view.cursor_words = explore::told(known, at).into();
        }
    }
    view.away = known.explore.foot.is_some() && !spec.peek;
    Some(view)
}

/// How the visit's strip stands in its place.
pub(super) fn visit_view(window: &AppWindow, known: &Known) -> Option<View> {
    let (spec, size, from) = visit_spec(known)?;
    let (first, last) = known.recording.span()?;
    let (top, foot) = paper(&with_text(window, &spec), size);
    let (begins, ends) = spec.seconds;
    Some(View {
        usual: usual_seconds(spec.peek),
        per_second: (foot - top) / (ends - begins).max(1e-6),
        paper: top,
        top: from.seconds() + begins,
        span: (first.seconds(), last.seconds().max(known.now.seconds())),
    })
}

fn with_text(window: &AppWindow, spec: &Spec) -> Spec {
    let text_scale = f64::from(window.global::<Tokens>().get_text_scale());
    Spec { text_scale, ..spec.clone() }
}

fn check_strip(window: &AppWindow, known: &Known) -> Option<StripView> {
    let size = *known.sizes.get(&(StripPlace::Check as u8))?;
    let progress = known.progress.as_ref()?;
    let wide = window.global::<Tokens>().get_wide();
    let from = check_start(known, progress.since);
    let beside = match progress.check {
        Check::ThrottleFollow | Check::RepairProof => Signal::Throttle,
        _ => Signal::PurgeCommand,
    };
    let seconds = match progress.check {
        Check::RestZero | Check::IdleZero | Check::SealedHold | Check::CapOffZero => 40.0,
        Check::AfterFillUp => 150.0,
        _ if wide => 34.0,
        _ => 24.0,
    };
    let mut spec = LiveStrip {
        recording: &known.recording,
        from,
        first: None,
        now: known.ended.is_none().then_some(known.now),
        until: None,
        end: known.ended_at.filter(|_| known.ended.is_some()),
        seconds,
        rails: &progress.rails,
        fits: if known.ended.is_some() { &known.fits } else { &[] },
        beside: wide.then_some(beside),
        zooms: !wide,
        landing: progress.step == Step::KeepUnplugged,
        style: &known.style,
    }
    .spec();
    spec.open_foot = !wide;
    Some(render(window, &spec, size, known))
}

/// When the running check began: the start of its first rails or step known, so that the strip's
/// time does not jump between steps.
fn check_start(known: &Known, since: Instant) -> Instant {
    known.check_began.unwrap_or(since)
}

/// Draws a description at the window's scale and turns it into what the page shows.
pub(super) fn render(
    window: &AppWindow,
    spec: &Spec,
    (width, height): (f64, f64),
    known: &Known,
) -> StripView {
    let scale = f64::from(window.window().scale_factor());
    let spec = with_text(window, spec);
    let frame = draw(&spec, &look(window), width, height, scale);
    let words: Vec<StripWord> = frame.words.iter().map(map_word).collect();
    StripView {
        image: Image::from_rgb8(frame.picture),
        words: ModelRc::new(VecModel::from(words)),
        label: told(known).into(),
        cursor_y: -1.0,
        ..StripView::default()
    }
}

fn map_word(word: &Word) -> StripWord {
    StripWord {
        text: word.text.as_str().into(),
        x: word.x as f32,
        y: word.y as f32,
        align: i32::from(word.align),
        tone: match word.tone {
            WordTone::Ink => Tone::Ink,
            WordTone::Soft => Tone::Soft,
            WordTone::Form => Tone::Form,
            WordTone::Fail => Tone::Fail,
        },
        strong: word.strong,
        halo: word.halo,
        size: match word.size {
            WordSize::Axis => 0,
            WordSize::Label => 1,
            WordSize::Figure => 2,
        },
    }
}

/// The theme's colours, for the picture.
pub(super) fn look(window: &AppWindow) -> Look {
    let tokens = window.global::<Tokens>();
    let rgb =
        |colour: slint::Color| Rgb8Pixel { r: colour.red(), g: colour.green(), b: colour.blue() };
    Look {
        paper: rgb(tokens.get_paper()),
        ink: rgb(tokens.get_ink()),
        ink_soft: rgb(tokens.get_ink_soft()),
        form: rgb(tokens.get_form()),
        rail: rgb(tokens.get_rail()),
        band: rgb(tokens.get_band()),
        edge: rgb(tokens.get_edge()),
        rule: rgb(tokens.get_rule()),
        grid_fine: rgb(tokens.get_grid_fine()),
        grid_strong: rgb(tokens.get_grid_strong()),
        fail: rgb(tokens.get_fail()),
        track: rgb(tokens.get_track()),
    }
}

/// The strip in one sentence.
fn told(known: &Known) -> String {
    let reading = reading(known);
    let rails = known.progress.as_ref().and_then(|progress| progress.rails.last());
    let shown = |pascal: f64| {
        let value = signal_value_in(Signal::TankPressure, pascal, &known.style);
        number(value, 0, known.style.language)
    };
    match rails {
        Some(rails) => format!(
            "{} {}; {} {} – {}",
            reading.label,
            reading.spoken,
            known.style.of("rails", "Schienen"),
            shown(rails.low),
            shown(rails.high)
        ),
        None => format!("{} {}", reading.label, reading.spoken),
    }
}

fn reading(known: &Known) -> ReadingView {
    let style = &known.style;
    let label = signal_name(Signal::TankPressure, style.language).into();
    let unit = signal_unit(Signal::TankPressure, style);
    let last = known.recording.series(Signal::TankPressure).and_then(|series| series.last());
    let Some((at, value)) = last else {
        let offered = known.card.as_ref().and_then(|card| card.car.as_ref());
        let refused = offered.is_some_and(|car| !car.signals.contains(&Signal::TankPressure));
        let note = if refused {
            style.of("this car does not offer it", "dieses Auto bietet es nicht an")
        } else {
            style.of("no reading yet", "noch kein Wert")
        };
        return ReadingView {
            label,
            value: "–".into(),
            unit: unit.into(),
            note: note.into(),
            missing: true,
            stale: false,
            spoken: note.into(),
        };
    };
    let shown = signal_value_in(Signal::TankPressure, value, style);
    let decimals = if unit == "Pa" { 0 } else { 2 };
    let value = number(shown, decimals, style.language);
    let age = known.now.seconds_since(at);
    let lost = matches!(known.link, Some(LinkState::Lost { .. }));
    let live = matches!(known.link, Some(LinkState::Linked { .. }));
    let stale = lost || live && age > STALE_AFTER;
    let note = if stale && !lost {
        let age = number(age, 1, style.language);
        match style.language {
            crate::wording::Language::English => format!("{age} s old"),
            crate::wording::Language::German => format!("{age} s alt"),
        }
    } else if lost {
        style.of("link lost", "Verbindung verloren").to_owned()
    } else {
        String::new()
    };
    ReadingView {
        label,
        spoken: format!("{value} {unit}").into(),
        value: value.into(),
        unit: unit.into(),
        note: note.into(),
        stale,
        missing: false,
    }
}

fn link(known: &Known) -> LinkView {
    let style = &known.style;
    match &known.link {
        None | Some(LinkState::Idle | LinkState::Failed(_) | LinkState::Connecting(_)) => {
            LinkView::default()
        }
        Some(LinkState::Linked { readings_per_second }) => {
            let words = match readings_per_second {
                Some(rate) => {
                    let rate = number(*rate, 1, style.language);
                    match style.language {
                        crate::wording::Language::English => {
                            format!("Linked, {rate} readings a second")
                        }
                        crate::wording::Language::German => {
                            format!("Verbunden, {rate} Werte je Sekunde")
                        }
                    }
                }
                None => style.of("Linked", "Verbunden").to_owned(),
            };
            let limits = known.card.as_ref().and_then(|card| card.car.as_ref());
            let strong = limits.and_then(|car| car.rate_limits.first().cloned());
            LinkView {
                look: if strong.is_some() { LinkLook::Slow } else { LinkLook::Linked },
                words: words.into(),
                strong: strong.unwrap_or_default().into(),
            }
        }
        Some(LinkState::Lost { since }) => {
            let seconds = known.now.seconds_since(*since).max(0.0) as u64;
            let clock = format!("{}:{:02}", seconds / 60, seconds % 60);
            let words = match style.language {
                crate::wording::Language::English => format!("Link lost, {clock}. Trying again"),
                crate::wording::Language::German => {
                    format!("Verbindung verloren, {clock}. Neuer Versuch")
                }
            };
            LinkView { look: LinkLook::Lost, words: words.into(), strong: "".into() }
        }
    }
}
