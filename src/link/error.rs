use thiserror::Error;

use super::UnitId;

/// What can go wrong between the program and the car. Variants hold what a caller can act on.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum LinkError {
    /// The connection is gone; reconnecting may help.
    #[error("link lost")]
    Lost,
    /// Nothing answered in time.
    #[error("no answer within {waited_ms} ms")]
    Silent {
        /// How long was waited.
        waited_ms: u64,
    },
    /// The transport cannot reach the adapter at all.
    #[error("adapter out of reach: {0}")]
    Unreachable(#[from] Unreachable),
    /// Something answers, but not in the adapter's dialect.
    #[error("what answers is no OBD adapter")]
    NotAnAdapter,
    /// The adapter works, the car's units say nothing: the car does not offer this, or the
    /// ignition is off.
    #[error("no unit answered")]
    NoData,
    /// The adapter found no protocol that the car speaks; most often the ignition is off.
    #[error("the adapter found no way to talk to the car")]
    UnableToConnect,
    /// The adapter was interrupted while it waited for the car.
    #[error("the adapter was interrupted")]
    Stopped,
    /// The answer was larger than the adapter's memory.
    #[error("the adapter's memory overflowed")]
    BufferFull,
    /// The car's bus is disturbed.
    #[error("bus trouble: {0}")]
    Bus(#[from] BusTrouble),
    /// The adapter's supply broke down, so that it restarted or went to sleep.
    #[error("the adapter's supply is too low")]
    LowVoltage,
    /// The adapter does not know a command, or understood something else.
    #[error("the adapter does not know the command")]
    UnknownCommand,
    /// The adapter gave its prompt and nothing else.
    #[error("empty answer")]
    EmptyAnswer,
    /// The adapter reports a fault of its own.
    #[error("the adapter reports an internal fault")]
    AdapterFault,
    /// Bytes were lost or changed on the way, and asking again did not help.
    #[error("answer damaged on the way")]
    Damaged,
    /// A long answer stopped before its announced end.
    #[error("answer cut off")]
    Incomplete,
    /// A unit answered with a negative response (ISO 14229-1, ISO 15031-5).
    #[error("{unit} refused service {service:02X}: reason {reason:02X}")]
    Refused {
        /// Who refused.
        unit: UnitId,
        /// Which service.
        service: u8,
        /// The response code, such as 22: conditions not correct.
        reason: u8,
    },
    /// A unit kept asking for more time until ours was up.
    #[error("{unit} is still busy with service {service:02X}")]
    StillPending {
        /// Who is busy.
        unit: UnitId,
        /// Which service.
        service: u8,
    },
    /// The service is not among those that may leave the program.
    #[error("service {service:02X} may not be sent")]
    NotAllowed {
        /// Which service.
        service: u8,
    },
    /// The service changes something in the car and needs the person's consent to this request.
    #[error("service {service:02X} needs the person's consent")]
    ConsentNeeded {
        /// Which service.
        service: u8,
    },
    /// The consent was given for one request and has been used.
    #[error("the consent to service {service:02X} has been used")]
    ConsentSpent {
        /// Which service.
        service: u8,
    },
    /// More data than one frame carries.
    #[error("request of {bytes} bytes; a frame carries 7")]
    RequestTooLong {
        /// Service and data together.
        bytes: usize,
    },
    /// The car speaks a protocol that this program does not.
    #[error("protocol number {number:X} is not supported")]
    UnsupportedProtocol {
        /// The number that the adapter gives.
        number: u8,
    },
    /// A transcript that is played back holds another request at this point.
    #[error("the transcript holds another request here (entry {entry})")]
    TranscriptDiffers {
        /// Which entry, from 0.
        entry: usize,
    },
    /// A line of a transcript cannot be read.
    #[error("transcript line {line} cannot be read")]
    TranscriptLine {
        /// Which line, from 1.
        line: usize,
    },
}

impl LinkError {
    /// Whether the link is sound and the car, or its silence, is what was answered.
    pub fn is_the_cars_answer(&self) -> bool {
        matches!(self, Self::NoData | Self::Refused { .. } | Self::StillPending { .. })
    }
}

/// Why a transport cannot reach its adapter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum Unreachable {
    /// No host, port, device or peripheral of that name.
    #[error("not found")]
    NotFound,
    /// Something refused the connection.
    #[error("refused")]
    ConnectionRefused,
    /// Nothing answered in time.
    #[error("timed out")]
    TimedOut,
    /// Another program holds it.
    #[error("in use by another program")]
    Busy,
    /// The system does not let this program use it.
    #[error("permission denied")]
    PermissionDenied,
    /// The name cannot be understood as an address of this kind.
    #[error("not an address")]
    InvalidAddress,
    /// This machine has no Bluetooth radio, or no service that drives it.
    #[error("no Bluetooth radio")]
    NoRadio,
    /// The Bluetooth radio is switched off.
    #[error("the Bluetooth radio is off")]
    RadioOff,
    /// The peripheral wants to be paired first, or pairing failed.
    #[error("pairing needed")]
    PairingNeeded,
    /// The peripheral has no pair of characteristics that carries a serial stream.
    #[error("no serial stream on this peripheral")]
    NoSerialStream,
    /// This system gives programs no classic Bluetooth sockets.
    #[error("no classic Bluetooth sockets on this system")]
    NoClassic,
    /// This build of the program leaves that kind of transport out.
    #[error("not part of this build")]
    NotBuilt,
    /// The system gave another reason.
    #[error("system error")]
    System,
}

/// What the adapter says about the car's bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum BusTrouble {
    /// Frames cannot be sent or received on CAN.
    #[error("CAN error")]
    Can,
    /// The line's level is wrong: a short or a wiring fault.
    #[error("bus error")]
    Level,
    /// Too much traffic to get a word in.
    #[error("bus busy")]
    Busy,
    /// What was sent did not read back.
    #[error("feedback error")]
    Feedback,
    /// A checksum did not fit.
    #[error("data error")]
    Data,
    /// The start-up sequence of ISO 9141-2 or ISO 14230-4 failed.
    #[error("bus initialisation failed")]
    Initialisation,
}

impl From<std::io::ErrorKind> for Unreachable {
    fn from(kind: std::io::ErrorKind) -> Self {
        use std::io::ErrorKind as Kind;
        match kind {
            Kind::NotFound | Kind::AddrNotAvailable => Self::NotFound,
            Kind::ConnectionRefused => Self::ConnectionRefused,
            Kind::TimedOut | Kind::WouldBlock => Self::TimedOut,
            Kind::PermissionDenied => Self::PermissionDenied,
            Kind::ResourceBusy | Kind::AddrInUse => Self::Busy,
            Kind::InvalidInput => Self::InvalidAddress,
            _ => Self::System,
        }
    }
}
