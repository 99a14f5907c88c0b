use std::fmt::Write;

use rusqlite::Connection;
use sha2::{Digest, Sha256};

/// Makes the 128-bit names that rows carry on every device, as 32 hexadecimal digits.
#[derive(Debug)]
pub(super) enum UidSource {
    /// From the engine's own random source.
    Random,
    /// A repeatable run of names, for tests and demonstrations.
    Seeded {
        /// Names the run.
        seed: u64,
        /// Names made so far.
        made: u64,
    },
}

impl UidSource {
    pub(super) fn next(&mut self, connection: &Connection) -> rusqlite::Result<String> {
        match self {
            Self::Random => {
                connection.query_row("SELECT lower(hex(randomblob(16)))", [], |row| row.get(0))
            }
            Self::Seeded { seed, made } => {
                *made = made.wrapping_add(1);
                Ok(derived_uid(&[&seed.to_le_bytes(), &made.to_le_bytes()]))
            }
        }
    }
}

/// The name that follows from what it is made of, so that two devices find the same one.
pub(super) fn derived_uid(parts: &[&[u8]]) -> String {
    let mut digest = Sha256::new();
    for part in parts {
        digest.update((part.len() as u64).to_le_bytes());
        digest.update(part);
    }
    hexadecimal(digest.finalize().get(..16).unwrap_or_default())
}

/// Bytes as lower-case hexadecimal digits.
pub(super) fn hexadecimal(bytes: &[u8]) -> String {
    bytes.iter().fold(String::with_capacity(bytes.len() * 2), |mut text, byte| {
        // Writing to a String cannot fail.
        let _ = write!(text, "{byte:02x}");
        text
    })
}

/// Whether a text has the shape of a row's name.
pub(super) fn is_uid(text: &str) -> bool {
    text.len() == 32 && text.bytes().all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'))
}
