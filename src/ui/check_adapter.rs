use std::rc::Rc;

use slint::{ComponentHandle, Model, ModelRc, VecModel};

use super::markup::{
    AppWindow, CautionItem, CheckAdapter, LiveAdapter, Mark, Page, StateIcon, StripView, Tone,
};
use super::session::{Known, Session};
use super::visit_adapter::{check_look, lit};
use crate::checks::{Progress, Step};
use crate::evidence::{Check, CheckResult, Outcome};
use crate::jobs::Command;
use crate::recording::Action;
use crate::vehicle::Signal;
use crate::wording::{
    Language, Style, action_name, caution, check_title, instruction, keep, number, percent, reason,
    reasons_to_give_up, step_purpose,
};

/// Above this a check is decided; the same level from which a part is named.
const DECIDED: f64 = 0.95;

/// Connects the running check's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<CheckAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_acted(move || {
        let Some(session) = to.upgrade() else { return };
        let (done, awaited) = {
            let known = session.known();
            let awaited = known.progress.as_ref().and_then(|progress| by_hand(progress.step));
            (known.ended.is_some(), awaited)
        };
        if done {
            session.go(Page::Visit);
        } else if let Some(action) = awaited {
            session.send(Command::Mark(action));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_held(move |held| {
        if let Some(session) = to.upgrade() {
            session.send(Command::PauseCheck(held));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_repeated(move || {
        if let Some(session) = to.upgrade() {
            session.send(Command::RepeatCheck);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_gave_up(move || {
        if let Some(session) = to.upgrade() {
            give_up(&session);
        }
    });
}

/// Starts a check and goes to its page, which tells nothing of the check before.
pub(super) fn begin(session: &Session, check: Check) {
    {
        let mut known = session.known_mut();
        (known.progress, known.ended, known.paused) = (None, None, false);
    }
    if let Some(window) = session.window() {
        window.global::<LiveAdapter>().set_check_strip(StripView::default());
    }
    session.send(Command::StartCheck(check));
    session.go(Page::Check);
}

/// Gives the running check up for the reason that was chosen or written.
fn give_up(session: &Session) {
    let Some(window) = session.window() else { return };
    let adapter = window.global::<CheckAdapter>();
    let own = adapter.get_own_reason().trim().to_owned();
    let chosen = usize::try_from(adapter.get_reason()).ok();
    let chosen = chosen.and_then(|place| adapter.get_reasons().row_data(place));
    let reason = if own.is_empty() { chosen.unwrap_or_default().to_string() } else { own };
    adapter.set_reason(-1);
    adapter.set_own_reason("".into());
    session.send(Command::StopCheck { reason });
    session.go(Page::Visit);
}

/// Shows the running check.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let adapter = window.global::<CheckAdapter>();
    let style = &known.style;
    if let Some(card) = &known.card {
        let note = match style.language {
            Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
            Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
        };
        adapter.set_note(note.into());
        adapter.set_virtual_car(card.vehicle.is_virtual);
    }
    adapter.set_paused(known.paused && known.ended.is_none());
    let reasons = reasons_to_give_up(style.language).map(slint::SharedString::from);
    adapter.set_reasons(ModelRc::new(VecModel::from(reasons.to_vec())));
    let Some(progress) = &known.progress else {
        adapter.set_title("".into());
        adapter.set_line_one(style.of("Getting ready …", "Wird vorbereitet …").into());
        adapter.set_line_two("".into());
        adapter.set_state("".into());
        adapter.set_action("".into());
        adapter.set_done(false);
        adapter.set_cautions(ModelRc::default());
        adapter.set_caution_short(CautionItem::default());
        adapter.set_certainty(0.0);
        adapter.set_certainty_words("".into());
        adapter.set_repetitions(ModelRc::default());
        adapter.set_repetitions_words("".into());
        adapter.set_so_far("".into());
        adapter.set_so_far_mark(Mark::None);
        adapter.set_rails_note("".into());
        return;
    };
    adapter.set_title(check_title(progress.check, style.language).into());
    adapter.set_lit(lit(progress.check));
    adapter.set_flowing(known.ended.is_none() && purge_flows(known));
    let stopped = was_stopped(progress);
    let why = step_purpose(progress.check, progress.step, stopped, style.language);
    adapter.set_explanation(why.into());
    show_step(&adapter, progress, known);
    show_certainty(&adapter, progress, known);
    show_cautions(&adapter, progress, style);
    known.strip_due.set(true);
}

/// How old a reading may be that tells of a flow, s.
const FRESH: f64 = 3.0;

/// Whether the car draws vapour from the tank now: purge commanded, engine running, valve plugged
/// in.
fn purge_flows(known: &Known) -> bool {
    let above = |signal, least: f64| {
        let newest = known.recording.series(signal).and_then(|it| it.last());
        newest.is_some_and(|(at, value)| known.now.seconds_since(at) < FRESH && value > least)
    };
    let plug = known.recording.actions().iter().rev().find_map(|it| match it.action {
        Action::PurgeUnplugged => Some(false),
        Action::PurgePlugged => Some(true),
        _ => None,
    });
    plug.unwrap_or(true) && above(Signal::PurgeCommand, 2.0) && above(Signal::EngineSpeed, 300.0)
}

fn show_step(adapter: &CheckAdapter<'_>, progress: &Progress, known: &Known) {
    let style = &known.style;
    let ended = known.ended.as_ref().filter(|result| result.check == progress.check);
    adapter.set_done(ended.is_some());
    if let Some(result) = ended {
        let word = match result.outcome {
            Outcome::Pass => style.of("Passed.", "Bestanden."),
            Outcome::Fail => style.of("Failed.", "Nicht bestanden."),
            Outcome::Inconclusive => style.of("Inconclusive.", "Nicht eindeutig."),
        };
        adapter.set_line_one(word.into());
        adapter.set_line_two("".into());
        adapter.set_state(reason(result, style).into());
        adapter.set_icon(StateIcon::None);
        adapter.set_action(style.of("Back to the card", "Zurück zur Karte").into());
        adapter.set_action_icon(StateIcon::None);
        return;
    }
    if known.paused {
        adapter.set_line_one(style.of("Paused.", "Angehalten.").into());
        let hint = style.of(
            "The step waits. Readings are still recorded.",
            "Der Schritt wartet. Werte werden weiter aufgezeichnet.",
        );
        adapter.set_line_two("".into());
        adapter.set_state(hint.into());
        adapter.set_icon(StateIcon::None);
        return;
    }
    let lines = instruction(progress.check, progress.step, style.language);
    adapter.set_line_one(lines.first.into());
    adapter.set_line_two(lines.second.into());
    adapter.set_state(state_line(progress, known).into());
    adapter.set_icon(state_icon(progress));
    let awaited = by_hand(progress.step);
    adapter.set_action(awaited.map_or("", |action| button_words(action, style)).into());
    adapter.set_action_icon(awaited.map_or(StateIcon::None, action_icon));
}

/// What the person may do by hand in a step: what it waits for, or what ends a wait early.
fn by_hand(step: Step) -> Option<Action> {
    step.awaited().or(match step {
        Step::KeepUnplugged => Some(Action::PurgePlugged),
        Step::KeepPlugged => Some(Action::PurgeUnplugged),
        Step::SettleAtIdle => Some(Action::ThrottleOpened),
        Step::KeepCapOff => Some(Action::CapClosed),
        Step::HoldSealed => Some(Action::VentOpened),
        Step::IdleBeforeFillUp => Some(Action::Refuelled),
        _ => None,
    })
}

/// What the program noticed, and how long to wait.
fn state_line(progress: &Progress, known: &Known) -> String {
    let style = &known.style;
    let keep = keep(progress.check, progress.step, was_stopped(progress), style.language);
    let noticed = progress.noticed.map(|action| {
        let ago = known.now.seconds_since(action.at).max(0.0);
        let ago = number(ago, usize::from(ago < 10.0), style.language);
        let name = action_name(action.action, style.language);
        match style.language {
            Language::English => format!("{name} {ago} s ago."),
            Language::German => format!("{name} vor {ago} s."),
        }
    });
    let wait = progress.remaining.map(|left| {
        let left = number(left.as_secs_f64().ceil(), 0, style.language);
        match style.language {
            Language::English => format!("{left} s more."),
            Language::German => format!("Noch {left} s."),
        }
    });
    let told = keep.map(str::to_owned).or(noticed);
    told.into_iter().chain(wait).collect::<Vec<_>>().join(" ")
}

/// Whether the step follows on an engine that was stopped for it.
fn was_stopped(progress: &Progress) -> bool {
    progress.noticed.is_some_and(|it| it.action == Action::EngineStopped)
}

fn state_icon(progress: &Progress) -> StateIcon {
    match progress.step {
        Step::UnplugPurge | Step::KeepUnplugged => StateIcon::Unplug,
        Step::PlugPurge | Step::KeepPlugged => StateIcon::Plug,
        Step::OpenThrottle | Step::ReleaseThrottle => StateIcon::Throttle,
        Step::OpenCap | Step::KeepCapOff | Step::CloseCap => StateIcon::Cap,
        Step::IdleBeforeFillUp | Step::FillTank | Step::WatchAfterFillUp => StateIcon::Nozzle,
        _ => StateIcon::Vehicle,
    }
}

fn action_icon(action: Action) -> StateIcon {
    match action {
        Action::PurgeUnplugged => StateIcon::Unplug,
        Action::PurgePlugged => StateIcon::Plug,
        Action::ThrottleOpened | Action::ThrottleReleased => StateIcon::Throttle,
        Action::CapOpened | Action::CapClosed => StateIcon::Cap,
        Action::Refuelled => StateIcon::Nozzle,
        _ => StateIcon::Vehicle,
    }
}

/// What the person says by pressing the main button.
const fn button_words(action: Action, style: &Style) -> &'static str {
    match action {
        Action::KeyOn => style.of("The key is on", "Zündung ist an"),
        Action::EngineStarted => style.of("The engine runs", "Der Motor läuft"),
        Action::EngineStopped => style.of("The engine is off", "Der Motor ist aus"),
        Action::PurgeUnplugged => style.of("I unplugged it", "Ist abgezogen"),
        Action::PurgePlugged => style.of("I plugged it back in", "Ist angesteckt"),
        Action::ThrottleOpened => style.of("Mark an opening", "Gasstoß merken"),
        Action::ThrottleReleased => style.of("I let go", "Losgelassen"),
        Action::CapOpened => style.of("The cap is off", "Der Deckel ist ab"),
        Action::CapClosed => style.of("The cap is on", "Der Deckel ist drauf"),
        Action::VentSealed => style.of("The vent is sealed", "Belüftung ist zu"),
        Action::VentOpened => style.of("The vent is open", "Belüftung ist offen"),
        Action::Refuelled => style.of("The tank is filled", "Ist vollgetankt"),
        Action::PartReplaced => style.of("The part is in", "Das Teil ist drin"),
        Action::TankZeroed => style.of("This is zero", "Das ist null"),
    }
}

fn show_certainty(adapter: &CheckAdapter<'_>, progress: &Progress, known: &Known) {
    let style = &known.style;
    let sure = percent(progress.certainty, style.language);
    let words = style.of("Sure: {}", "Sicher: {}").replace("{}", &sure);
    let (decided, tone) = ruler(progress, known.ended.as_ref());
    adapter.set_certainty(progress.certainty as f32);
    adapter.set_certainty_words(words.into());
    adapter.set_decided(decided);
    adapter.set_tone(tone);
    let mut marks: Vec<Mark> =
        progress.repetitions.iter().map(|outcome| check_look(*outcome).0).collect();
    let done = known.ended.is_some();
    let left = if done { 0 } else { progress.repetitions_left as usize };
    if left > 0 {
        marks.push(Mark::Running);
    }
    marks.extend(std::iter::repeat_n(Mark::Expected, left.saturating_sub(1).min(4)));
    // The newest eight: more would push the words away.
    let skip = marks.len().saturating_sub(8);
    adapter.set_repetitions(ModelRc::new(VecModel::from(marks.split_off(skip))));
    let more = match (left, style.language) {
        (0, _) => String::new(),
        (1, Language::English) => "likely the last".to_owned(),
        (1, Language::German) => "wohl die letzte".to_owned(),
        (n, Language::English) => format!("about {} more", n - 1),
        (n, Language::German) => format!("noch etwa {}", n - 1),
    };
    adapter.set_repetitions_words(more.into());
    // Where the trace stands now, against the rails that hold: what the strip shows, in words.
    let inside = inside_now(progress, known);
    let (words, mark) = match inside {
        Some(true) => (style.of("Between the rails", "Zwischen den Schienen"), Mark::Pass),
        Some(false) => (style.of("Outside the rails", "Außerhalb der Schienen"), Mark::Fail),
        None => ("", Mark::None),
    };
    adapter.set_so_far(words.into());
    adapter.set_so_far_mark(mark);
    adapter.set_rails_note(rails_note(progress, style).into());
}

/// Whether the ruler stands past its flag, and the colour of its fill. A proof begins with what was
/// found before the repair: that outcome is not this check's, so it lends no colour.
fn ruler(progress: &Progress, ended: Option<&CheckResult>) -> (bool, Tone) {
    let begun =
        ended.is_some() || !progress.repetitions.is_empty() || progress.repetitions_left == 0;
    let decided = begun && progress.certainty >= DECIDED;
    let outcome = ended.map_or(progress.outcome_so_far, |result| result.outcome);
    (decided, if decided { check_look(outcome).1 } else { Tone::Ink })
}

/// Whether the last reading lies between the rails, if any hold.
fn inside_now(progress: &Progress, known: &Known) -> Option<bool> {
    let rails = progress.rails.last().filter(|rails| rails.until.is_none())?;
    let (at, value) = known.recording.series(Signal::TankPressure)?.last()?;
    (at >= rails.from).then_some((rails.low..=rails.high).contains(&value))
}

/// `rails −208 ± 20`.
fn rails_note(progress: &Progress, style: &Style) -> String {
    let Some(rails) = progress.rails.last() else { return String::new() };
    let factor = 1.0 / style.pressure.pascal();
    let decimals = if factor == 1.0 { 0 } else { 2 };
    let shown = |value: f64| number(value * factor, decimals, style.language);
    let middle = shown((rails.low + rails.high) / 2.0);
    let half = shown((rails.high - rails.low) / 2.0);
    format!("{} {middle} ± {half}", style.of("rails", "Schienen"))
}

fn show_cautions(adapter: &CheckAdapter<'_>, progress: &Progress, style: &Style) {
    let texts: Vec<(&str, &str)> =
        progress.cautions.iter().map(|hazard| caution(*hazard, style.language)).collect();
    let items: Vec<CautionItem> = texts
        .iter()
        .map(|(first, rest)| CautionItem { first: (*first).into(), rest: (*rest).into() })
        .collect();
    // One box on the phone: every first clause, and the whole of a single caution.
    let short = match texts.as_slice() {
        [] => CautionItem::default(),
        [(first, rest)] => CautionItem { first: (*first).into(), rest: (*rest).into() },
        several => {
            let first: Vec<&str> = several.iter().map(|(first, _)| *first).collect();
            CautionItem { first: first.join(" ").into(), rest: "".into() }
        }
    };
    adapter.set_cautions(ModelRc::new(VecModel::from(items)));
    adapter.set_caution_short(short);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Instant;

    fn proof(repetitions: Vec<Outcome>, repetitions_left: u32, certainty: f64) -> Progress {
        Progress {
            check: Check::RepairProof,
            step: Step::WaitAtRest,
            since: Instant::ZERO,
            remaining: None,
            noticed: None,
            cautions: &[],
            certainty,
            repetitions,
            repetitions_left,
            rails: Vec::new(),
            outcome_so_far: Outcome::Fail,
        }
    }

    #[test]
    fn the_ruler_takes_no_colour_from_what_was_found_before_the_repair() {
        assert_eq!(ruler(&proof(vec![], 3, 0.99), None), (false, Tone::Ink));
        assert_eq!(ruler(&proof(vec![Outcome::Fail], 2, 0.99), None), (true, Tone::Fail));
        assert_eq!(ruler(&proof(vec![Outcome::Fail], 2, 0.9), None), (false, Tone::Ink));
        // Checks without repetitions are decided as their numbers are.
        assert_eq!(ruler(&proof(vec![], 0, 0.99), None), (true, Tone::Fail));
    }
}
