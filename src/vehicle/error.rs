use thiserror::Error;

/// Why bytes from a car, or a file that describes bytes, could not be given a meaning.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum DecodeError {
    /// The answer ends before what it announces.
    #[error("answer to service {service:02X} is too short: {needed} bytes needed, {found} found")]
    TooShort {
        /// Service asked.
        service: u8,
        /// Bytes that the content needs.
        needed: usize,
        /// Bytes that came.
        found: usize,
    },
    /// The answer goes on after its content ended.
    #[error(
        "answer to service {service:02X} is too long: {expected} bytes expected, {found} found"
    )]
    TooLong {
        /// Service asked.
        service: u8,
        /// Bytes that the content has.
        expected: usize,
        /// Bytes that came.
        found: usize,
    },
    /// The answer belongs to another request.
    #[error("answer begins with {found:02X} where {expected:02X} belongs")]
    WrongEcho {
        /// Byte that belongs there.
        expected: u8,
        /// Byte that stood there.
        found: u8,
    },
    /// The answer holds a parameter that the table does not know, so its length is unknown too.
    #[error("parameter {parameter:02X} is not in the table")]
    UnknownParameter {
        /// The parameter.
        parameter: u8,
    },
    /// The answer holds a parameter that was not asked for.
    #[error("parameter {parameter:02X} was answered but not asked for")]
    NotAsked {
        /// The parameter.
        parameter: u8,
    },
    /// The same parameter stands twice in one answer.
    #[error("parameter {parameter:02X} stands twice in one answer")]
    Repeated {
        /// The parameter.
        parameter: u8,
    },
    /// The answer can be cut into parameters in more than one way.
    #[error("the answer can be read in more than one way; ask for one parameter at a time")]
    Ambiguous,
    /// A count in the answer does not match what follows it.
    #[error("answer to service {service:02X} states {stated} items and holds {found}")]
    CountMismatch {
        /// Service asked.
        service: u8,
        /// Items stated.
        stated: usize,
        /// Items found.
        found: usize,
    },
    /// A numbered part of a long answer is missing.
    #[error("part {number} of the answer to service {service:02X} is missing")]
    PartMissing {
        /// Service asked.
        service: u8,
        /// Number of the part, from 1.
        number: u8,
    },
    /// Two parts of a long answer carry the same number.
    #[error("part {number} of the answer to service {service:02X} came twice")]
    PartRepeated {
        /// Service asked.
        service: u8,
        /// Number of the part.
        number: u8,
    },
    /// A parameter number that does not open a block of 32 supported parameters.
    #[error("parameter {parameter:02X} does not list supported parameters")]
    NotASupportList {
        /// The parameter.
        parameter: u8,
    },
    /// Text holds a byte that is no printable character.
    #[error("byte {byte:02X} is no printable character")]
    NotText {
        /// The byte.
        byte: u8,
    },
    /// The control unit holds no identification: all bytes are zero or all ones.
    #[error("the control unit holds no identification")]
    Blank,
    /// A vehicle identification number has 17 characters.
    #[error("a vehicle identification number has 17 characters, not {found}")]
    VinLength {
        /// Characters found.
        found: usize,
    },
    /// A character that no vehicle identification number has.
    #[error("{character:?} does not occur in a vehicle identification number")]
    VinCharacter {
        /// The character.
        character: char,
    },
    /// Text that is no trouble code.
    #[error("{text:?} is no trouble code; one looks like P0442")]
    NotACode {
        /// The text.
        text: String,
    },
    /// A monitor's lower limit lies above its upper limit.
    #[error("limits of monitor {monitor:02X} are the wrong way round")]
    LimitsReversed {
        /// The monitor.
        monitor: u8,
    },
    /// A file of own signals is not written as it should be.
    #[error("the file of own signals cannot be read: {0}")]
    SignalFile(#[from] toml::de::Error),
    /// An own signal asks for something that it must not or cannot ask for.
    #[error("own signal {name}: {why}")]
    OwnSignal {
        /// The signal's name.
        name: &'static str,
        /// What is wrong.
        why: OwnSignalFlaw,
    },
}

/// What is wrong with a description of an own signal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Error)]
pub enum OwnSignalFlaw {
    /// Only services that read are allowed.
    #[error("service must be 01, 06, 09 or 22: no other is asked for own signals")]
    ServiceNotReading,
    /// The identifier does not fit the service.
    #[error("identifier must be one byte for services 01, 06 and 09, two for 22")]
    IdentifierTooLarge,
    /// The value is 1 to 4 bytes long.
    #[error("a value is 1 to 4 bytes long")]
    ValueLength,
    /// The value must lie inside the answer.
    #[error("the value lies outside the answer's length")]
    ValueOutside,
    /// The bits must lie inside the value's bytes.
    #[error("bit and bits lie outside the value's bytes")]
    BitsOutside,
    /// Scale or offset is no usable number.
    #[error("scale must be a number other than zero, offset and limits must be numbers")]
    NotANumber,
    /// Limits are the wrong way round.
    #[error("low must lie below high, rest_low below rest_high")]
    LimitsReversed,
    /// The rate is no rate.
    #[error("rate must lie between 0.01 and 100 a second")]
    Rate,
    /// Two descriptions give the same signal.
    #[error("is described twice")]
    Twice,
}
