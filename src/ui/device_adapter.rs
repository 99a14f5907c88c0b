use slint::ComponentHandle;

use super::markup::{AppWindow, ConnectAdapter, ReportAdapter, SettingsAdapter};
use super::session::Session;
use crate::jobs::{AdapterSeen, Command, LinkAddress, LinkState};
use crate::platform::{
    Access, Desk, Device, Facts, Feel, HandedOver, Permissions, Request, bluetooth_permissions,
};
use crate::wording::Style;

/// What is known of the device under the window.
#[derive(Default)]
pub(super) struct DeviceState {
    permissions: Permissions,
    /// What the person wants as soon as it is allowed.
    wish: Option<Wish>,
    is_awake: bool,
    link_was_lost: bool,
}

/// What the person wants that takes a permission.
enum Wish {
    /// To see the adapters nearby.
    Look,
    /// To join this one.
    Join(LinkAddress),
}

/// Tells the pages what this device has.
pub(super) fn connect(window: &AppWindow, device: &dyn Device) {
    window.global::<SettingsAdapter>().set_has_vibration(device.can_vibrate());
    window.global::<ReportAdapter>().set_shares(device.has_share_sheet());
    let adapter = window.global::<ConnectAdapter>();
    adapter.set_has_wired(cfg!(feature = "serial"));
    adapter.set_has_network(device.reaches_network());
}

/// Looks for adapters, after the person has allowed it.
pub(super) fn look_for_adapters(session: &Session) {
    if is_allowed(session, Wish::Look) {
        session.send(Command::ScanAdapters);
    }
    show(session);
}

/// Joins an adapter, after the person has allowed it where that takes a permission.
pub(super) fn join(session: &Session, seen: &AdapterSeen) {
    let free = match seen.address {
        LinkAddress::Bluetooth(_)
        | LinkAddress::BluetoothStream { .. }
        | LinkAddress::Classic(_) => is_allowed(session, Wish::Join(seen.address.clone())),
        LinkAddress::Serial { .. }
        | LinkAddress::Tcp { .. }
        | LinkAddress::Replay(_)
        | LinkAddress::Virtual { .. } => true,
    };
    if free {
        session.send(Command::Connect(seen.address.clone()));
    }
    show(session);
}

/// The person wants to grant what is missing.
pub(super) fn grant(session: &Session) {
    let device = session.device();
    let Some(desk) = device.desk() else { return };
    let facts = facts(desk);
    let request = {
        let mut state = session.device_state();
        state.permissions.handle_consent(facts);
        state.permissions.poll_request()
    };
    carry(desk, request);
    settle(session);
}

/// The person is back from another app, a question of the system or its settings.
pub(super) fn look_again(session: &Session) {
    if let Some(desk) = session.device().desk() {
        let facts = facts(desk);
        session.device_state().permissions.handle_facts(facts);
        settle(session);
    }
}

/// Keeps the device awake while a check runs, and lets a lost link be felt.
pub(super) fn follow(session: &Session, window: &AppWindow) {
    let (checking, lost) = {
        let known = session.known();
        let lost = matches!(known.link, Some(LinkState::Lost { .. }));
        (known.progress.is_some() && known.ended.is_none(), lost)
    };
    let (turned, just_lost) = {
        let mut state = session.device_state();
        let turned = std::mem::replace(&mut state.is_awake, checking) != checking;
        (turned, !std::mem::replace(&mut state.link_was_lost, lost) && lost)
    };
    if turned {
        session.device().stay_awake(checking);
    }
    if just_lost && checking {
        feel(session, window, Feel::Lost);
    }
}

/// Lets something be felt, unless the person does not want it.
pub(super) fn feel(session: &Session, window: &AppWindow, feel: Feel) {
    if window.global::<SettingsAdapter>().get_vibration() {
        session.device().vibrate(feel);
    }
}

/// Hands the written report over, and says what keeps it here.
pub(super) fn hand_over(session: &Session) {
    let (path, style) = {
        let known = session.known();
        (known.written.clone(), known.style)
    };
    let Some(path) = path else { return };
    match session.device().hand_over(&path) {
        Ok(HandedOver::Offered | HandedOver::ShownInFolder) => {}
        Err(_) => session.notice(style.of(
            "The report could not be handed over. It is still where it was written to.",
            "Der Bericht ließ sich nicht weitergeben. Er liegt noch da, wo er geschrieben wurde.",
        )),
    }
}

/// Shows what is lost without the permission and how to grant it.
pub(super) fn show(session: &Session) {
    let Some(window) = session.window() else { return };
    let device = session.device();
    let style = session.known().style;
    let access = session.device_state().permissions.access();
    let (text, action) = match device.desk() {
        Some(desk) => words(access, needs_location(desk), &style),
        None => ("", ""),
    };
    let adapter = window.global::<ConnectAdapter>();
    adapter.set_access(text.into());
    adapter.set_access_action(action.into());
}

