use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::markup::{AppWindow, CheckItem, Lit, Mark, Page, Tone, VisitAdapter, VisitPageAdapter};
use super::next_action::{NextAction, next_action};
use super::session::{Known, Session};
use super::{check_adapter, comparison_adapter, dates, device_adapter};
use super::{visit_car, visit_foot};
use crate::evidence::{Check, Outcome};
use crate::jobs::{CheckLine, CheckState, Command, Complaint, LinkState, ReadScope, VisitCard};
use crate::vehicle::Signal;
use crate::wording::{
    Language, Style, check_title, given_up, number, outcome_word, percent, signal_unit,
};

/// Connects the card's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<VisitAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_complaint_saved(move || {
        if let Some(session) = to.upgrade() {
            save_complaint(&session);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_connect_pressed(move || {
        if let Some(session) = to.upgrade() {
            act(&session, NextAction::Connect);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_read_pressed(move || {
        if let Some(session) = to.upgrade() {
            act(&session, NextAction::ReadCar);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_check_started(move |index| {
        if let Some(session) = to.upgrade() {
            start(&session, index);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_check_opened(move |index| {
        if let Some(session) = to.upgrade() {
            start(&session, index);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_foot_opened(move |index| {
        let Some(session) = to.upgrade() else { return };
        let page = visit_foot::page(index);
        let compares = session.known().card.as_ref().is_some_and(visit_foot::proof_compares);
        if page == Page::Proof && compares {
            comparison_adapter::open_for_card(&session);
        } else {
            session.go(page);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_more_pressed(move || {
        if let Some(session) = to.upgrade() {
            session.go(Page::More);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_main_pressed(move || {
        let Some(session) = to.upgrade() else { return };
        let action = {
            let known = session.known();
            known.card.as_ref().map(|card| next_action(card, known.link.as_ref()))
        };
        if let Some(action) = action {
            act(&session, action);
        }
    });
}

fn start(session: &Session, index: i32) {
    let line = {
        let known = session.known();
        let card = known.card.as_ref();
        let index = usize::try_from(index).unwrap_or(usize::MAX);
        card.and_then(|card| card.checks.get(index)).map(|line| (line.check, line.state.clone()))
    };
    match line {
        Some((_, CheckState::Running)) => act(session, NextAction::Resume),
        Some((_, CheckState::Impossible)) | None => {}
        // What is asked without a car is the way to one.
        Some(_) if !is_linked(session) => act(session, NextAction::Connect),
        Some((check, _)) => act(session, NextAction::Start(check)),
    }
}

/// Whether there is a car, or will be again.
fn is_linked(session: &Session) -> bool {
    matches!(session.known().link, Some(LinkState::Linked { .. } | LinkState::Lost { .. }))
}

/// Does what the main button says.
pub(super) fn act(session: &Session, action: NextAction) {
    match action {
        NextAction::Connect => {
            session.go(Page::Connect);
            device_adapter::look_for_adapters(session);
        }
        NextAction::ReadCar => session.send(Command::ReadCar(ReadScope::Everything)),
        NextAction::Start(check) => check_adapter::begin(session, check),
        NextAction::Prove => check_adapter::begin(session, Check::RepairProof),
        NextAction::Resume => session.go(Page::Check),
        NextAction::SeeVerdict => session.go(Page::Verdict),
        NextAction::ClearCodes => session.go(Page::Codes),
        NextAction::FollowUp => session.go(Page::FollowUp),
        NextAction::Report => session.go(Page::Report),
    }
}

fn save_complaint(session: &Session) {
    let Some(window) = session.window() else { return };
    let adapter = window.global::<VisitAdapter>();
    let kinds = [
        (adapter.get_light_on(), Complaint::LightOn),
        (adapter.get_rough(), Complaint::RoughAfterFillUp),
        (adapter.get_inspection(), Complaint::Inspection),
        (adapter.get_recheck(), Complaint::Recheck),
    ];
    let kinds = kinds.into_iter().filter(|(ticked, _)| *ticked).map(|(_, kind)| kind).collect();
    session.send(Command::SetComplaint { kinds, words: adapter.get_words().trim().to_owned() });
    if let Ok(kilometres) = adapter.get_odometer_text().trim().parse() {
        session.send(Command::SetOdometer { kilometres });
    }
    adapter.set_editing(false);
}

/// Shows the card.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<VisitAdapter>(), &known.style);
    let language = style.language;
    let visit = match language {
        Language::English => format!("Visit {}", card.number),
        Language::German => format!("Besuch {}", card.number),
    };
    adapter.set_title(card.vehicle.name.as_str().into());
    adapter.set_note(visit.into());
    adapter.set_virtual_car(card.vehicle.is_virtual);
    adapter.set_number(style.of("No. {}", "Nr. {}").replace("{}", &card.number.to_string()).into());
    adapter.set_vin(card.vehicle.vin.as_deref().unwrap_or("–").into());
    let kilometres =
        card.odometer_km.map(|km| format!("{} km", number(f64::from(km), 0, language)));
    adapter.set_odometer(kilometres.unwrap_or_else(|| "–".to_owned()).into());
    let started = format!("{}, {}", dates::day(card.started, language), dates::clock(card.started));
    adapter.set_started(started.into());
    adapter.set_complaint_time(dates::clock(card.started).into());
    adapter.set_complaint(complaint(card, style).into());
    show_link(&adapter, card, known.link.as_ref(), style);
    let reading = known.reading.map(|share| {
        style.of("Reading … {}", "Liest aus … {}").replace("{}", &percent(share, language))
    });
    adapter.set_car_reading(reading.unwrap_or_default().into());
    visit_car::show(&adapter, card.car.as_ref(), known.link.as_ref(), style);
    let checks: Vec<CheckItem> =
        card.checks.iter().enumerate().map(|(index, line)| map_check(index, line, style)).collect();
    let none = checks.is_empty();
    adapter.set_checks_note(
        if none {
            style
                .of("They follow from what the car says.", "Sie folgen aus dem, was das Auto sagt.")
        } else {
            ""
        }
        .into(),
    );
    adapter.set_checks(ModelRc::new(VecModel::from(checks)));
    let photos = match card.photos.len() {
        0 => style.of("Photos", "Fotos").to_owned(),
        count => style.of("Photos: {}", "Fotos: {}").replace("{}", &count.to_string()),
    };
    adapter.set_photos(photos.into());
    adapter.set_foot(ModelRc::new(VecModel::from(visit_foot::map(card, style))));
    show_next(window, card, known);
    show_beside(&adapter, known);
    known.strip_due.set(true);
}

/// The complaint in one line.
pub(super) fn complaint(card: &VisitCard, style: &Style) -> String {
    let kinds = card.complaints.iter().map(|kind| match kind {
        Complaint::LightOn => style.of("Light on.", "Leuchte an."),
        Complaint::RoughAfterFillUp => {
            style.of("Rough after a fill-up.", "Unrund nach dem Tanken.")
        }
        Complaint::Inspection => style.of("Inspection.", "Hauptuntersuchung."),
        Complaint::Recheck => style.of("Recheck.", "Nachkontrolle."),
    });
    let quoted = match style.language {
        Language::English => format!("“{}”", card.complaint_words),
        Language::German => format!("„{}“", card.complaint_words),
    };
    let words = (!card.complaint_words.is_empty()).then_some(quoted.as_str());
    let parts: Vec<&str> = kinds.chain(words).collect();
    if parts.is_empty() { "–".to_owned() } else { parts.join(" ") }
}

/// The adapter in words. A virtual car's address would give its fault away.
fn adapter_words(card: &VisitCard, style: &Style) -> String {
    match &card.connected_to {
        Some(_) if card.vehicle.is_virtual => style.of("Virtual car", "Virtuelles Auto").to_owned(),
        Some(name) => name.clone(),
        None => "–".to_owned(),
    }
}

fn show_link(
    adapter: &VisitAdapter<'_>,
    card: &VisitCard,
    link: Option<&LinkState>,
    style: &Style,
) {
    let (words, action) = match link {
        Some(LinkState::Linked { .. }) => {
            let name = adapter_words(card, style);
            let warnings =
                card.car.as_ref().map(|car| [&car.doubts[..], &car.rate_limits].concat().join(" "));
            let words = match warnings {
                Some(warnings) if warnings.is_empty() => style
                    .of("{}. Fast enough for every check.", "{}. Schnell genug für jede Prüfung.")
                    .replace("{}", &name),
                Some(warnings) => format!("{name}. {warnings}"),
                None => format!("{name}."),
            };
            (words, "")
        }
        Some(LinkState::Connecting(_)) => {
            (style.of("Connecting …", "Verbindet …").to_owned(), style.of("Show", "Zeigen"))
        }
        Some(LinkState::Lost { .. }) => (
            style.of("Link lost. Trying again.", "Verbindung verloren. Neuer Versuch.").to_owned(),
            "",
        ),
        Some(LinkState::Failed(sentence)) => {
            (sentence.clone(), style.of("Try again", "Noch einmal"))
        }
        Some(LinkState::Idle) | None => {
            let words = adapter_words(card, style);
            (words, style.of("Connect", "Verbinden"))
        }
    };
    adapter.set_connect(words.into());
    adapter.set_connect_action(action.into());
}

fn map_check(index: usize, line: &CheckLine, style: &Style) -> CheckItem {
    let minutes = match line.minutes {
        m if m > 0.0 => format!("{} min", number(m.max(1.0), 0, style.language)),
        _ => String::new(),
    };
    let (mark, trailing, tone, strong) = match &line.state {
        CheckState::Next => (Mark::Next, minutes, Tone::Soft, false),
        CheckState::Later => (Mark::Expected, minutes, Tone::Soft, false),
        CheckState::Running => {
            (Mark::Running, style.of("runs", "läuft").to_owned(), Tone::Ink, true)
        }
        CheckState::Skipped => {
            (Mark::Expected, style.of("left out", "ausgelassen").to_owned(), Tone::Soft, false)
        }
        CheckState::Impossible => {
            (Mark::Expected, style.of("not offered", "nicht möglich").to_owned(), Tone::Soft, false)
        }
        CheckState::Done(outcome) => {
            let (mark, tone) = check_look(*outcome);
            (mark, outcome_word(*outcome, style.language).to_owned(), tone, true)
        }
    };
    CheckItem {
        id: i32::try_from(index).unwrap_or(0),
        name: check_title(line.check, style.language).into(),
        reason: check_reason(line, style).into(),
        trailing: trailing.into(),
        tone,
        strong,
        mark,
        next: matches!(line.state, CheckState::Next | CheckState::Running),
        again: matches!(line.state, CheckState::Done(_)),
        telling: line.given_up.is_some(),
    }
}

/// Why the check was given up, if it was, and what else there is to say of it.
fn check_reason(line: &CheckLine, style: &Style) -> String {
    match &line.given_up {
        Some(words) => format!("{} {}", given_up(words, style.language), line.reason),
        None => line.reason.clone(),
    }
}

/// Mark and tone of a check's outcome.
pub(super) fn check_look(outcome: Outcome) -> (Mark, Tone) {
    match outcome {
        Outcome::Pass => (Mark::Pass, Tone::Form),
        Outcome::Fail => (Mark::Fail, Tone::Fail),
        Outcome::Inconclusive => (Mark::Inconclusive, Tone::Inconclusive),
    }
}

/// The parts that a check asks about.
pub(super) fn lit(check: Check) -> Lit {
    match check {
        Check::RestZero => Lit::Sensor,
        Check::IdleZero | Check::PurgeResponse => Lit::PurgeResponse,
        Check::UnplugRecovery => Lit::Unplug,
        Check::ThrottleFollow | Check::RepairProof => Lit::Throttle,
        Check::CapOffZero | Check::AfterFillUp => Lit::Cap,
        Check::SealedHold => Lit::Sealed,
    }
}

/// What the main button says.
pub(super) fn action_words(action: NextAction, style: &Style) -> String {
    match action {
        NextAction::Connect => style.of("Connect", "Verbinden").to_owned(),
        NextAction::ReadCar => style.of("Read the car", "Auto auslesen").to_owned(),
        NextAction::Start(check) => style.of("Start: {}", "Starten: {}").replace(
            "{}",
            &super::vehicles_adapter::lower_first(check_title(check, style.language), style),
        ),
        NextAction::Resume => style.of("Back to the check", "Zurück zur Prüfung").to_owned(),
        NextAction::SeeVerdict => style.of("See the verdict", "Urteil ansehen").to_owned(),
        NextAction::Prove => style.of("Prove the repair", "Reparatur nachweisen").to_owned(),
        NextAction::ClearCodes => style.of("Clear codes …", "Codes löschen …").to_owned(),
        NextAction::FollowUp => style.of("Plan a recheck", "Nachkontrolle planen").to_owned(),
        NextAction::Report => style.of("Report", "Bericht").to_owned(),
    }
}

fn show_next(window: &AppWindow, card: &VisitCard, known: &Known) {
    let (adapter, style) = (window.global::<VisitAdapter>(), &known.style);
    let action = next_action(card, known.link.as_ref());
    let words = action_words(action, style);
    adapter.set_main_action(words.as_str().into());
    adapter.set_next_row(match action {
        NextAction::Connect => 2,
        NextAction::ReadCar => 3,
        _ => 4,
    });
    let line = card.checks.iter().find(|line| line.state == CheckState::Next);
    let (strong, rest, parts) = match line {
        Some(line) => (
            style.of("Next: {}.", "Als Nächstes: {}.").replace(
                "{}",
                &super::vehicles_adapter::lower_first(
                    check_title(line.check, style.language),
                    style,
                ),
            ),
            crate::wording::check_purpose(line.check, style.language).to_owned(),
            lit(line.check),
        ),
        None => (format!("{words}."), String::new(), Lit::None),
    };
    adapter.set_next_strong(strong.into());
    adapter.set_next_words(rest.into());
    window.global::<VisitPageAdapter>().set_lit(parts);
}

fn show_beside(adapter: &VisitAdapter<'_>, known: &Known) {
    let style = &known.style;
    let value = |signal: Signal, decimals: usize| {
        let last = known.recording.series(signal).and_then(|series| series.last());
        last.map(|(_, value)| {
            format!("{} {}", number(value, decimals, style.language), signal_unit(signal, style))
        })
    };
    let unknown = || "–".to_owned();
    adapter.set_beside_one(style.of("Manifold", "Saugrohr").into());
    adapter.set_beside_one_value(value(Signal::ManifoldPressure, 1).unwrap_or_else(unknown).into());
    adapter.set_beside_two(style.of("Engine", "Motor").into());
    adapter.set_beside_two_value(value(Signal::EngineSpeed, 0).unwrap_or_else(unknown).into());
    let purge = value(Signal::PurgeCommand, 0);
    adapter.set_peek_note(
        purge
            .map(|purge| format!("{} {purge}", style.of("purge", "Spülung")))
            .unwrap_or_default()
            .into(),
    );
}
