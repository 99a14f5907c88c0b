use std::path::PathBuf;

use chrono::{DateTime, Utc};

use super::compare::VisitComparison;
use super::conflicts::ConflictLine;
use super::found_files::{FileKind, FoundFile};
use super::rejudge::Rejudged;
use super::rescue::SalvageReport;
use crate::store::Merged;

/// What a vehicle is, in the person's words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct VehicleDetails {
    /// The owner's name for it.
    pub name: String,
    /// VIN, or empty.
    pub vin: String,
    /// Number plate, or empty.
    pub plate: String,
    /// Who made it.
    pub make: String,
    /// What it burns.
    pub fuel: String,
    /// What its tank holds in litres, an exact decimal as text; empty if not known.
    pub tank_litre: String,
    /// Notes.
    pub notes: String,
}

/// A customer as the window shows and changes one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct CustomerLine {
    /// Number in the store; `None` for a new one.
    pub id: Option<i64>,
    /// Name.
    pub name: String,
    /// Telephone number as written.
    pub phone: String,
    /// Mail address.
    pub email: String,
    /// Notes.
    pub notes: String,
}

/// What can be asked of the histories besides a visit's own work.
#[derive(Clone, Debug, PartialEq)]
pub enum HistoryCommand {
    /// Changes what a vehicle is.
    EditVehicle {
        /// Which.
        vehicle: i64,
        /// What it is now.
        details: VehicleDetails,
    },
    /// Asks for every customer.
    ListCustomers,
    /// Says whose vehicle it is, and what is known of them; `None` takes the customer away.
    SetCustomer {
        /// Which vehicle.
        vehicle: i64,
        /// Whose.
        customer: Option<CustomerLine>,
    },
    /// Writes histories into a file whose ending chooses the format, or into a folder that takes
    /// them in every format.
    Export {
        /// One vehicle; `None` for all.
        vehicle: Option<i64>,
        /// Where to; `None` chooses a name beside the database.
        to: Option<PathBuf>,
    },
    /// Merges the histories of another device's file. Closes the visit.
    Import(PathBuf),
    /// Asks for the fields that two devices answered differently.
    ListConflicts,
    /// Settles one of them.
    Settle {
        /// Which.
        conflict: Box<ConflictLine>,
        /// Place of the answer: 0 for the one shown, then the others in their order.
        answer: usize,
    },
    /// Looks for files of a kind where people keep them.
    FindFiles(FileKind),
    /// Saves what can be read of a damaged database into a new one beside it.
    Salvage(PathBuf),
    /// Lays an earlier visit under a later one.
    CompareVisits {
        /// The later visit.
        later: i64,
        /// The earlier one; `None` lets the program choose.
        earlier: Option<i64>,
    },
    /// Judges the recordings of every closed visit again. A verdict that differs is kept beside the
    /// earlier one.
    JudgeAgain,
}

/// What the histories report.
#[derive(Clone, Debug, PartialEq)]
pub enum HistoryEvent {
    /// Every customer, in order of name.
    Customers(Vec<CustomerLine>),
    /// Files were written.
    Exported(Vec<PathBuf>),
    /// A file was merged: what it brought.
    Imported(Merged),
    /// The fields that two devices answered differently.
    Conflicts(Vec<ConflictLine>),
    /// Files of a kind, newest first.
    Files(FileKind, Vec<FoundFile>),
    /// What was saved of a damaged database.
    Salvaged(SalvageReport),
    /// Two visits laid over each other.
    Compared(Box<VisitComparison>),
    /// The visits that were judged again.
    JudgedAgain(Vec<Rejudged>),
    /// The database cannot be opened because it is damaged; the sentence says what to do. Copies
    /// and salvage are all that can be asked for until [`HistoryEvent::Rescued`].
    Damaged(String),
    /// A whole database stands in the damaged one's place, and everything can be asked for again.
    Rescued,
}

/// When a file was last changed, for lists.
pub(super) type Changed = DateTime<Utc>;
