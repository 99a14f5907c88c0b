use std::path::PathBuf;

use thiserror::Error;

use crate::evidence::Check;
use crate::link::LinkError;
use crate::recording::RecordingError;
use crate::report::ReportError;
use crate::store::StoreError;
use crate::vehicle::{DecodeError, Signal};

/// What can go wrong with a job. Variants hold what a caller can act on; the sentences stand in
/// [`explain`](super::explain).
#[derive(Debug, Error)]
pub enum JobError {
    /// The way to the car failed.
    #[error(transparent)]
    Link(#[from] LinkError),
    /// The car's answer has no meaning.
    #[error(transparent)]
    Decode(#[from] DecodeError),
    /// The database failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A recording file cannot be read.
    #[error("{}: {fault}", path.display())]
    Recording {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        fault: RecordingError,
    },
    /// The document could not be made.
    #[error(transparent)]
    Report(#[from] ReportError),
    /// A file could not be read or written.
    #[error("{}: {kind}", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        kind: std::io::ErrorKind,
    },
    /// The platform names no folder for data.
    #[error("no data folder")]
    NoDataFolder,
    /// No visit is open.
    #[error("no visit is open")]
    NoVisit,
    /// The vehicle has no visit before this one.
    #[error("no earlier visit")]
    NoEarlierVisit,
    /// There is no connection to a car.
    #[error("not connected")]
    NotConnected,
    /// Only a recording is connected, which answers no questions.
    #[error("a recording answers no questions")]
    OnlyARecording,
    /// The car does not offer what the check needs.
    #[error("{} needs signals that the car does not offer", check.name())]
    CheckImpossible {
        /// Which check.
        check: Check,
        /// What is missing.
        missing: Vec<Signal>,
    },
    /// The way to the car is in use, and only one thing can use it.
    #[error("the link is in use")]
    LinkInUse,
    /// Only Bluetooth LE adapters have characteristics to choose from.
    #[error("no Bluetooth LE adapter")]
    NoStreams,
    /// Another check runs.
    #[error("{} still runs", running.name())]
    CheckRuns {
        /// Which check runs.
        running: Check,
    },
    /// The person did not agree to erase the codes.
    #[error("erasing codes needs the person's consent")]
    ConsentNeeded,
    /// The person did not agree to have the vent closed.
    #[error("closing the vent needs the person's consent")]
    VentConsentNeeded,
    /// Nobody said who made the vehicle, by which a code's meaning is remembered.
    #[error("the vehicle's make is not known")]
    MakeUnknown,
    /// The car does not offer this source of tank pressure.
    #[error("the car does not offer this source of tank pressure")]
    TankSourceNotOffered,
    /// No control unit declares the request that closes the vent.
    #[error("the car does not offer to close its vent")]
    VentNotOffered,
    /// An amount of money is no decimal number.
    #[error("not an amount: {text}")]
    NotAnAmount {
        /// What was entered.
        text: String,
    },
    /// The file is no picture of a kind that is kept.
    #[error("no picture: {}", path.display())]
    NotAPicture {
        /// The file.
        path: PathBuf,
    },
    /// The person did not agree to put a copy in the database's place.
    #[error("a restore needs the person's agreement")]
    RestoreNotAgreed,
    /// A vehicle or a customer is to be without a name.
    #[error("a name is missing")]
    NameMissing,
    /// Until a whole database stands in the damaged one's place, nothing else can be done.
    #[error("the database is damaged")]
    OnlyRescue,
    /// No vehicle is called that.
    #[error("no vehicle {words}")]
    UnknownVehicle {
        /// What was asked for.
        words: String,
    },
    /// Several vehicles are called that.
    #[error("{count} vehicles match {words}")]
    SeveralVehicles {
        /// What was asked for.
        words: String,
        /// How many match.
        count: usize,
    },
    /// No tank of a car holds that.
    #[error("no tank size: {text}")]
    NoTankSize {
        /// What was entered.
        text: String,
    },
    /// The VIN is none.
    #[error("not a VIN: {text}")]
    NotAVin {
        /// What was entered.
        text: String,
    },
    /// The file's ending names no format that can be written.
    #[error("unknown ending: {}", path.display())]
    UnknownEnding {
        /// The file.
        path: PathBuf,
    },
    /// A verdict did not stand when every check had been made.
    #[error("no further check would help")]
    NothingLeftToCheck,
}

impl JobError {
    /// Whether the words or the input were wrong, and not the work.
    pub fn is_wrong_input(&self) -> bool {
        matches!(
            self,
            Self::Recording { .. }
                | Self::NotAnAmount { .. }
                | Self::UnknownVehicle { .. }
                | Self::SeveralVehicles { .. }
                | Self::NotAVin { .. }
                | Self::NoTankSize { .. }
                | Self::NotAPicture { .. }
                | Self::NameMissing
                | Self::VentConsentNeeded
                | Self::Decode(DecodeError::OwnSignal { .. } | DecodeError::SignalFile(_))
                | Self::UnknownEnding { .. }
                | Self::OnlyARecording
                | Self::NoStreams
                | Self::Store(
                    StoreError::Unknown { .. }
                        | StoreError::VinKnown { .. }
                        | StoreError::BadBundle { .. }
                )
        )
    }

    /// Whether the database itself is damaged, which a copy or salvage may mend.
    pub(super) fn is_damage(&self) -> bool {
        matches!(self, Self::Store(StoreError::Damaged { .. }))
    }

    /// From the system's word on a file.
    pub(super) fn file(path: &std::path::Path, error: &std::io::Error) -> Self {
        Self::File { path: path.to_path_buf(), kind: error.kind() }
    }
}
