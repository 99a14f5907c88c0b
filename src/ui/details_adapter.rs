use std::rc::Rc;

use slint::{ComponentHandle, ModelRc, VecModel};

use super::device_adapter;
use super::markup::{AppWindow, CustomerItem, DetailsAdapter, Navigation, Page, VehicleAdapter};
use super::session::{Known, Session};
use crate::jobs::{Command, CustomerLine, HistoryCommand, VehicleDetails};

/// Known customers that are offered at once.
const OFFERED: usize = 6;

/// Connects the page's callbacks.
pub(super) fn connect(window: &AppWindow, session: &Rc<Session>) {
    let to = Rc::downgrade(session);
    window.global::<VehicleAdapter>().on_details_opened(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        fill(&window, &mut session.known_mut());
        session.send(Command::Histories(HistoryCommand::ListCustomers));
        session.go(Page::Details);
    });
    let adapter = window.global::<DetailsAdapter>();
    let to = Rc::downgrade(session);
    adapter.on_kept_pressed(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        for command in kept(&window, &session.known()) {
            session.send(Command::Histories(command));
        }
        window.global::<DetailsAdapter>().set_kept("".into());
    });
    let to = Rc::downgrade(session);
    adapter.on_customer_edited(move || {
        let Some(session) = to.upgrade() else { return };
        if let Some(window) = session.window() {
            show_others(&window, &session.known());
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_customer_chosen(move |index| {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        let chosen = usize::try_from(index)
            .ok()
            .and_then(|index| offered(&window, &session.known()).nth(index).cloned());
        if let Some(chosen) = chosen {
            write_customer(&window, Some(&chosen));
            session.known_mut().customer_chosen = chosen.id;
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_customer_cleared(move || {
        let Some(session) = to.upgrade() else { return };
        let Some(window) = session.window() else { return };
        session.known_mut().customer_chosen = None;
        write_customer(&window, None);
        show_others(&window, &session.known());
    });
    let to = Rc::downgrade(session);
    adapter.on_export_pressed(move || {
        let Some(session) = to.upgrade() else { return };
        let vehicle = session.known().vehicle.as_ref().map(|page| page.vehicle.id);
        if vehicle.is_some() {
            session.send(Command::Histories(HistoryCommand::Export { vehicle, to: None }));
        }
    });
    let to = Rc::downgrade(session);
    adapter.on_handed_over(move || {
        if let Some(session) = to.upgrade() {
            device_adapter::hand_over(&session);
        }
    });
}

/// Says that what was written is kept, and shows it as it is kept: a customer who was new is known.
pub(super) fn show_kept(window: &AppWindow, known: &mut Known) {
    if window.global::<Navigation>().get_page() == Page::Details {
        fill(window, known);
        let words = known.style.of("Kept.", "Behalten.");
        window.global::<DetailsAdapter>().set_kept(words.into());
    }
}

/// Fills the fields with the vehicle in view and whose it is.
fn fill(window: &AppWindow, known: &mut Known) {
    let Some(page) = &known.vehicle else { return };
    let adapter = window.global::<DetailsAdapter>();
    let VehicleDetails { name, vin, plate, make, fuel, tank_litre, notes } = &page.details;
    adapter.set_vehicle(page.vehicle.name.as_str().into());
    adapter.set_virtual_car(page.vehicle.is_virtual);
    adapter.set_name(name.into());
    adapter.set_vin(vin.into());
    adapter.set_plate(plate.into());
    adapter.set_make(make.into());
    adapter.set_fuel(fuel.into());
    adapter.set_tank_litre(tank_litre.into());
    adapter.set_notes(notes.into());
    adapter.set_kept("".into());
    adapter.set_exported("".into());
    write_customer(window, page.customer.as_ref());
    known.customer_chosen = page.customer.as_ref().and_then(|it| it.id);
    show_others(window, known);
}

fn write_customer(window: &AppWindow, customer: Option<&CustomerLine>) {
    let nobody = CustomerLine::default();
    let customer = customer.unwrap_or(&nobody);
    let adapter = window.global::<DetailsAdapter>();
    adapter.set_customer(customer.name.as_str().into());
    adapter.set_phone(customer.phone.as_str().into());
    adapter.set_email(customer.email.as_str().into());
    adapter.set_customer_notes(customer.notes.as_str().into());
    adapter.set_known_customer(customer.id.is_some());
}

/// Known customers whose name holds what is written, in order of name.
fn offered<'a>(
    window: &AppWindow,
    known: &'a Known,
) -> impl Iterator<Item = &'a CustomerLine> + use<'a> {
    let written = window.global::<DetailsAdapter>().get_customer().trim().to_lowercase();
    let fits = move |it: &&CustomerLine| it.name.to_lowercase().contains(&written);
    known.customers.iter().filter(fits).take(OFFERED)
}

/// Shows the customers that can be taken.
pub(super) fn show_others(window: &AppWindow, known: &Known) {
    let item = |it: &CustomerLine| CustomerItem {
        name: it.name.as_str().into(),
        note: it.phone.as_str().into(),
    };
    let items: Vec<CustomerItem> = offered(window, known).map(item).collect();
    window.global::<DetailsAdapter>().set_others(ModelRc::new(VecModel::from(items)));
}

/// What the fields ask for: the vehicle's own, and whose it is where that is said or was.
fn kept(window: &AppWindow, known: &Known) -> Vec<HistoryCommand> {
    let Some(page) = &known.vehicle else { return Vec::new() };
    let vehicle = page.vehicle.id;
    let adapter = window.global::<DetailsAdapter>();
    let details = VehicleDetails {
        name: adapter.get_name().into(),
        vin: adapter.get_vin().into(),
        plate: adapter.get_plate().into(),
        make: adapter.get_make().into(),
        fuel: adapter.get_fuel().into(),
        tank_litre: adapter.get_tank_litre().into(),
        notes: adapter.get_notes().into(),
    };
    let written = CustomerLine {
        id: known.customer_chosen,
        name: adapter.get_customer().into(),
        phone: adapter.get_phone().into(),
        email: adapter.get_email().into(),
        notes: adapter.get_customer_notes().into(),
    };
    let customer = (!written.name.trim().is_empty()).then_some(written);
    let mut commands = vec![HistoryCommand::EditVehicle { vehicle, details }];
    if customer != page.customer {
        commands.push(HistoryCommand::SetCustomer { vehicle, customer });
    }
    commands
}
