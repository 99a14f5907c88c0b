use std::rc::Rc;

use slint::{ComponentHandle, Model, ModelRc, VecModel};

use super::car_sections::{monitors, sections};
use super::markup::{AppWindow, CarAdapter, MakerCode, TankItem, VentAdapter};
use super::session::{Known, Session};
use super::{dates, signals_adapter};
use crate::jobs::{CarReport, Command, LinkState, VehicleFacts, vent_words};
use crate::vehicle::TroubleCode;
use crate::wording::{Language, Style};

/// Connects both pages' callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let adapter = window.global::<CarAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_tank_chosen(move |index| {
        let Some(session) = to.upgrade() else { return };
        let place = usize::try_from(index).unwrap_or(usize::MAX);
        let source = {
            let known = session.known();
            let line = known.card.as_ref().and_then(|card| card.car.as_ref()?.tank_source.as_ref());
            line.and_then(|line| {
                std::iter::once(&line.chosen).chain(&line.others).nth(place).map(|it| it.source)
            })
        };
        if let Some(source) = source.filter(|_| place > 0) {
            session.send(Command::UseTankSource(Some(source)));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_tank_left(move || {
        if let Some(session) = to.upgrade() {
            session.send(Command::UseTankSource(None));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_described(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<CarAdapter>();
        session.send(Command::DescribeVehicle(VehicleFacts {
            make: adapter.get_make().into(),
            fuel: adapter.get_fuel().into(),
            tank_litre: adapter.get_tank_litre().into(),
        }));
    });
    let to = Rc::downgrade(session);
    adapter.on_code_noted(move |index, meaning| {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let codes = window.global::<CarAdapter>().get_maker_codes();
        let item = usize::try_from(index).ok().and_then(|index| codes.row_data(index));
        if let Some(item) = item {
            session.send(Command::NoteCode { code: item.code.into(), meaning: meaning.into() });
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_signals_opened(move || {
        if let Some(session) = to.upgrade() {
            signals_adapter::open(&session);
        }
    });
    let to = Rc::downgrade(session);
    window.global::<VentAdapter>().on_closed(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let adapter = window.global::<VentAdapter>();
        // The consent is for this one request; another needs another.
        let consent = adapter.get_agreed();
        adapter.set_agreed(false);
        if consent {
            session.send(Command::CloseVent { consent });
        }
    });
}

/// Shows everything that the car says, and what can be asked of it.
pub(super) fn show(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let (adapter, style) = (window.global::<CarAdapter>(), &known.style);
    let note = match style.language {
        Language::English => format!("{}, visit {}", card.vehicle.name, card.number),
        Language::German => format!("{}, Besuch {}", card.vehicle.name, card.number),
    };
    adapter.set_note(note.as_str().into());
    adapter.set_virtual_car(card.vehicle.is_virtual);
    let nothing = CarReport::default();
    let car = card.car.as_ref().unwrap_or(&nothing);
    adapter.set_sections(sections(car, &known.recording, style));
    adapter.set_monitors(ModelRc::new(VecModel::from(monitors(car, style))));
    show_tank(&adapter, car);
    let own = |code: &str| code.parse::<TroubleCode>().is_ok_and(TroubleCode::is_maker_specific);
    let codes: Vec<MakerCode> = car
        .codes
        .iter()
        .filter(|line| own(&line.code))
        .map(|line| MakerCode {
            code: line.code.as_str().into(),
            meaning: line.meaning.as_str().into(),
        })
        .collect();
    adapter.set_maker_codes(ModelRc::new(VecModel::from(codes)));
    show_vent(window, known, style);
}

/// Shows what the vehicle is, when another one's visit is opened: what is being written stays.
pub(super) fn show_vehicle(window: &AppWindow, known: &Known) {
    let Some(card) = &known.card else { return };
    let adapter = window.global::<CarAdapter>();
    adapter.set_make(card.facts.make.as_str().into());
    adapter.set_fuel(card.facts.fuel.as_str().into());
    adapter.set_tank_litre(card.facts.tank_litre.as_str().into());
    window.global::<VentAdapter>().set_agreed(false);
}

fn show_tank(adapter: &CarAdapter<'_>, car: &CarReport) {
    let Some(line) = &car.tank_source else {
        adapter.set_tank(ModelRc::default());
        adapter.set_tank_by_hand(false);
        return;
    };
    let item = |option: &crate::jobs::TankOption, chosen| TankItem {
        text: option.name.as_str().into(),
        note: option.doubt.clone().unwrap_or_default().into(),
        chosen,
    };
    let items: Vec<TankItem> = std::iter::once(item(&line.chosen, true))
        .chain(line.others.iter().map(|option| item(option, false)))
        .collect();
    adapter.set_tank(ModelRc::new(VecModel::from(items)));
    adapter.set_tank_by_hand(line.by_hand);
    adapter.set_tank_why(super::visit_car::upper_first(&line.why).into());
}

fn show_vent(window: &AppWindow, known: &Known, style: &Style) {
    let Some(card) = &known.card else { return };
    let adapter = window.global::<VentAdapter>();
    let words = vent_words(style.language);
    adapter.set_note(window.global::<CarAdapter>().get_note());
    adapter.set_what(words.what.into());
    adapter.set_limit(format!("{} {}", words.limit, words.reminder).into());
    adapter.set_way_out(words.way_out.into());
    adapter.set_caution(words.caution.into());
    adapter.set_possible(matches!(known.link, Some(LinkState::Linked { .. })));
    let why_not = style.of(
        "Connect to the car first, key on, engine off.",
        "Erst mit dem Auto verbinden, Zündung ein, Motor aus.",
    );
    adapter.set_why_not(why_not.into());
    let closed = card.vent_closed.map(dates::clock);
    let done = closed.as_ref().map(|at| {
        style
            .of("Closed at {}. Key off opens it.", "Geschlossen um {}. Zündung aus öffnet es.")
            .replace("{}", at)
    });
    adapter.set_done(done.unwrap_or_default().into());
    let since = closed.map(|at| style.of("closed at {}", "zu seit {}").replace("{}", &at));
    window.global::<CarAdapter>().set_vent(since.unwrap_or_default().into());
}
