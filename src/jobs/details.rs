use super::history_command::{CustomerLine, HistoryEvent, VehicleDetails};
use super::{Event, JobError, Workshop, repair};
use crate::store::{Customer, CustomerId, NewVehicle, Store, VehicleId, VehicleSummary};
use crate::vehicle::Vin;

/// What is known of a vehicle.
pub(super) fn details(vehicle: &VehicleSummary) -> VehicleDetails {
    VehicleDetails {
        name: vehicle.name.clone(),
        vin: vehicle.vin.clone().unwrap_or_default(),
        plate: vehicle.plate.clone().unwrap_or_default(),
        make: vehicle.make.clone(),
        fuel: vehicle.fuel.clone(),
        tank_litre: vehicle.tank_litre.map(|litre| litre.to_string()).unwrap_or_default(),
        notes: vehicle.notes.clone(),
    }
}

/// Whose vehicle it is.
pub(super) fn owner(store: &Store, id: VehicleId) -> Result<Option<CustomerLine>, JobError> {
    Ok(store.customer_of(id)?.map(|(id, customer)| line(id, customer)))
}

/// What was typed as a VIN, in its own letters.
///
/// # Errors
/// [`JobError::NotAVin`] if it is none; an empty one is none that was given.
pub(super) fn typed_vin(text: &str) -> Result<String, JobError> {
    let vin = text.trim().to_uppercase();
    if !vin.is_empty() && vin.parse::<Vin>().is_err() {
        return Err(JobError::NotAVin { text: vin });
    }
    Ok(vin)
}

fn line(id: CustomerId, customer: Customer) -> CustomerLine {
    let Customer { name, phone, email, notes } = customer;
    CustomerLine { id: Some(id.0), name, phone, email, notes }
}

impl Workshop {
    /// Changes what a vehicle is.
    pub(super) fn edit_vehicle(
        &mut self,
        id: VehicleId,
        details: &VehicleDetails,
    ) -> Result<(), JobError> {
        let tank_litre = repair::tank_size(&details.tank_litre)?;
        let vin = typed_vin(&details.vin)?;
        let trimmed = |text: &str| text.trim().to_owned();
        if details.name.trim().is_empty() && vin.is_empty() {
            return Err(JobError::NameMissing);
        }
        let vehicle = NewVehicle {
            name: trimmed(&details.name),
            vin,
            plate: trimmed(&details.plate),
            make: trimmed(&details.make),
            fuel: trimmed(&details.fuel),
            tank_litre,
            notes: trimmed(&details.notes),
            is_virtual: self.store.vehicle(id)?.is_virtual,
        };
        let date = self.date();
        self.store.edit_vehicle(id, &vehicle, date)?;
        self.look_at_vehicle_again(id)
    }

    /// Shows every customer.
    pub(super) fn list_customers(&mut self) -> Result<(), JobError> {
        let all = self.store.list_customers()?.into_iter();
        let lines = all.map(|(id, customer)| line(id, customer)).collect();
        self.emit(Event::Histories(HistoryEvent::Customers(lines)));
        Ok(())
    }

    /// Says whose vehicle it is, and keeps what is new of them.
    pub(super) fn set_customer_of(
        &mut self,
        vehicle: VehicleId,
        customer: Option<&CustomerLine>,
    ) -> Result<(), JobError> {
        let date = self.date();
        let whose = match customer {
            None => None,
            Some(line) => {
                let trimmed = |text: &str| text.trim().to_owned();
                let known = Customer {
                    name: trimmed(&line.name),
                    phone: trimmed(&line.phone),
                    email: trimmed(&line.email),
                    notes: trimmed(&line.notes),
                };
                if known.name.is_empty() {
                    return Err(JobError::NameMissing);
                }
                Some(match line.id.map(CustomerId) {
                    Some(id) => {
                        self.store.edit_customer(id, &known, date)?;
                        id
                    }
                    None => self.store.add_customer(&known, date)?,
                })
            }
        };
        self.store.set_customer(vehicle, whose, date)?;
        self.list_customers()?;
        self.look_at_vehicle_again(vehicle)
    }

