/// Whether an adapter can do something: found out, never assumed from its name.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Found {
    /// Not tried yet.
    #[default]
    Unknown,
    /// It worked.
    Yes,
    /// The adapter did not know the command, or did something else.
    No,
}

/// What the adapter was found to be able to do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Capabilities {
    /// Repeats what it receives, byte for byte, as long as it is not told to stop.
    pub echo: Found,
    /// Shows identifiers and framing bytes.
    pub headers: Found,
    /// Leaves spaces out.
    pub spaces_off: Found,
    /// Fits its wait to the car.
    pub adaptive_timing: Found,
    /// Says which protocol it uses.
    pub describes_protocol: Found,
    /// Measures the supply voltage.
    pub voltage: Found,
    /// Talks to one unit only.
    pub addressing: Found,
    /// Stops waiting after a given number of answers.
    pub answer_count: Found,
}
