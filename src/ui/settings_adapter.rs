use std::collections::BTreeMap;
use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, SharedString, VecModel};

use super::markup::{AppWindow, LiveAdapter, Page, SettingsAdapter, Tokens};
use super::session::Session;
use super::{backups_adapter, signals_adapter};
use crate::diagnosis::Verdict;
use crate::jobs::{Command, HistoryCommand, Rejudged, TOOL_COST, TOOL_CURRENCY};
use crate::wording::{Language, PressureUnit, Style, fault_title, percent, verdict_outcome_word};

/// Sizes of words that can be chosen.
const TEXT_SIZES: [f32; 4] = [1.0, 1.1, 1.2, 1.4];

const PRESSURE: &str = "ui_pressure";
const LANGUAGE: &str = "ui_language";
const APPEARANCE: &str = "ui_appearance";
const TEXT_SIZE: &str = "ui_text_size";
const SOUND: &str = "ui_sound";
const VIBRATION: &str = "ui_vibration";
const STILL: &str = "ui_still";
const CURRENCY: &str = "ui_currency";
const LABOUR_RATE: &str = "ui_labour_rate";

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<SettingsAdapter>();
    adapter.set_version(env!("CARGO_PKG_VERSION").into());
    adapter.set_currency(session.known().currency.as_str().into());
    let to = Rc::downgrade(session);
    adapter.on_changed_setting(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        apply(&window, &session);
        for (name, value) in kept(&window) {
            session.send(Command::SaveSetting { name: name.to_owned(), value });
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_backups_opened(move || {
        if let Some(session) = to.upgrade() {
            backups_adapter::open(&session);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_signals_opened(move || {
        if let Some(session) = to.upgrade() {
            signals_adapter::open(&session);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_moving_opened(move || {
        if let Some(session) = to.upgrade() {
            session.go(Page::Moving);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_judge_pressed(move || {
        let Some(session) = to.upgrade() else { return };
        if let Some(window) = session.window() {
            window.global::<SettingsAdapter>().set_judging(true);
        }
        session.send(Command::Histories(HistoryCommand::JudgeAgain));
    });
    let to = Rc::downgrade(session);
    window.on_system_look_changed(move || {
        if let Some(session) = to.upgrade() {
            session.device_changed();
        }
    });
    let to = Rc::downgrade(session);
    window.global::<LiveAdapter>().on_sound_switched(move |on| {
        let Some(session) = to.upgrade() else { return };
        if let Some(window) = session.window() {
            window.global::<SettingsAdapter>().set_sound(on);
        }
        session.send(Command::SaveSetting { name: SOUND.to_owned(), value: on.to_string() });
    });
}

fn kept(window: &AppWindow) -> [(&'static str, String); 11] {
    let adapter = window.global::<SettingsAdapter>();
    [
        (PRESSURE, adapter.get_pressure().to_string()),
        (LANGUAGE, adapter.get_language().to_string()),
        (APPEARANCE, adapter.get_appearance().to_string()),
        (TEXT_SIZE, adapter.get_text_size().to_string()),
        (SOUND, adapter.get_sound().to_string()),
        (VIBRATION, adapter.get_vibration().to_string()),
        (STILL, adapter.get_still().to_string()),
        (CURRENCY, adapter.get_currency().to_string()),
        (LABOUR_RATE, adapter.get_labour_rate().to_string()),
        (TOOL_COST, adapter.get_tool_cost().to_string()),
        (TOOL_CURRENCY, adapter.get_currency().trim().to_uppercase()),
    ]
}

/// Takes over the settings kept from before; what is missing or odd stays as it is.
pub(super) fn restore(window: &AppWindow, session: &Session, settings: &BTreeMap<String, String>) {
    let adapter = window.global::<SettingsAdapter>();
    let place = |name: &str, count: usize| {
        let value: usize = settings.get(name)?.parse().ok()?;
        i32::try_from(value).ok().filter(|_| value < count)
    };
    let flag = |name: &str| settings.get(name).and_then(|text| text.parse::<bool>().ok());
    if let Some(value) = place(PRESSURE, PressureUnit::ALL.len()) {
        adapter.set_pressure(value);
    }
    if let Some(value) = place(LANGUAGE, Language::ALL.len()) {
        adapter.set_language(value);
    }
    if let Some(value) = place(APPEARANCE, 3) {
        adapter.set_appearance(value);
    }
    if let Some(value) = place(TEXT_SIZE, TEXT_SIZES.len()) {
        adapter.set_text_size(value);
    }
    if let Some(value) = flag(SOUND) {
        adapter.set_sound(value);
        window.global::<LiveAdapter>().set_sound(value);
    }
    if let Some(value) = flag(VIBRATION) {
        adapter.set_vibration(value);
    }
    if let Some(value) = flag(STILL) {
        adapter.set_still(value);
    }
    if let Some(value) = settings.get(CURRENCY) {
        adapter.set_currency(value.as_str().into());
    }
    if let Some(value) = settings.get(LABOUR_RATE) {
        adapter.set_labour_rate(value.as_str().into());
    }
    if let Some(value) = settings.get(TOOL_COST) {
        adapter.set_tool_cost(value.as_str().into());
    }
    apply(window, session);
}

/// Says what became of judging every recording again.
pub(super) fn show_judged(window: &AppWindow, judged: &[Rejudged], style: &Style) {
    let differ: Vec<&Rejudged> = judged.iter().filter(|it| it.differs).collect();
    let words = match (judged.len(), differ.len()) {
        (0, _) => style.of("There is nothing to judge yet.", "Es gibt noch nichts zu beurteilen."),
        (_, 0) => style.of(
            "Judged again: {}. Every verdict stands.",
            "Neu beurteilt: {}. Jedes Urteil bleibt.",
        ),
        _ => style.of("Judged again: {}. Differently: {}.", "Neu beurteilt: {}. Anders: {}."),
    };
    let words = words.replacen("{}", &judged.len().to_string(), 1).replacen(
        "{}",
        &differ.len().to_string(),
        1,
    );
    let adapter = window.global::<SettingsAdapter>();
    adapter.set_judging(false);
    adapter.set_judged(words.into());
    let said = |verdict: &Verdict| {
        let word = match verdict.fault {
            Some(fault) => fault_title(fault, style.language),
            None => verdict_outcome_word(verdict.outcome, style.language),
        };
        format!("{word}, {}", percent(verdict.probability, style.language))
    };
    let line = |it: &&Rejudged| {
        let before = it.before.as_ref().map_or_else(|| "–".to_owned(), |it| said(&it.0));
        let words = style.of("{}: was “{}”, is “{}”", "{}: war „{}“, ist „{}“");
        let words = words.replacen("{}", &it.vehicle, 1).replacen("{}", &before, 1);
        SharedString::from(words.replacen("{}", &said(&it.now), 1))
    };
    let lines: Vec<SharedString> = differ.iter().map(line).collect();
    adapter.set_judged_differently(ModelRc::new(VecModel::from(lines)));
}

/// Puts the settings of the page into effect.
pub(super) fn apply(window: &AppWindow, session: &Session) {
    apply_look(window, session);
    let (adapter, tokens) = (window.global::<SettingsAdapter>(), window.global::<Tokens>());
    tokens.set_still(adapter.get_still());
    let choice = |value: i32| usize::try_from(value).unwrap_or(0);
    let language = Language::ALL.get(choice(adapter.get_language())).copied().unwrap_or_default();
    let pressure = PressureUnit::ALL.get(choice(adapter.get_pressure())).copied();
    {
        let mut known = session.known_mut();
        known.style = Style { language, pressure: pressure.unwrap_or_default() };
        known.currency = adapter.get_currency().trim().to_uppercase();
    }
    let style = session.known().style;
    session.send(Command::SetStyle(style));
    select_translation(language);
    session.show_all();
}

/// Puts on day or night and the size of words: what is set here, and what the system says.
pub(super) fn apply_look(window: &AppWindow, session: &Session) {
    let (adapter, tokens) = (window.global::<SettingsAdapter>(), window.global::<Tokens>());
    tokens.set_night(match adapter.get_appearance() {
        1 => false,
        2 => true,
        _ => window.get_system_night(),
    });
    let size = usize::try_from(adapter.get_text_size()).unwrap_or(0);
    let chosen = TEXT_SIZES.get(size).copied().unwrap_or(1.0);
    tokens.set_text_scale(text_scale(chosen, session.device().text_scale()));
}

/// The program's own choice on top of the system's, within what every page has room for.
fn text_scale(chosen: f32, system: f32) -> f32 {
    let [smallest, .., largest] = TEXT_SIZES;
    let wanted = chosen * system;
    if wanted.is_finite() { wanted.clamp(smallest, largest) } else { chosen }
}

/// The fixed labels follow the sentences. English is in the markup itself, so that only another
/// language can be missing; then the labels stay English.
fn select_translation(language: Language) {
    let tag = if language == Language::English { "" } else { language.tag() };
    let _ = slint::select_bundled_translation(tag);
}

#[cfg(test)]
mod tests {
    use super::text_scale;

    #[test]
    fn the_systems_text_size_counts_within_what_pages_have_room_for() {
        let rows = [
            (1.0, 1.0, 1.0),
            (1.0, 1.3, 1.3),
            (1.1, 1.1, 1.21),
            (1.0, 2.0, 1.4),
            (1.0, 0.85, 1.0),
            (1.2, f32::NAN, 1.2),
        ];
        for (chosen, system, shown) in rows {
            assert!((text_scale(chosen, system) - shown).abs() < 1e-6, "{chosen} {system}");
        }
    }
}
