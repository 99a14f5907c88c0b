use std::path::{Path, PathBuf};

use super::export::{self, BUNDLE};
use super::history_command::{HistoryCommand, HistoryEvent};
use super::{Event, JobError, LinkState, Workshop};
use crate::store::{VehicleId, VisitId};

impl Workshop {
    /// Does what is asked of the histories.
    pub(super) fn handle_histories(&mut self, command: HistoryCommand) -> Result<(), JobError> {
        match command {
            HistoryCommand::EditVehicle { vehicle, details } => {
                self.edit_vehicle(VehicleId(vehicle), &details)
            }
            HistoryCommand::ListCustomers => self.list_customers(),
            HistoryCommand::SetCustomer { vehicle, customer } => {
                self.set_customer_of(VehicleId(vehicle), customer.as_ref())
            }
            HistoryCommand::Export { vehicle, to } => {
                self.export_histories(vehicle.map(VehicleId), to)
            }
            HistoryCommand::Import(file) => self.import_histories(&file),
            HistoryCommand::ListConflicts => self.list_conflicts(),
            HistoryCommand::Settle { conflict, answer } => self.settle(&conflict, answer),
            HistoryCommand::FindFiles(kind) => self.find_files(kind),
            HistoryCommand::Salvage(damaged) => self.salvage_beside(&damaged),
            HistoryCommand::CompareVisits { later, earlier } => {
                self.show_comparison(VisitId(later), earlier.map(VisitId))
            }
            HistoryCommand::JudgeAgain => self.judge_all_again(),
        }
    }

    fn export_histories(
        &mut self,
        vehicle: Option<VehicleId>,
        to: Option<PathBuf>,
    ) -> Result<(), JobError> {
        self.save()?;
        let date = self.date();
        let to = match to {
            Some(to) => to,
            None => {
                let folder = exports_folder(self.store.path());
                std::fs::create_dir_all(&folder).map_err(|it| JobError::file(&folder, &it))?;
                let whose = match vehicle {
                    Some(id) => file_words(&self.store.vehicle(id)?.name),
                    None => "all".to_owned(),
                };
                folder.join(format!("{whose}-{}.{BUNDLE}", date.date_naive()))
            }
        };
        let files = export::export_from(&mut self.store, &to, vehicle, date)?;
        self.emit(Event::Histories(HistoryEvent::Exported(files)));
        Ok(())
    }

    /// Merges another device's histories. What was shown may belong to a vehicle that turned out to
    /// be another's twin, so the visit and the link are let go of where something was merged.
    fn import_histories(&mut self, file: &Path) -> Result<(), JobError> {
        // Found out first, so that a mistyped name costs nothing.
        std::fs::metadata(file).map_err(|error| JobError::file(file, &error))?;
        self.save()?;
        let date = self.date();
        self.store.back_up_if_due(date)?;
        let merged = self.store.import(file)?;
        self.leave_visit()?;
        self.emit(Event::Link(LinkState::Idle));
        self.emit(Event::Histories(HistoryEvent::Imported(merged)));
        self.list_vehicles("")?;
        self.list_conflicts()
    }
}

/// Where exports go unless the person names a place: beside the database.
fn exports_folder(database: &Path) -> PathBuf {
    database.parent().unwrap_or(Path::new("")).join("exports")
}