/// Whether looking and joining may begin; else the wish is kept, and the person is asked if nobody
/// asked before.
fn is_allowed(session: &Session, wish: Wish) -> bool {
    let device = session.device();
    let Some(desk) = device.desk() else { return true };
    let facts = facts(desk);
    let request = {
        let mut state = session.device_state();
        state.permissions.handle_wish(facts);
        let allowed = state.permissions.access() == Access::Granted;
        state.wish = (!allowed).then_some(wish);
        if allowed {
            return true;
        }
        state.permissions.poll_request()
    };
    carry(desk, request);
    false
}

/// Does what waited for the grant, and shows how things stand.
fn settle(session: &Session) {
    let wish = {
        let mut state = session.device_state();
        let granted = state.permissions.access() == Access::Granted;
        state.wish.take_if(|_| granted)
    };
    match wish {
        Some(Wish::Look) => session.send(Command::ScanAdapters),
        Some(Wish::Join(address)) => session.send(Command::Connect(address)),
        None => {}
    }
    show(session);
}

fn carry(desk: &dyn Desk, request: Option<Request>) {
    match request {
        Some(Request::Ask) => desk.ask(bluetooth_permissions(desk.system_level())),
        Some(Request::OpenSettings) => desk.open_settings(),
        None => {}
    }
}

fn facts(desk: &dyn Desk) -> Facts {
    Facts::at(desk, bluetooth_permissions(desk.system_level()))
}

/// Whether this system takes looking for Bluetooth devices for asking where the phone is.
fn needs_location(desk: &dyn Desk) -> bool {
    bluetooth_permissions(desk.system_level()).iter().any(|it| it.ends_with("_LOCATION"))
}

/// What is lost and what to do, and the button's word.
fn words(access: Access, location: bool, style: &Style) -> (&'static str, &'static str) {
    let what = match (access, location) {
        (Access::Granted, _) => return ("", ""),
        (Access::NotAsked | Access::Asking, false) => style.of(
            "To find and join a Bluetooth adapter, the system asks you to allow nearby devices. \
             The virtual car and earlier visits work without it.",
            "Um einen Bluetooth-Adapter zu finden und zu verbinden, fragt das System nach Geräten \
             in der Nähe. Das virtuelle Auto und frühere Besuche gehen auch ohne.",
        ),
        (Access::NotAsked | Access::Asking, true) => style.of(
            "To find a Bluetooth adapter, this system asks you to allow the location, and wants it \
             switched on. Stilltank never reads where you are. The virtual car and earlier visits \
             work without it.",
            "Um einen Bluetooth-Adapter zu finden, fragt dieses System nach dem Standort und will \
             ihn eingeschaltet haben. Stilltank liest nie, wo Sie sind. Das virtuelle Auto und \
             frühere Besuche gehen auch ohne.",
        ),
        (Access::Refused, false) => style.of(
            "Without nearby devices no Bluetooth adapter can be found or joined, so no real car \
             can be checked that way. The virtual car and earlier visits still work.",
            "Ohne Geräte in der Nähe lässt sich kein Bluetooth-Adapter finden oder verbinden, und \
             so kein echtes Auto prüfen. Das virtuelle Auto und frühere Besuche gehen weiter.",
        ),
        (Access::Refused, true) => style.of(
            "Without the location this system finds no Bluetooth adapters, so no real car can be \
             checked that way. Stilltank never reads where you are. The virtual car and earlier \
             visits still work.",
            "Ohne den Standort findet dieses System keine Bluetooth-Adapter, und so lässt sich kein \
             echtes Auto prüfen. Stilltank liest nie, wo Sie sind. Das virtuelle Auto und frühere \
             Besuche gehen weiter.",
        ),
        (Access::Blocked, false) => style.of(
            "The system no longer asks. Open its page for Stilltank, then Permissions, then Nearby \
             devices, and allow it. Until then no Bluetooth adapter can be found or joined; the \
             virtual car and earlier visits still work.",
            "Das System fragt nicht mehr. Seine Seite für Stilltank öffnen, dann Berechtigungen, \
             dann Geräte in der Nähe, und erlauben. Bis dahin lässt sich kein Bluetooth-Adapter \
             finden oder verbinden; das virtuelle Auto und frühere Besuche gehen weiter.",
        ),
        (Access::Blocked, true) => style.of(
            "The system no longer asks. Open its page for Stilltank, then Permissions, then \
             Location, and allow it. Until then no Bluetooth adapter can be found; the virtual car \
             and earlier visits still work.",
            "Das System fragt nicht mehr. Seine Seite für Stilltank öffnen, dann Berechtigungen, \
             dann Standort, und erlauben. Bis dahin lässt sich kein Bluetooth-Adapter finden; das \
             virtuelle Auto und frühere Besuche gehen weiter.",
        ),
    };
    let action = match access {
        Access::Blocked => style.of("Open the settings", "Einstellungen öffnen"),
        _ => style.of("Allow it", "Erlauben"),
    };
    (what, action)
}
