use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::markup::{AdapterItem, AppWindow, ConnectAdapter, Mark, StepItem};
use super::session::{Known, Session};
use super::{adapter_management, device_adapter};
use crate::jobs::{AdapterSeen, Command, LinkAddress, LinkState, SetupStep};
use crate::vehicle::Fault;
use crate::wording::Style;

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<ConnectAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_chosen(move |index| {
        let Some(session) = to.upgrade() else { return };
        let index = usize::try_from(index).unwrap_or(usize::MAX);
        let seen = session.known().adapters.get(index).cloned();
        if let Some(seen) = seen {
            join(&session, seen);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_looked(move || {
        let Some(session) = to.upgrade() else { return };
        if session.known().looking {
            session.send(Command::StopScan);
        } else {
            device_adapter::look_for_adapters(&session);
        }
    });
    adapter_management::connect(window, session);
    let to = Rc::downgrade(session);
    adapter.on_access_pressed(move || {
        if let Some(session) = to.upgrade() {
            device_adapter::grant(&session);
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_wired(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<ConnectAdapter>();
        let device = adapter.get_device().trim().to_owned();
        if !device.is_empty() {
            adapter.set_entering(0);
            let address = LinkAddress::Serial { device: device.clone(), baud: None };
            join(&session, entered(address, &device));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_networked(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<ConnectAdapter>();
        let text = adapter.get_address().trim().to_owned();
        match parse_address(&text) {
            Some((host, port)) => {
                adapter.set_address_problem("".into());
                adapter.set_entering(0);
                join(&session, entered(LinkAddress::Tcp { host, port }, &text));
            }
            None => {
                let problem = session.known().style.of(
                    "Write it as address, colon, port: 192.168.0.10:35000.",
                    "Bitte als Adresse, Doppelpunkt, Port schreiben: 192.168.0.10:35000.",
                );
                adapter.set_address_problem(problem.into());
            }
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_virtual_chosen(move || {
        let Some(session) = to.upgrade() else { return };
        let Some((visit, style)) = ({
            let known = session.known();
            known.card.as_ref().map(|card| (card.id, known.style))
        }) else {
            return;
        };
        // The visit draws the car, and one of the faults or none: the person is to find out which.
        let seed = visit.unsigned_abs();
        let drawn = usize::try_from(seed % (Fault::ALL.len() as u64 + 1)).unwrap_or(0);
        let fault = Fault::ALL.get(drawn).copied();
        let address = LinkAddress::Virtual { fault, seed, real_time: true };
        join(&session, entered(address, style.of("Virtual car", "Virtuelles Auto")));
    });
}

fn entered(address: LinkAddress, name: &str) -> AdapterSeen {
    AdapterSeen {
        address,
        name: name.to_owned(),
        has_name: true,
        strength_dbm: None,
        known: false,
        stream: None,
    }
}

fn join(session: &Session, seen: AdapterSeen) {
    {
        let mut known = session.known_mut();
        if !known.adapters.iter().any(|other| other.address == seen.address) {
            known.adapters.insert(0, seen.clone());
        }
        known.chosen_adapter = Some(seen.clone());
        known.setup.clear();
    }
    device_adapter::join(session, &seen);
    if let Some(window) = session.window() {
        show(&window, &session.known());
    }
}

/// `host:port`, the host without spaces.
fn parse_address(text: &str) -> Option<(String, u16)> {
    let (host, port) = text.rsplit_once(':')?;
    let host = host.trim_matches(['[', ']']);
    let plain = !host.is_empty() && !host.contains(char::is_whitespace);
    plain.then_some((host.to_owned(), port.parse().ok()?))
}

/// Shows the adapters and the steps of connecting.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let adapter = window.global::<ConnectAdapter>();
    let style = &known.style;
    let name = known.card.as_ref().map(|card| card.vehicle.name.as_str()).unwrap_or_default();
    adapter.set_note(name.into());
    adapter.set_looking(known.looking);
    let connecting = matches!(known.link, Some(LinkState::Connecting(_)));
    let items: Vec<AdapterItem> =
        known.adapters.iter().map(|seen| map_adapter(seen, known, style)).collect();
    adapter.set_adapters(ModelRc::new(VecModel::from(items)));
    adapter.set_connecting(connecting);
    adapter_management::show(&adapter, known);
    adapter.set_steps(ModelRc::new(VecModel::from(steps(known, style))));
    let problem = match &known.link {
        Some(LinkState::Failed(sentence)) => sentence.as_str(),
        _ => "",
    };
    adapter.set_problem(problem.into());
}

fn map_adapter(seen: &AdapterSeen, known: &Known, style: &Style) -> AdapterItem {
    let chosen = known.chosen_adapter.as_ref().is_some_and(|c| c.address == seen.address);
    let (nearness, strength, strokes) = match seen.strength_dbm {
        Some(dbm) => (nearness(dbm, style), format!("{} dBm", true_minus(dbm)), strokes(dbm)),
        None => ("", String::new(), 0),
    };
    let kind = match (&seen.address, seen.known) {
        (_, true) => style.of("used here last time", "hier zuletzt benutzt"),
        (LinkAddress::Bluetooth(_) | LinkAddress::BluetoothStream { .. }, false) => {
            style.of("new", "neu")
        }
        (LinkAddress::Classic(_), false) => style.of("paired", "gekoppelt"),
        (LinkAddress::Serial { .. }, false) => style.of("wired", "mit Kabel"),
        (LinkAddress::Tcp { .. }, false) => style.of("network", "Netzwerk"),
        (LinkAddress::Replay(_), false) => style.of("a recording", "eine Aufzeichnung"),
        (LinkAddress::Virtual { .. }, false) => style.of("virtual car", "virtuelles Auto"),
    };
    AdapterItem {
        name: seen.name.as_str().into(),
        note: kind.into(),
        nearness: nearness.into(),
        strength: strength.into(),
        strokes,
        wireless: seen.strength_dbm.is_some(),
        chosen,
        known: seen.known,
        has_streams: matches!(seen.address, LinkAddress::Bluetooth(_)),
        open: known.streams.as_ref().is_some_and(|(address, _)| *address == seen.address),
    }
}

fn true_minus(dbm: i16) -> String {
    dbm.to_string().replace('-', "−")
}

/// Received power of small radios in one room, common practice, no source: −40 dBm is beside it,
/// −90 dBm is at the end of its reach.
fn strokes(dbm: i16) -> i32 {
    ((i32::from(dbm) + 95) * 18 / 52).clamp(1, 18)
}

fn nearness(dbm: i16, style: &Style) -> &'static str {
    match dbm {
        -60.. => style.of("very near", "sehr nah"),
        -75..-60 => style.of("near", "nah"),
        _ => style.of("far", "fern"),
    }
}

fn steps(known: &Known, style: &Style) -> Vec<StepItem> {
    let Some(LinkState::Connecting(now)) = &known.link else { return Vec::new() };
    let all = [
        SetupStep::Opening,
        SetupStep::WakingAdapter,
        SetupStep::FindingProtocol,
        SetupStep::AskingSignals,
    ];
    let reached = all.iter().position(|step| step == now).unwrap_or(0);
    let line = |(place, step): (usize, &SetupStep)| {
        let done = place < reached;
        let (text, help) = match step {
            SetupStep::Opening => (
                if done {
                    style.of("Adapter joined", "Adapter verbunden")
                } else {
                    style.of("Joining the adapter", "Adapter wird verbunden")
                },
                "",
            ),
            SetupStep::WakingAdapter => (
                if done {
                    style.of("Adapter answers", "Adapter antwortet")
                } else {
                    style.of("Waking the adapter", "Adapter wird geweckt")
                },
                "",
            ),
            SetupStep::FindingProtocol => (
                if done {
                    style.of("The car answers", "Das Auto antwortet")
                } else {
                    style.of("Waiting for the car", "Warten auf das Auto")
                },
                style.of(
                    "Nothing after 30 s? Key off and on.",
                    "Nach 30 s nichts? Zündung aus und ein.",
                ),
            ),
            SetupStep::AskingSignals => {
                (style.of("Which readings it offers", "Welche Werte es bietet"), "")
            }
        };
        let running = place == reached;
        StepItem {
            text: text.into(),
            time: "".into(),
            help: if running { help } else { "" }.into(),
            mark: if done {
                Mark::Pass
            } else if running {
                Mark::Next
            } else {
                Mark::Expected
            },
        }
    };
    all.iter().enumerate().map(line).collect()
}