/// A name as part of a file's, with nothing in it that a file system or a mail program minds.
fn file_words(name: &str) -> String {
    let plain = |it: char| if it.is_alphanumeric() { it } else { '-' };
    let words: String = name.trim().chars().take(40).map(plain).collect();
    let words = words.trim_matches('-').to_lowercase();
    if words.is_empty() { "vehicle".to_owned() } else { words }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::{Receiver, channel};

    use super::*;
    use crate::jobs::{Command, ConflictLine};
    use crate::store::Merged;
    use crate::wording::Style;

    fn workshop(folder: &Path, name: &str) -> (Workshop, Receiver<Event>) {
        let (events, heard) = channel();
        let database = folder.join(name).join("garage.db");
        (Workshop::open(&database, Style::default(), events).unwrap(), heard)
    }

    fn ask(workshop: &mut Workshop, command: HistoryCommand) -> Result<(), JobError> {
        workshop.attempt(Command::Histories(command))
    }

    fn last<T>(heard: &Receiver<Event>, pick: impl Fn(HistoryEvent) -> Option<T>) -> Option<T> {
        let told = heard.try_iter().filter_map(|event| match event {
            Event::Histories(event) => pick(event),
            _ => None,
        });
        told.last()
    }

    fn exported(heard: &Receiver<Event>) -> PathBuf {
        let files = last(heard, |event| match event {
            HistoryEvent::Exported(files) => Some(files),
            _ => None,
        });
        files.unwrap().remove(0)
    }

    fn conflicts(heard: &Receiver<Event>) -> Vec<ConflictLine> {
        let lines = last(heard, |event| match event {
            HistoryEvent::Conflicts(lines) => Some(lines),
            _ => None,
        });
        lines.unwrap()
    }

    fn named(workshop: &mut Workshop, name: &str) {
        let details = crate::jobs::VehicleDetails {
            name: name.to_owned(),
            vin: "9ZZAB12C0R1000001".to_owned(),
            ..Default::default()
        };
        ask(workshop, HistoryCommand::EditVehicle { vehicle: 1, details }).unwrap();
    }

    /// Two tablets of one mechanic: both change one name, both import from each other, one settles.
    #[test]
    fn histories_move_and_a_conflict_is_settled_on_the_page() {
        let folder = tempfile::tempdir().unwrap();
        let (mut here, heard_here) = workshop(folder.path(), "here");
        let (mut there, heard_there) = workshop(folder.path(), "there");
        let (name, vin) = ("Blue estate / A".to_owned(), "9ZZAB12C0R1000001".to_owned());
        here.attempt(Command::AddVehicle { name, vin, notes: String::new() }).unwrap();
        here.attempt(Command::StartVisit { vehicle: 1 }).unwrap();
        ask(&mut here, HistoryCommand::Export { vehicle: Some(1), to: None }).unwrap();
        let bundle = exported(&heard_here);
        let written = bundle.file_name().unwrap().to_str().unwrap();
        assert!(written.starts_with("blue-estate---a-2") && written.ends_with(".stilltank"));
        ask(&mut there, HistoryCommand::Import(bundle)).unwrap();
        let merged = last(&heard_there, |event| match event {
            HistoryEvent::Imported(merged) => Some(merged),
            _ => None,
        });
        let brought = merged.map(|it: Merged| (it.vehicles, it.visits, it.unified));
        assert_eq!(brought, Some((1, 1, 0)));
        named(&mut here, "Blue");
        named(&mut there, "Azure");
        let to = folder.path().join("back.stilltank");
        ask(&mut there, HistoryCommand::Export { vehicle: None, to: Some(to.clone()) }).unwrap();
        ask(&mut here, HistoryCommand::Import(to)).unwrap();
        assert!(here.visit().is_none(), "the visit was let go of");
        let lines = conflicts(&heard_here);
        let answers: Vec<&str> = lines[0].answers.iter().map(|it| it.0.as_str()).collect();
        assert_eq!((lines.len(), lines[0].question.as_str()), (1, "Vehicle’s name"));
        assert_eq!(answers, ["Azure", "Blue"], "the later one is shown");
        let conflict = Box::new(lines[0].clone());
        ask(&mut here, HistoryCommand::Settle { conflict, answer: 1 }).unwrap();
        assert_eq!(conflicts(&heard_here), []);
        assert_eq!(here.store().list_vehicles("blue").unwrap().len(), 1, "found by the answer");
        let page = here.store().list_vehicles("").unwrap();
        assert_eq!(page[0].name, "Blue");
    }

    #[test]
    fn what_is_no_bundle_changes_nothing_and_keeps_the_visit() {
        let folder = tempfile::tempdir().unwrap();
        let (mut workshop, _heard) = workshop(folder.path(), "here");
        let add = Command::AddVehicle {
            name: "Blue estate".to_owned(),
            vin: String::new(),
            notes: String::new(),
        };
        workshop.attempt(add).unwrap();
        workshop.attempt(Command::StartVisit { vehicle: 1 }).unwrap();
        let missing = folder.path().join("nothing.stilltank");
        let refused = ask(&mut workshop, HistoryCommand::Import(missing));
        assert!(matches!(refused, Err(JobError::File { .. })), "{refused:?}");
        assert!(workshop.visit().is_some());
        let words = folder.path().join("words.stilltank");
        std::fs::write(&words, "words ".repeat(200)).unwrap();
        let refused = ask(&mut workshop, HistoryCommand::Import(words));
        assert!(matches!(refused, Err(JobError::Store(_))), "{refused:?}");
        assert_eq!(workshop.store().list_vehicles("").unwrap().len(), 1);
        assert!(workshop.visit().is_some());
    }
}
