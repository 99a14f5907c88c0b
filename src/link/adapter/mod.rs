//! The adapter's dialect: commands out, text lines in.

pub(in crate::link) mod capability;
pub(in crate::link) mod command;
pub(in crate::link) mod prompt_reader;
pub(in crate::link) mod protocol;
pub(in crate::link) mod reply;
pub(in crate::link) mod setup;

pub use capability::{Capabilities, Found};
pub use protocol::Protocol;
pub use setup::SetupStep;
