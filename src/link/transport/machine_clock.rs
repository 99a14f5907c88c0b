use std::sync::LazyLock;
use std::time::Instant as MachineInstant;

use crate::units::Instant;

static START: LazyLock<MachineInstant> = LazyLock::new(started);

#[allow(clippy::disallowed_methods, reason = "transports follow the machine's clock")]
fn started() -> MachineInstant {
    MachineInstant::now()
}

/// The machine's monotonic clock, counted from its first use in this process. All transports to
/// real adapters share it.
pub fn now() -> Instant {
    let micros = i64::try_from(START.elapsed().as_micros()).unwrap_or(i64::MAX);
    Instant::from_micros(micros)
}

/// Waits. Only transports that reach for a real adapter do.
#[allow(clippy::disallowed_methods, reason = "a transport may wait between attempts")]
pub(super) fn pause(duration: std::time::Duration) {
    std::thread::sleep(duration);
}
