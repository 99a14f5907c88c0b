use std::io::{self, ErrorKind};
use std::time::Duration;

use super::machine_clock;
use crate::link::LinkError;
use crate::units::Instant;

/// Shortest wait that a stream accepts: zero would mean for ever.
pub(super) const SHORTEST_WAIT: Duration = Duration::from_millis(1);

/// Between attempts to get a connection back.
pub(super) const PAUSE: Duration = Duration::from_millis(200);

/// Reads through `attempt`, which waits at most as long as it is told, until bytes arrive or
/// `deadline` has come (zero). A stream that ends or breaks is lost.
pub(super) fn read_until(
    into: &mut Vec<u8>,
    deadline: Instant,
    mut attempt: impl FnMut(Duration, &mut [u8]) -> io::Result<usize>,
) -> Result<usize, LinkError> {
    let mut buffer = [0_u8; 4096];
    loop {
        let wait = deadline.saturating_since(machine_clock::now()).max(SHORTEST_WAIT);
        match attempt(wait, &mut buffer) {
            Ok(0) => return Err(LinkError::Lost),
            Ok(count) => {
                into.extend(buffer.iter().take(count));
                return Ok(count);
            }
            Err(error) => match error.kind() {
                ErrorKind::WouldBlock | ErrorKind::TimedOut | ErrorKind::Interrupted => {
                    if machine_clock::now() >= deadline {
                        return Ok(0);
                    }
                }
                _ => return Err(LinkError::Lost),
            },
        }
    }
}