    /// Shows a vehicle after it changed, also on the card of its open visit.
    fn look_at_vehicle_again(&mut self, id: VehicleId) -> Result<(), JobError> {
        let summary = self.store.vehicle(id)?;
        if let Some(visit) = self.visit.as_mut().filter(|it| it.record.vehicle.id == id) {
            visit.take_vehicle(summary);
            self.judge_anew()?;
        }
        self.show_vehicle(id)?;
        self.show_card()
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::{Receiver, channel};

    use super::*;
    use crate::jobs::{Command, HistoryCommand, VehiclePage};
    use crate::wording::Style;

    fn workshop(folder: &tempfile::TempDir) -> (Workshop, Receiver<Event>) {
        let (events, heard) = channel();
        let database = folder.path().join("garage.db");
        let mut workshop = Workshop::open(&database, Style::default(), events).unwrap();
        let name = "Blue estate".to_owned();
        let add = Command::AddVehicle { name, vin: String::new(), notes: String::new() };
        workshop.attempt(add).unwrap();
        (workshop, heard)
    }

    fn shown(heard: &Receiver<Event>) -> VehiclePage {
        let pages = heard.try_iter().filter_map(|event| match event {
            Event::Vehicle(page) => Some(*page),
            _ => None,
        });
        pages.last().unwrap()
    }

    #[test]
    fn what_a_vehicle_is_can_be_changed_and_is_found() {
        let folder = tempfile::tempdir().unwrap();
        let (mut workshop, heard) = workshop(&folder);
        let changed = VehicleDetails {
            name: " Blue wagon ".to_owned(),
            vin: "9zzab12c0r1000001".to_owned(),
            plate: "AB 123".to_owned(),
            make: "Invented Motors".to_owned(),
            fuel: "E10".to_owned(),
            tank_litre: "48,5".to_owned(),
            notes: "tow bar".to_owned(),
        };
        let edit = |details: &VehicleDetails| {
            let details = details.clone();
            Command::Histories(HistoryCommand::EditVehicle { vehicle: 1, details })
        };
        workshop.attempt(Command::StartVisit { vehicle: 1 }).unwrap();
        workshop.attempt(edit(&changed)).unwrap();
        let page = shown(&heard);
        let kept = VehicleDetails {
            name: "Blue wagon".to_owned(),
            vin: "9ZZAB12C0R1000001".to_owned(),
            tank_litre: "48.5".to_owned(),
            ..changed.clone()
        };
        assert_eq!(page.details, kept);
        assert_eq!(workshop.visit.as_ref().unwrap().record.vehicle.name, "Blue wagon");
        assert_eq!(workshop.store().list_vehicles("123 tow").unwrap().len(), 1);
        let wrong = VehicleDetails { vin: "no VIN".to_owned(), ..changed.clone() };
        assert!(matches!(workshop.attempt(edit(&wrong)), Err(JobError::NotAVin { .. })));
        let nameless = workshop.attempt(edit(&VehicleDetails::default()));
        assert!(matches!(nameless, Err(JobError::NameMissing)), "{nameless:?}");
    }

    #[test]
    fn a_customer_is_added_changed_shared_and_taken_away() {
        let folder = tempfile::tempdir().unwrap();
        let (mut workshop, heard) = workshop(&folder);
        let set = |vehicle, customer| {
            Command::Histories(HistoryCommand::SetCustomer { vehicle, customer })
        };
        let new = CustomerLine {
            name: "A. Customer".to_owned(),
            phone: "555 0100".to_owned(),
            ..CustomerLine::default()
        };
        workshop.attempt(set(1, Some(new.clone()))).unwrap();
        let known = CustomerLine { id: Some(1), ..new };
        assert_eq!(shown(&heard).customer.as_ref(), Some(&known));
        assert_eq!(workshop.store().list_vehicles("0100").unwrap().len(), 1);
        let moved = CustomerLine { phone: "555 0199".to_owned(), ..known };
        workshop.attempt(set(1, Some(moved.clone()))).unwrap();
        assert_eq!(shown(&heard).customer, Some(moved));
        assert_eq!(workshop.store().list_customers().unwrap().len(), 1, "changed, not doubled");
        let nobody = workshop.attempt(set(1, Some(CustomerLine::default())));
        assert!(matches!(nobody, Err(JobError::NameMissing)), "{nobody:?}");
        workshop.attempt(set(1, None)).unwrap();
        assert_eq!(shown(&heard).customer, None);
        assert_eq!(workshop.store().list_customers().unwrap().len(), 1, "still to choose from");
    }
}
