use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::connect_adapter;
use super::markup::{AppWindow, ConnectAdapter, StreamItem};
use super::session::{Known, Session};
use crate::jobs::{AdapterSeen, Command, StreamOffer};
use crate::wording::Style;

/// Connects what a person can do with an adapter beside joining it.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<ConnectAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_forgotten(move |index| {
        with(&to, index, |session, seen| {
            session.send(Command::ForgetAdapter(seen.address));
        });
    });
    let to = Rc::downgrade(session);
    adapter.on_remembered(move |index| {
        with(&to, index, |session, seen| {
            session.send(Command::RememberAdapter { address: seen.address, name: seen.name });
        });
    });
    let to = Rc::downgrade(session);
    adapter.on_streams_asked(move |index| {
        with(&to, index, |session, seen| {
            session.known_mut().streams = Some((seen.address.clone(), None));
            session.send(Command::ListStreams(seen.address));
            if let Some(window) = session.window() {
                connect_adapter::show(&window, &session.known());
            }
        });
    });
    let to = Rc::downgrade(session);
    adapter.on_stream_chosen(move |place| {
        let Some(session) = to.upgrade() else { return };
        let open = session.known().streams.clone();
        let Some((address, Some(offers))) = open else { return };
        // The first line leaves the choice to the program.
        let chosen = usize::try_from(place).ok().and_then(|it| it.checked_sub(1));
        let stream = chosen.and_then(|it| offers.get(it)).map(|it| it.pair.clone());
        session.send(Command::ChooseStream { address, stream });
    });
}

fn with(to: &std::rc::Weak<Session>, index: i32, work: impl FnOnce(&Session, AdapterSeen)) {
    let Some(session) = to.upgrade() else { return };
    let index = usize::try_from(index).unwrap_or(usize::MAX);
    let seen = session.known().adapters.get(index).cloned();
    if let Some(seen) = seen {
        work(&session, seen);
    }
}

/// Shows what the open adapter offers.
pub(super) fn show(adapter: &ConnectAdapter<'_>, known: &Known) {
    let (items, note) = match &known.streams {
        None => (Vec::new(), ""),
        Some((_, None)) => (
            Vec::new(),
            known.style.of("Asking the adapter what it offers …", "Der Adapter wird gefragt …"),
        ),
        Some((_, Some(offers))) if offers.is_empty() => (
            Vec::new(),
            known.style.of(
                "It offers nothing that could carry a serial stream: this is no adapter, or one \
                 for classic Bluetooth.",
                "Es bietet nichts, worüber serielle Daten gehen könnten: kein Adapter, oder einer \
                 für klassisches Bluetooth.",
            ),
        ),
        Some((address, Some(offers))) => {
            let seen = known.adapters.iter().find(|it| it.address == *address);
            let chosen = seen.and_then(|it| it.stream.as_ref());
            let first = StreamItem {
                text: known.style.of("The program chooses", "Das Programm wählt").into(),
                note: "".into(),
                chosen: chosen.is_none(),
            };
            let rows = offers.iter().map(|it| item(it, chosen == Some(&it.pair), &known.style));
            (std::iter::once(first).chain(rows).collect(), "")
        }
    };
    adapter.set_streams(ModelRc::new(VecModel::from(items)));
    adapter.set_streams_note(note.into());
}

fn item(offer: &StreamOffer, chosen: bool, style: &Style) -> StreamItem {
    let text = offer.pair.to_string();
    let note = match (offer.without_response, offer.usual) {
        (true, true) => style.of(
            "sends without waiting; what the program would choose",
            "sendet ohne zu warten; würde das Programm wählen",
        ),
        (false, true) => style.of(
            "waits after each piece; what the program would choose",
            "wartet nach jedem Stück; würde das Programm wählen",
        ),
        (true, false) => style.of("sends without waiting", "sendet ohne zu warten"),
        (false, false) => style.of("waits after each piece", "wartet nach jedem Stück"),
    };
    StreamItem { text: text.into(), note: note.into(), chosen }
}
