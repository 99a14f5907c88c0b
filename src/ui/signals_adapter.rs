use std::fmt::Write;
use std::path::PathBuf;
use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, SharedString, VecModel};

use super::markup::{AppWindow, Page, SignalItem, SignalsAdapter, Tone, TriedLine};
use super::session::{Known, Session};
use crate::jobs::{Command, LinkState, SignalScope, Tried, TriedAnswer};
use crate::vehicle::{CustomSignal, Hex, Signal};
use crate::wording::{Style, number, signal_name, with_unit};

/// What an own request can give from this page; a file can name any signal.
const KINDS: [Signal; 3] = [Signal::TankSensor, Signal::VentCommand, Signal::TankPressure];

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<SignalsAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_kind_chosen(move |index| {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        window.global::<SignalsAdapter>().set_kind(index);
        let known = session.known();
        fill(&window, described(&window, &known));
    });
    let to = Rc::downgrade(session);
    adapter.on_scope_changed(move || {
        let Some(session) = to.upgrade() else { return };
        if let Some(window) = session.window() {
            show_kept(&window, &session.known());
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_tried_pressed(move || {
        if let Some((session, signal)) = to.upgrade().and_then(|it| Some((it.clone(), read(&it)?)))
        {
            session.send(Command::TryOwnSignal(signal));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_kept(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        if let Some(signal) = read(&session) {
            let mut signals = without(kept_for(&window, &session.known()), signal.signal);
            signals.push(signal);
            let scope = scope(&window);
            session.send(Command::SaveOwnSignals { signals, scope });
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_dropped(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let signals = without(kept_for(&window, &session.known()), kind(&window));
        let scope = scope(&window);
        session.send(Command::SaveOwnSignals { signals, scope });
    });
    let to = Rc::downgrade(session);
    adapter.on_imported(move || {
        let Some(session) = to.upgrade() else { return };
        if let Some((file, scope)) = file(&session) {
            session.send(Command::ImportOwnSignals { file, scope });
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_exported(move || {
        let Some(session) = to.upgrade() else { return };
        if let Some((file, scope)) = file(&session) {
            session.send(Command::ExportOwnSignals { file, scope });
        }
    });
}

/// Opens the page on what is kept.
pub(super) fn open(session: &Session) {
    if let Some(window) = session.window() {
        window.global::<SignalsAdapter>().set_written(SharedString::new());
    }
    session.send(Command::ListOwnSignals);
    session.go(Page::Signals);
}

/// The file that was named, and for whom it is.
fn file(session: &Session) -> Option<(PathBuf, SignalScope)> {
    let window = session.window()?;
    let file = window.global::<SignalsAdapter>().get_file();
    let file = file.trim();
    (!file.is_empty()).then(|| (PathBuf::from(file), scope(&window)))
}

fn scope(window: &AppWindow) -> SignalScope {
    match window.global::<SignalsAdapter>().get_for_vehicle() {
        true => SignalScope::ThisVehicle,
        false => SignalScope::AllVehicles,
    }
}

/// What is kept for whom the page is about.
fn kept_for<'a>(window: &AppWindow, known: &'a Known) -> &'a [CustomSignal] {
    match (scope(window), &known.own_signals.of_vehicle) {
        (SignalScope::ThisVehicle, Some((_, own))) => own,
        (SignalScope::ThisVehicle, None) => &[],
        (SignalScope::AllVehicles, _) => &known.own_signals.shared,
    }
}

fn without(signals: &[CustomSignal], signal: Signal) -> Vec<CustomSignal> {
    signals.iter().filter(|it| it.signal != signal).copied().collect()
}

fn kind(window: &AppWindow) -> Signal {
    let place = usize::try_from(window.global::<SignalsAdapter>().get_kind()).unwrap_or(0);
    KINDS.get(place).copied().unwrap_or(Signal::TankSensor)
}

/// The description of the chosen signal that is kept, if one is.
fn described<'a>(window: &AppWindow, known: &'a Known) -> Option<&'a CustomSignal> {
    let kind = kind(window);
    kept_for(window, known).iter().find(|it| it.signal == kind)
}

/// The description as written; what is wrong with it is said on the page.
fn read(session: &Session) -> Option<CustomSignal> {
    let window = session.window()?;
    let adapter = window.global::<SignalsAdapter>();
    let text = file_of(&window);
    match CustomSignal::read_all(&text).map(|signals| signals.first().copied()) {
        Ok(signal) => {
            adapter.set_problem(SharedString::new());
            signal
        }
        Err(error) => {
            adapter.set_problem(error.to_string().into());
            None
        }
    }
}

/// The fields as the file of own signals has them: there is one way to read a description.
fn file_of(window: &AppWindow) -> String {
    let adapter = window.global::<SignalsAdapter>();
    let mut text = format!("[[signal]]\nsignal = \"{}\"\n", kind(window).name());
    let quoted = [
        ("unit_address", adapter.get_unit_address()),
        ("service", adapter.get_service()),
        ("identifier", adapter.get_identifier()),
    ];
    let plain = [
        ("length", adapter.get_length()),
        ("start", adapter.get_start()),
        ("bytes", adapter.get_bytes()),
        ("bit", adapter.get_bit()),
        ("bits", adapter.get_bits()),
    ];
    let real = [
        ("scale", adapter.get_scale()),
        ("offset", adapter.get_offset()),
        ("low", adapter.get_low()),
        ("high", adapter.get_high()),
        ("rest_low", adapter.get_rest_low()),
        ("rest_high", adapter.get_rest_high()),
    ];
    let given = |value: &SharedString| -> Option<String> {
        // No sign that ends the value in the file can come from a field.
        let value: String = value
            .trim()
            .chars()
            .filter(|it| it.is_ascii_alphanumeric() || "+-.".contains(*it))
            .collect();
        (!value.is_empty()).then_some(value)
    };
    for (name, value) in &quoted {
        if let Some(value) = given(value) {
            let _infallible = writeln!(text, "{name} = \"{value}\"");
        }
    }
    for (name, value) in &plain {
        if let Some(value) = given(value) {
            let _infallible = writeln!(text, "{name} = {value}");
        }
    }
    for (name, value) in &real {
        let value = SharedString::from(value.replace(',', ".").replace('−', "-"));
        if let Some(value) = given(&value) {
            let point = if value.contains(['.', 'e']) { "" } else { ".0" };
            let _infallible = writeln!(text, "{name} = {value}{point}");
        }
    }
    if adapter.get_signed() {
        text.push_str("signed = true\n");
    }
    text
}

/// Fills the fields with a description, or empties them.
fn fill(window: &AppWindow, signal: Option<&CustomSignal>) {
    let adapter = window.global::<SignalsAdapter>();
    let hex = |hex: Hex| SharedString::from(hex.to_string());
    let text = |number: Option<f64>| number.map(|it| it.to_string()).unwrap_or_default().into();
    let count = |number: usize| {
        SharedString::from(if number == 0 { String::new() } else { number.to_string() })
    };
    adapter.set_unit_address(signal.and_then(|it| it.unit_address).map(hex).unwrap_or_default());
    adapter.set_service(signal.map_or_else(|| "22".into(), |it| hex(it.service)));
    adapter.set_identifier(signal.map(|it| hex(it.identifier)).unwrap_or_default());
    adapter.set_length(signal.map(|it| count(it.length)).unwrap_or_default());
    adapter.set_start(signal.map(|it| count(it.start)).unwrap_or_default());
    adapter.set_bytes(signal.and_then(|it| it.bytes).map(count).unwrap_or_default());
    adapter.set_bit(signal.map(|it| count(usize::from(it.bit))).unwrap_or_default());
    let bits = signal.and_then(|it| it.bits).map(|it| count(usize::from(it)));
    adapter.set_bits(bits.unwrap_or_default());
    adapter.set_signed(signal.is_some_and(|it| it.signed));
    adapter.set_scale(text(signal.map(|it| it.scale)));
    adapter.set_offset(text(signal.map(|it| it.offset).filter(|it| *it != 0.0)));
    adapter.set_low(text(signal.and_then(|it| it.low)));
    adapter.set_high(text(signal.and_then(|it| it.high)));
    adapter.set_rest_low(text(signal.and_then(|it| it.rest_low)));
    adapter.set_rest_high(text(signal.and_then(|it| it.rest_high)));
    adapter.set_problem(SharedString::new());
    adapter.set_tried(ModelRc::default());
}

/// Shows what is kept.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let (adapter, style) = (window.global::<SignalsAdapter>(), &known.style);
    let vehicle = known.own_signals.of_vehicle.as_ref().map(|(name, _)| name.as_str());
    adapter.set_vehicle(vehicle.unwrap_or_default().into());
    if vehicle.is_none() {
        adapter.set_for_vehicle(false);
    }
    let kept = kept_for(window, known);
    let items: Vec<SignalItem> = KINDS
        .into_iter()
        .map(|kind| {
            let own = kept.iter().find(|it| it.signal == kind);
            let request = own.map_or("–".to_owned(), |own| {
                let (service, data) = own.request();
                hex(&[&[service], data.as_slice()].concat())
            });
            SignalItem { name: signal_name(kind, style.language).into(), request: request.into() }
        })
        .collect();
    adapter.set_kinds(ModelRc::new(VecModel::from(items)));
    adapter.set_possible(matches!(known.link, Some(LinkState::Linked { .. })));
}

/// Shows what is kept, and the chosen description in the fields.
pub(super) fn show_kept(window: &AppWindow, known: &Known) {
    show(window, known);
    fill(window, described(window, known));
}

/// Shows what the car answered, byte by byte.
pub(super) fn show_tried(window: &AppWindow, tried: &Tried, style: &Style) {
    let line = |label: &str, value: String, tone| TriedLine {
        label: label.into(),
        value: value.into(),
        tone,
    };
    let mut lines = vec![line(style.of("Sent", "Gesendet"), hex(&tried.sent), Tone::Ink)];
    if let Some(failure) = &tried.failure {
        lines.push(line(style.of("No answer", "Keine Antwort"), failure.clone(), Tone::Fail));
    }
    for answer in &tried.answers {
        lines.extend(
            answer_lines(tried, answer, style).map(|(label, value, tone)| line(label, value, tone)),
        );
    }
    window.global::<SignalsAdapter>().set_tried(ModelRc::new(VecModel::from(lines)));
}

fn answer_lines<'a>(
    tried: &Tried,
    answer: &TriedAnswer,
    style: &'a Style,
) -> impl Iterator<Item = (&'a str, String, Tone)> {
    let from = style.of("Answer", "Antwort");
    let mut lines = vec![(from, format!("{}: {}", answer.unit, hex(&answer.raw)), Tone::Ink)];
    match &answer.picked {
        Err(problem) => {
            lines.push((style.of("Not read", "Nicht gelesen"), problem.to_string(), Tone::Fail));
        }
        Ok(picked) => {
            let top = picked.bit.saturating_add(picked.bits).saturating_sub(1);
            let bits = style
                .of("{}, bits {} to {}: {}", "{}, Bits {} bis {}: {}")
                .replacen("{}", &hex(&picked.bytes), 1)
                .replacen("{}", &picked.bit.to_string(), 1)
                .replacen("{}", &top.to_string(), 1)
                .replacen("{}", &picked.number.to_string(), 1);
            lines.push((style.of("Picked", "Daraus"), bits, Tone::Ink));
            let shown = number(picked.unlimited, 3, style.language);
            let value = with_unit(&shown, tried.signal.signal.unit());
            let label = style.of("Value", "Wert");
            match picked.value {
                Some(_) => lines.push((label, value, Tone::Form)),
                None => {
                    let why = style.of("outside its limits", "außerhalb der Grenzen");
                    lines.push((label, format!("{value}, {why}"), Tone::Fail));
                }
            }
        }
    }
    lines.into_iter()
}

/// Bytes as two hexadecimal digits each.
fn hex(bytes: &[u8]) -> String {
    let digits: Vec<String> = bytes.iter().map(|byte| format!("{byte:02X}")).collect();
    digits.join(" ")
}
